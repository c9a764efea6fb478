"""A recall for other programs: one JSON object, or a row for each place where some of its grams are."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from certgen.dossier.recall_notices import draft_recall, number_holders
from certgen.dossier.recall_outcomes import list_outcomes
from certgen.exchange.interchange.layout import grams, list_errors, name_record, name_season

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.dossier.recall import Place, Recall
    from certgen.dossier.recall_outcomes import Outcome
    from certgen.dossier.recall_shares import Span

#: The form of `recall --format json`. It goes up when a key changes its meaning or goes away.
FORMAT: Final = 1
#: The columns of `recall --format csv`.
COLUMNS: Final = (
    "lot", "where", "weight_g", "at_least_g", "at_most_g", "date", "party", "document", "movement", "held_g",
)  # fmt: skip


def build_recall(recall: Recall) -> dict[str, Any]:
    """The object that `schemas/output/recall.json` describes."""
    result = recall.result
    numbers = {holder.party: number for number, holder in number_holders(recall)}
    return {
        "format": FORMAT,
        "season": name_season(result),
        "on": result.on,
        "about": [name_record(result, node) for node in recall.about],
        "recall": recall.called.name if recall.called is not None else None,
        "lots": [
            {
                "lot": lot.lot,
                "variety": lot.variety,
                "standing": lot.standing,
                "weight_g": grams(lot.weight_mg),
                **_tell_span(lot.span),
                "beyond_g": grams(lot.beyond_mg),
                "places": [_tell_place(place) for place in lot.places],
            }
            for lot in recall.lots
        ],
        "sums": {f"{key}_g": grams(mass) for key, mass in recall.sums.items()},
        "holders": [
            {
                "party": holder.party,
                "notice": numbers.get(holder.party),
                "contact": holder.contact,
                "weight_g": grams(holder.weight_mg),
                **_tell_span(holder.span),
                "told_g": grams(holder.told_mg),
                "told_on": holder.told_on,
                "untold_g": grams(holder.untold_mg),
                "deliveries": [_tell_place(place) for place in holder.places],
            }
            for holder in recall.holders
        ],
        "outcome": _find_outcome(recall),
        "notices": [
            {
                "number": one.number,
                "party": one.party,
                "text": list(one.before),
                "table": [dict(zip(one.heads, row, strict=True)) for row in one.rows],
                "after": list(one.after),
            }
            for one in draft_recall(recall)
        ],
        "errors": list_errors(result.errors),
    }


def _find_outcome(recall: Recall) -> dict[str, Any] | None:
    name = recall.called.name if recall.called is not None else None
    return next((_tell_outcome(one) for one in list_outcomes(recall.result) if one.called.name == name), None)


def _tell_outcome(outcome: Outcome) -> dict[str, Any]:
    return {
        "minutes": outcome.minutes,
        "left_g": grams(outcome.left_mg),
        "found_g": grams(outcome.found_mg),
        "answered": outcome.answered,
        "notices": len(outcome.called.notices),
    }


def _tell_span(span: Span) -> dict[str, float]:
    return {"at_least_g": grams(span.low_mg), "at_most_g": grams(span.high_mg)}


def _tell_place(place: Place) -> dict[str, Any]:
    return {
        "lot": place.lot,
        "where": place.kind,
        "weight_g": grams(place.weight_mg),
        **_tell_span(place.span),
        "date": place.day,
        "party": place.party,
        "document": place.document,
        "movement": place.movement,
        "evidence": list(place.evidence),
        "held_g": None if place.held_mg is None else grams(place.held_mg),
    }


def tabulate_recall(recall: Recall) -> Iterator[tuple[str | float, ...]]:
    """A row a place, below `COLUMNS`."""
    for lot in recall.lots:
        for place in lot.places:
            told = _tell_place(place)
            yield tuple("" if told[name] is None else str(told[name]) if name == "date" else told[name]
                        for name in COLUMNS)  # fmt: skip
