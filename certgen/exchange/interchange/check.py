"""The check for other programs: one JSON object, or the gaps as rows."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any, Final

from certgen.collector import pause_collector
from certgen.dossier.visits import list_open
from certgen.exchange.interchange.layout import (
    describe_custody,
    describe_shown,
    describe_standing,
    describe_through,
    grams,
    list_errors,
    list_names,
)
from certgen.exchange.interchange.visit import describe_open
from certgen.rules.findings import WEIGHTS
from certgen.standards.loader import how_read

if TYPE_CHECKING:
    from collections.abc import Sequence

    from certgen.dossier.notices import Suspect
    from certgen.dossier.search import Selection
    from certgen.lineage import LotStanding, Mend
    from certgen.records import Place
    from certgen.rules import Gap

#: The form of `check --format json`. It goes up when a key changes its meaning or goes away.
#: 2: `mend` names gaps by their `number`, from 1; lots have `unaccounted_g`, `custody` and `proof`.
FORMAT: Final = 2

#: The columns of `check --format csv`.
COLUMNS: Final = (
    "rule",
    "weight",
    "table",
    "id",
    "field",
    "file",
    "line",
    "column",
    "message",
    "remedy",
    "clauses",
    "lots",
    "clause_marks",
)


@pause_collector()
def build_check(selection: Selection) -> dict[str, Any]:
    """The object that `schemas/output/check.json` describes. Masses in grams, exact to the milligram."""
    result = selection.result
    details = result.season.details
    marks = {
        clauses: [how_read(clause, result.profile) for clause in clauses]
        for clauses in {gap.clauses for gap in selection.gaps}
    }
    return {
        "format": FORMAT,
        "season": {
            "label": details.label,
            "operation": details.operation.name,
            "crop": details.crop,
            "standards": list(details.standards),
        },
        "on": result.on,
        "version": result.version,
        "records": dict(result.season.counts),
        "left_out": len(result.season.left_out),
        "gaps": [
            _describe_gap(selection, number, gap, marks[gap.clauses])
            for number, gap in zip(selection.numbers, selection.gaps, strict=True)
        ],
        "lots": [_describe_lot(selection, lot) for lot in selection.lots],
        "mend": [_describe_mend(mend, selection.most_mended) for mend in selection.mend],
        # Only where it isn't all of it.
        **({"mend_unweighed_lots": result.unweighed} if result.unweighed else {}),
        "suspect": [_describe_suspect(delivery) for delivery in selection.suspect],
        "inspections": describe_open(list_open(result.case)),
        "standards": [_describe_standard(selection, key) for key in result.by_standard],
        "errors": list_errors(result.errors),
    }


def tabulate_check(selection: Selection) -> list[tuple[str, ...]]:
    """A row a gap, below `COLUMNS`. Several clauses, their marks, or lots stand in one cell."""
    rows: list[tuple[str, ...]] = []
    for gap in selection.gaps:
        line, column = selection.where.get(gap.place, ("", ""))
        rows.append((
            gap.rule, gap.weight, gap.table, gap.id, _name_field(gap), gap.place.file, str(line), str(column),
            gap.message, gap.remedy, "; ".join(gap.clauses), _abridge(gap.lots, selection.most_lots),
            "; ".join(how_read(clause, selection.result.profile) for clause in gap.clauses),
        ))  # fmt: skip
    return rows


def _abridge(names: Sequence[str], most: int | None) -> str:
    told = names if most is None or len(names) <= most else [*names[:most], f"and {len(names) - most} more"]
    return "; ".join(told)


def _name_field(gap: Gap) -> str:
    return ".".join(map(str, gap.field))


def _describe_gap(selection: Selection, number: int, gap: Gap, marks: list[str]) -> dict[str, Any]:
    answer = gap.explanation
    return {
        "number": number,
        "rule": gap.rule,
        "weight": gap.weight,
        "table": gap.table,
        "id": gap.id,
        "field": _name_field(gap),
        **_describe_place(selection, gap.place),
        "message": gap.message,
        "remedy": gap.remedy,
        "clauses": list(gap.clauses),
        # How the text of each was read: nobody takes for law what was remembered.
        "clause_marks": marks,
        **list_names("lots", gap.lots, selection.most_lots),
        "others": [_describe_place(selection, place) for place in gap.others],
        "explanation": answer and {"reason": answer.reason, "by": answer.by, "date": answer.date},
    }


def _describe_place(selection: Selection, place: Place) -> dict[str, Any]:
    line, column = selection.where.get(place, (None, None))
    return {"file": place.file, "line": line, "column": column}


def _describe_lot(selection: Selection, lot: LotStanding) -> dict[str, Any]:
    scope = selection.result.scopes.of_lot(lot.lot)
    standing = describe_standing(lot)
    book = selection.result.books.get(lot.lot)
    return {
        "lot": lot.lot,
        "variety": lot.variety,
        "standing": standing.pop("standing"),
        "weight_g": grams(lot.weight_mg),
        **standing,
        "custody": describe_custody(selection.result, lot.lot),
        # Only where they are too many to be told apart.
        **({"more_stages": book.joined} if book is not None and book.joined else {}),
        **_describe_proof(selection, lot.lot),
        "through": describe_through(selection.result, lot.lot),
        # What the negative results behind the lot speak to, and no more.
        "scope": {
            "sentence": scope.sentence,
            "seen": list(scope.seen),
            "unseen": list(scope.unseen),
            "open_parents": list(scope.open_parents),
        },
    }


def _describe_proof(selection: Selection, lot: str) -> dict[str, Any]:
    """Each obligation; where they are too many the first that are open, and how many more there are."""
    shown, most = selection.result.proof(lot), selection.most_shown
    told, more = list(shown), {}
    if most is not None and len(shown) > most:
        told = sorted(shown, key=lambda one: one.whole)[:most]
        more = {"more_proof": len(shown) - most}
    return {"proof": [describe_shown(one, selection.most_open) for one in told], **more}


def _describe_mend(mend: Mend, most: int | None) -> dict[str, Any]:
    return {
        mend.action.replace(" ", "_"): mend.text,
        "proves_g": grams(mend.proves_mg),
        "frees_g": grams(mend.frees_mg),
        **list_names("lots", mend.lots, most),
        "gaps": [position + 1 for position in mend.gaps],
    }


def _describe_suspect(delivery: Suspect) -> dict[str, Any]:
    return {
        "movement": delivery.movement,
        "lot": delivery.lot,
        "standing": delivery.standing,
        "weight_g": grams(delivery.weight_mg),
        "party": delivery.party,
        "document": delivery.document,
        "date": delivery.day,
        "gap": delivery.number,
    }


def _describe_standard(selection: Selection, key: str) -> dict[str, Any]:
    """The season under one of its standards alone: gaps by weight, and the standing of the lots shown."""
    under = selection.result.by_standard[key]
    weights = Counter(gap.weight for gap in under.gaps)
    return {
        "standard": key,
        "gaps": {weight: weights[weight] for weight in WEIGHTS},
        "lots": {lot.lot: under.lots[lot.lot].standing for lot in selection.lots},
    }
