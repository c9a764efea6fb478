"""The co-op's result for other programs: one JSON object, and rows for a spreadsheet."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from certgen.coop.between.disagreements import KINDS
from certgen.coop.between.visits import NOT_CERTIFICATION
from certgen.exchange.spreadsheets.cell_text import neutralise

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.coop.between.result import CoopResult, LotLine, MemberView
    from certgen.coop.between.transfers import Transfer
    from certgen.coop.members.facts import GapFact, Grams, MoveFact

#: The form of `coop --format json`. It goes up when a key changes its meaning or goes away.
FORMAT: Final = 1


def grams(milligrams: int) -> float:
    """Milligrams as grams: at most three decimals, and the same figure again when it is read back."""
    return round(milligrams / 1000, 3)


def as_json(result: CoopResult) -> dict[str, Any]:
    """The object that `schemas/output/coop.json` describes. Masses in grams, exact to the milligram."""
    totals = result.totals
    return {
        "format": FORMAT,
        "coop": {
            "name": result.coop.name,
            "certifier": result.coop.certifier,
            "certificate": result.coop.certificate,
        },
        "on": result.on.isoformat(),
        "version": result.version,
        "says": NOT_CERTIFICATION,
        "readiness": result.readiness,
        "records": dict(totals.records),
        "left_out": totals.left_out,
        "members": [_member(view) for view in result.members],
        "disagreements": [
            {
                "kind": one.kind,
                "weight": one.weight,
                "members": list(one.members),
                "records": list(one.records),
                "message": one.message,
                "remedy": KINDS[one.kind].remedy,
                "clauses": list(KINDS[one.kind].clauses),
            }
            for one in result.disagreements
        ],
        "varieties": [
            {"variety": name, **_standing(standing)} for name, standing in result.varieties.items()
        ],
        "transfers": [_transfer(one) for one in result.transfers],
        "yields": [
            {
                "member": one.member,
                "variety": one.variety,
                "trees": one.trees,
                "seed_g": grams(one.seed_mg),
                "g_a_tree": round(one.grams_a_tree, 3),
                "median_g_a_tree": None if one.median is None else round(one.median, 3),
                "ask": one.is_far,
            }
            for one in result.yields
        ],
        "balance": [
            {
                "variety": one.variety,
                "came_g": grams(one.came_mg),
                "went_g": grams(one.went_mg),
                "between_members_out_g": grams(one.sent_mg),
                "between_members_in_g": grams(one.received_mg),
                "difference_g": grams(one.difference_mg),
                "closing_g": grams(one.closing_mg),
            }
            for one in result.balance
        ],
        "group": [
            {
                "rulebook": one.rulebook,
                "key": one.key,
                "title": one.title,
                "value": one.value,
                "here": one.here,
                "clause": one.clause,
                "mark": one.mark,
                "note": one.note,
            }
            for one in result.figures
        ],
        "sample": {
            "seed": result.sample_seed,
            "basis": result.sample_basis,
            "members": [
                {"member": one.member, "points": one.points, "why": one.why} for one in result.sample
            ],
        },
        "chase": [
            {"members": list(one.members), "text": one.text, "proves_g": grams(one.proves_mg)}
            for one in result.chase
        ],
    }


def _standing(standing: Grams) -> dict[str, Any]:
    return {
        "standing": standing.standing,
        "weight_g": grams(standing.whole_mg),
        "traced_g": grams(standing.traced_mg),
        "unproven_g": grams(standing.unproven_mg),
        "rejected_g": grams(standing.rejected_mg),
        "unaccounted_g": grams(standing.unaccounted_mg),
    }


def _member(view: MemberView) -> dict[str, Any]:
    summary = view.summary
    return {
        "member": view.member.key,
        "name": view.member.name,
        "certificate": view.member.certificate,
        "joined": view.member.joined.isoformat(),
        "operation": summary.stated.operation,
        "season": summary.stated.label,
        "state": summary.state,
        "readiness": view.readiness,
        "fingerprint": summary.fingerprint,
        **_standing(view.standing),
        # Of records that nobody could read nothing is known, least of all that they are sound.
        **({} if summary.state == "read" else {"standing": "unproven"}),
        "gaps": {weight: view.open_counts.get(weight, 0) for weight in ("rejects", "unproven", "advice")},
        "stages": {stage: dict(counts) for stage, counts in summary.stages.items()},
        "listed": [_gap(gap) for gap in view.gaps],
        "answered": [_gap(gap) for gap in view.answered],
        "errors": list(summary.errors),
        "error_count": summary.error_count,
        "disagreements": list(view.disagreements),
        "lots": [_lot(line) for line in view.lots],
        "risk": {"points": view.risk.points, "reasons": [reason for reason, _ in view.risk.reasons]},
    }


def _gap(gap: GapFact) -> dict[str, Any]:
    return {
        "rule": gap.rule,
        "weight": gap.weight,
        "table": gap.table,
        "id": gap.id,
        "file": gap.file,
        "line": gap.line or None,
        "message": gap.message,
        "remedy": gap.remedy,
        "lots": list(gap.lots),
    }


def _lot(line: LotLine) -> dict[str, Any]:
    fact = line.fact
    return {
        "lot": line.name,
        "variety": fact.variety,
        **_standing(line.standing),
        "own_standing": fact.own.standing,
        "parents": fact.parents,
        "parents_cleared": fact.cleared,
        "back": list(line.back),
        "forward": list(line.forward),
        "gaps": line.gaps,
    }


def _transfer(one: Transfer) -> dict[str, Any]:
    return {
        "from": one.sender,
        "to": one.receiver,
        "sent": _move(one.sent),
        "received": _move(one.received),
        "differences": list(one.differences),
    }


def _move(move: MoveFact | None) -> dict[str, Any] | None:
    if move is None:
        return None
    return {
        "movement": move.movement,
        "date": move.date,
        "lot": move.lot,
        "kind": move.kind,
        "weight_g": grams(move.weight_mg),
        "document": move.document,
        "status": move.status,
    }


def as_rows(result: CoopResult) -> Iterator[tuple[str, ...]]:
    """One row a finding with a heading: what can't be read, what disagrees, each member's gaps.

    What a spreadsheet would run as a formula has an apostrophe before it: members' files are strangers'.
    """
    for row in _rows(result):
        yield tuple(neutralise(cell) for cell in row)


def _rows(result: CoopResult) -> Iterator[tuple[str, ...]]:
    yield ("member", "kind", "weight", "stage", "record", "file", "line", "message", "remedy", "lots")
    for view in result.members:
        key = view.member.key
        for error in view.summary.errors:
            yield (key, "not-read", "unproven", "", "", "", "", error, "", "")
        for gap in view.gaps:
            record = f"{key}:{gap.table}/{gap.id}"
            lots = "; ".join(f"{key}:lots/{lot}" for lot in gap.lots)
            line = str(gap.line or "")
            told = (gap.message, gap.remedy, lots)
            yield (key, gap.rule, gap.weight, gap.stage, record, gap.file, line, *told)
    for one in result.disagreements:
        kind = KINDS[one.kind]
        records = "; ".join(one.records)
        lots = "; ".join(record for record in one.records if ":lots/" in record)
        members = "; ".join(one.members)
        told = (one.message, kind.remedy, lots)
        yield (members, one.kind, one.weight, "between members", records, "", "", *told)
