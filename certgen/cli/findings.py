"""What of a result is shown, and its form for other programs."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

from certgen.cli.output import errors_as_json
from certgen.dossier.custody import tell_custody
from certgen.dossier.notices import list_suspect

if TYPE_CHECKING:
    from collections.abc import Collection

    from certgen.dossier.notices import Suspect
    from certgen.examination import Result
    from certgen.lineage import LotStanding, Mend
    from certgen.records import Place
    from certgen.rules import Gap

#: The form of `check --format json`. It goes up when a key changes its meaning or goes away.
#: 2: `mend` names gaps by their `number`, from 1; lots have `unaccounted_g`, `custody` and `proof`.
FORMAT = 2


@dataclass(frozen=True, eq=False)
class Shown:
    """The part of a result that was asked for. `numbers` are the gaps' own, as all of them are counted."""

    result: Result
    gaps: tuple[Gap, ...]
    numbers: tuple[int, ...]
    lots: tuple[LotStanding, ...]
    mend: tuple[Mend, ...]
    narrowed: bool

    @property
    def exit_code(self) -> int:
        """As the whole result's, but only what is shown counts as a gap."""
        if not self.narrowed or self.result.exit_code >= 2:
            return self.result.exit_code
        return int(any(gap.weight != "advice" for gap in self.gaps))

    @cached_property
    def where(self) -> dict[Place, tuple[int, int]]:
        """Line and column of every place that is shown."""
        return self.result.locate(place for gap in self.gaps for place in (gap.place, *gap.others))


def select(result: Result, slugs: Collection[str] = (), lots: Collection[str] = ()) -> Shown:
    """The gaps of some rules and the gaps and standing of some lots; everything if none are named."""
    kept = [
        position
        for position, gap in enumerate(result.gaps)
        if (not slugs or gap.rule in slugs) and (not lots or set(gap.lots) & set(lots))
    ]
    shown = set(kept)
    return Shown(
        result,
        tuple(result.gaps[position] for position in kept),
        tuple(position + 1 for position in kept),
        tuple(lot for name, lot in result.lots.items() if not lots or name in lots),
        tuple(
            mend for mend in result.mend
            if shown & set(mend.gaps) and (not lots or set(mend.lots) & set(lots))
        ),
        bool(slugs or lots),
    )  # fmt: skip


def as_json(shown: Shown) -> dict[str, Any]:
    """The object that `schemas/output/check.json` describes. Masses in grams, exact to the milligram."""
    result = shown.result
    details = result.season.details
    return {
        "format": FORMAT,
        "season": {
            "label": details.label,
            "operation": details.operation.name,
            "crop": details.crop,
            "standards": list(details.standards),
        },
        "on": result.on.isoformat(),
        "version": result.version,
        "records": dict(result.season.counts),
        "left_out": len(result.season.left_out),
        "gaps": [_gap(shown, number, gap) for number, gap in zip(shown.numbers, shown.gaps, strict=True)],
        "lots": [_lot(shown, lot) for lot in shown.lots],
        "mend": [_mend(mend) for mend in shown.mend],
        "suspect": [_suspect(one) for one in list_suspect(result) if one.number in set(shown.numbers)],
        "standards": [_standard(shown, key) for key in result.by_standard],
        "errors": errors_as_json(result.errors),
    }


def _gap(shown: Shown, number: int, gap: Gap) -> dict[str, Any]:
    found: dict[str, Any] = {
        "number": number,
        "rule": gap.rule,
        "weight": gap.weight,
        "table": gap.table,
        "id": gap.id,
        "field": ".".join(str(step) for step in gap.field),
        **_place(shown, gap.place),
        "message": gap.message,
        "remedy": gap.remedy,
        "clauses": list(gap.clauses),
        "lots": list(gap.lots),
        "others": [_place(shown, place) for place in gap.others],
        "explanation": None,
    }
    if gap.explanation is not None:
        told = gap.explanation
        found["explanation"] = {"reason": told.reason, "by": told.by, "date": told.date.isoformat()}
    return found


def _place(shown: Shown, place: Place) -> dict[str, Any]:
    line, column = shown.where.get(place, (None, None))
    return {"file": place.file, "line": line, "column": column}


def _standard(shown: Shown, key: str) -> dict[str, Any]:
    """The season under one of its standards alone: gaps by weight, and the standing of the lots shown."""
    from certgen.rules.findings import WEIGHTS

    under = shown.result.by_standard[key]
    weights = Counter(gap.weight for gap in under.gaps)
    return {
        "standard": key,
        "gaps": {weight: weights[weight] for weight in WEIGHTS},
        "lots": {lot.lot: under.lots[lot.lot].standing for lot in shown.lots},
    }


def _scope(shown: Shown, lot: str) -> dict[str, Any]:
    """What the negative results behind a lot speak to, and no more."""
    scope = shown.result.scopes.of_lot(lot)
    return {
        "sentence": scope.sentence,
        "seen": list(scope.seen),
        "unseen": list(scope.unseen),
        "open_parents": list(scope.open_parents),
    }


def _lot(shown: Shown, lot: LotStanding) -> dict[str, Any]:
    return {
        "lot": lot.lot,
        "variety": lot.variety,
        "standing": lot.standing,
        "weight_g": grams(lot.weight_mg),
        "traced_g": grams(lot.traced_mg),
        "unproven_g": grams(lot.unproven_mg),
        "rejected_g": grams(lot.rejected_mg),
        "unaccounted_g": grams(lot.unaccounted_mg),
        "custody": custody_as_json(shown.result, lot.lot),
        "proof": proof_as_json(shown.result, lot.lot),
        "scope": _scope(shown, lot.lot),
    }


def custody_as_json(result: Result, lot: str) -> dict[str, Any]:
    """Where the lot's grams are: on hand, by count or by the book, and what left to whom."""
    custody = tell_custody(result, lot)
    return {
        "on_hand_g": grams(custody.on_hand_mg),
        "counted": custody.counted.isoformat() if custody.counted else None,
        **{
            way: [{"kind": one.kind, "party": one.party, "weight_g": grams(one.weight_mg)} for one in moved]
            for way, moved in (("left", custody.left), ("came", custody.came))
        },
    }


def proof_as_json(result: Result, lot: str) -> list[dict[str, Any]]:
    """Each obligation of a lot: on how many records it stands, how many show it, who says so, for how
    much."""
    return [
        {
            "obligation": one.obligation.key,
            "table": one.obligation.table,
            "records": one.records,
            "shown": one.shown,
            "by": dict(one.by),
            "open": list(one.open),
            "weight_g": grams(one.weight_mg),
        }
        for one in result.proof(lot)
    ]


def _suspect(one: Suspect) -> dict[str, Any]:
    return {
        "movement": one.movement,
        "lot": one.lot,
        "standing": one.standing,
        "weight_g": grams(one.weight_mg),
        "party": one.party,
        "document": one.document,
        "date": one.day.isoformat(),
        "gap": one.number,
    }


def _mend(mend: Mend) -> dict[str, Any]:
    return {
        mend.action.replace(" ", "_"): mend.text,
        "proves_g": grams(mend.proves_mg),
        "frees_g": grams(mend.frees_mg),
        "lots": list(mend.lots),
        "gaps": [position + 1 for position in mend.gaps],
    }


def grams(milligrams: int) -> float:
    """Milligrams as grams: at most three decimals, and the same figure again when it is read back."""
    return round(milligrams / 1000, 3)


def as_rows(shown: Shown) -> list[tuple[str, ...]]:
    """The gaps as rows of a table, with a heading. Several clauses or lots stand in one cell."""
    heading = ("rule", "weight", "table", "id", "field", "file", "line", "column")
    rows: list[tuple[str, ...]] = [(*heading, "message", "remedy", "clauses", "lots")]
    for gap in shown.gaps:
        line, column = shown.where.get(gap.place, ("", ""))
        rows.append((
            gap.rule, gap.weight, gap.table, gap.id, ".".join(str(step) for step in gap.field),
            gap.place.file, str(line), str(column), gap.message, gap.remedy,
            "; ".join(gap.clauses), "; ".join(gap.lots),
        ))  # fmt: skip
    return rows
