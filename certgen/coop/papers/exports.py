"""The co-op's result for other programs: one JSON object, and rows for a spreadsheet."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any, Final

from certgen.coop.between.kinds import KINDS
from certgen.coop.between.visits import NOT_CERTIFICATION, say_order
from certgen.coop.papers.control_records import describe_control, list_open
from certgen.coop.papers.handing_in import tell_handing_in
from certgen.exchange.interchange.layout import grams
from certgen.figures.draws import plain_text
from certgen.rules import WEIGHTS
from certgen.standards.loader import how_read

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from certgen.coop.between.balance import CombinedBalance
    from certgen.coop.between.disagreements import Disagreement
    from certgen.coop.between.result import CoopResult, LotLine, MemberView
    from certgen.coop.between.transfers import Transfer
    from certgen.coop.between.yields import MemberYield
    from certgen.coop.members.facts import GapFact, Grams, MoveFact
    from certgen.coop.papers.handing_in import HandingIn

#: The form of `coop --format json`. It goes up when a key changes its meaning or goes away.
FORMAT: Final = 1
#: The columns of `coop --format csv`.
HEADING: Final = ("member", "kind", "weight", "stage", "record", "file", "line", "message", "remedy", "lots")


def as_json(result: CoopResult) -> dict[str, Any]:
    """The object that `schemas/output/coop.json` describes. Masses in grams, exact to the milligram."""
    coop, totals = result.coop, result.totals
    return {
        "format": FORMAT,
        "coop": {"name": coop.name, "certifier": coop.certifier, "certificate": coop.certificate},
        "on": result.on.isoformat(),
        "version": result.version,
        "says": NOT_CERTIFICATION,
        "readiness": result.readiness,
        "records": dict(totals.records),
        "left_out": totals.left_out,
        "members": [
            {**_member(view), "to_send": _to_send(tell_handing_in(result, view))} for view in result.members
        ],
        "disagreements": [_disagreement(result, one) for one in result.disagreements],
        "agreement": {
            "agreed": result.is_agreed,
            "says": result.agreement,
            "unread": list(result.unread),
            "read_in_part": list(result.read_in_part),
        },
        "varieties": [{"variety": name, **_standing(mass)} for name, mass in result.varieties.items()],
        "control": describe_control(result),
        "transfers": [_transfer(one) for one in result.transfers],
        "yields": [_yield(one) for one in result.yields],
        "balance": [_balance(one) for one in result.balance],
        "group": [asdict(figure) for figure in result.figures],
        "sample": {
            "seed": result.sample.key.text,
            "seed_as_hashed": plain_text(result.sample.key.text),
            "fingerprint": result.sample.key.fingerprint,
            "frozen_first": result.sample.key.noted,
            "order": say_order(result.sample),
            "basis": result.sample.basis,
            "members": [{**asdict(visit), "lots": list(visit.lots)} for visit in result.sample.visits],
            "misses": [{"what": what, "chance_at_worst": chance} for what, chance in result.sample.misses],
        },
        "chase": [
            {"members": list(one.members), "text": one.text, "proves_g": grams(one.proves_mg)}
            for one in result.chase
        ],
        "looked_at": _looked_at(result),
    }


def _looked_at(result: CoopResult) -> list[dict[str, Any]]:
    codes = {one.code for one in result.disagreements}
    return [
        {**asdict(one), "date": one.date.isoformat(), "asked": one.question in codes}
        for one in result.coop.looked_at
    ]


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
        "gaps": {weight: view.open_counts.get(weight, 0) for weight in WEIGHTS},
        "stages": {stage: dict(counts) for stage, counts in summary.stages.items()},
        "listed": [_gap(gap) for gap in view.gaps],
        "answered": [_gap(gap) for gap in view.answered],
        "errors": list(summary.errors),
        "error_count": summary.error_count,
        "disagreements": list(view.disagreements),
        "lots": [_lot(line) for line in view.lots],
        "held": [{"lot": one.lot, "holder": one.holder, **_standing(one.standing)} for one in view.held],
        "risk": {"points": view.risk.points, "reasons": [reason for reason, _ in view.risk.reasons]},
    }


def _to_send(told: HandingIn | None) -> dict[str, Any] | None:
    if told is None:
        return None
    return {
        "by": None if told.by is None else told.by.isoformat(),
        "how": told.how,
        "path": told.path,
        "absent": list(told.absent),
        "absent_count": told.absent_count,
        "papers": [
            {"kind": one.title, "records": list(one.names), "count": one.lacking, "weighing": one.weighing}
            for one in told.papers
        ],
        "steps": list(told.steps),
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
    return {
        "lot": line.name,
        "variety": line.fact.variety,
        **_standing(line.standing),
        "own_standing": line.fact.own.standing,
        "parents": line.parents.all,
        "parents_cleared": line.parents.cleared,
        "without_parents_g": grams(line.parents.unknown_mg),
        "back": list(line.back),
        "forward": list(line.forward),
        "gaps": line.gaps,
        "reasons": list(line.reasons),
    }


def _disagreement(result: CoopResult, disagreement: Disagreement) -> dict[str, Any]:
    kind = KINDS[disagreement.kind]
    looked = result.looked.get(disagreement.code)
    return {
        "kind": disagreement.kind,
        "code": disagreement.code,
        "weight": kind.weight,
        "members": list(disagreement.members),
        "records": list(disagreement.records),
        "places": [
            {"record": record, "file": file, "line": line or None}
            for record, file, line in result.locate(disagreement)
        ],
        "message": disagreement.message,
        "remedy": kind.remedy,
        "clauses": list(kind.clauses),
        "clause_marks": [how_read(clause) for clause in kind.clauses],
        "looked": None
        if looked is None
        else {"by": looked.by, "date": looked.date.isoformat(), "found": looked.found},
        "settled": result.is_settled(disagreement),
    }


def _transfer(transfer: Transfer) -> dict[str, Any]:
    return {
        "from": transfer.sender,
        "to": transfer.receiver,
        "sent": _moves(transfer.sent),
        "received": _moves(transfer.received),
        "differences": list(transfer.differences),
    }


def _moves(moves: Sequence[MoveFact]) -> dict[str, Any] | None:
    """A book's entries of one transfer: the first, with the weight of all; several stand beside it each."""
    if not moves:
        return None
    whole = {**_move(moves[0]), "weight_g": grams(sum(move.weight_mg for move in moves))}
    return whole if len(moves) == 1 else {**whole, "parts": [_move(move) for move in moves]}


def _move(move: MoveFact) -> dict[str, Any]:
    return {
        "movement": move.movement,
        "date": move.date,
        "lot": move.lot,
        "kind": move.kind,
        "weight_g": grams(move.weight_mg),
        "document": move.document,
        "status": move.status,
    }


def _yield(one: MemberYield) -> dict[str, Any]:
    return {
        "member": one.member,
        "variety": one.variety,
        "trees": one.trees,
        "seed_g": grams(one.seed_mg),
        "g_a_tree": round(one.grams_a_tree, 3),
        "median_g_a_tree": None if one.median is None else round(one.median, 3),
        "ask": one.is_far,
    }


def _balance(balance: CombinedBalance) -> dict[str, Any]:
    return {
        "variety": balance.variety,
        "came_g": grams(balance.came_mg),
        "went_g": grams(balance.went_mg),
        "between_members_out_g": grams(balance.sent_mg),
        "between_members_in_g": grams(balance.received_mg),
        "difference_g": grams(balance.difference_mg),
        "closing_g": grams(balance.closing_mg),
    }


def list_rows(result: CoopResult) -> Iterator[tuple[str, ...]]:
    """One row a finding below `HEADING`: what can't be read, what disagrees, each member's gaps."""
    for view in result.members:
        key = view.member.key
        for error in view.summary.errors:
            yield (key, "not-read", "unproven", "", "", "", "", error, "", "")
        for gap in view.gaps:
            record = f"{key}:{gap.table}/{gap.id}"
            lots = "; ".join(f"{key}:lots/{lot}" for lot in gap.lots)
            place = (record, gap.file, str(gap.line or ""))
            yield (key, gap.rule, gap.weight, gap.stage, *place, gap.message, gap.remedy, lots)
    yield from (_row(result, one) for one in result.disagreements)
    for key, kind, record, message, remedy in list_open(result):
        yield (key, kind, "control", "own control", record, "", "", message, remedy, "")


def _row(result: CoopResult, one: Disagreement) -> tuple[str, ...]:
    """A disagreement; files and lines stand in the order of its records."""
    members, records = "; ".join(one.members), "; ".join(one.records)
    lots = "; ".join(record for record in one.records if ":lots/" in record)
    there = list(result.locate(one))
    files, lines = "; ".join(file for _, file, _ in there), "; ".join(str(line or "") for *_, line in there)
    remedy = KINDS[one.kind].remedy
    place = ("between members", records, files, lines)
    return (members, one.kind, one.weight, *place, one.message, remedy, lots)
