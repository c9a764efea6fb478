"""Days: none lies ahead of us, and what comes later in the job comes later in the year."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from certgen.lineage import Node
from certgen.records.joining.rounds import RoundMembers
from certgen.records.rows import indexed_rows, look_up, plain_rows
from certgen.records.tables import load_tables
from certgen.rules.findings import Finding
from certgen.rules.registry import rule
from certgen.rules.wording import day, noun

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from pandas import DataFrame

    from certgen.rules.case import Case

#: Within one record: table, the earlier field and what happened then, the later one and what happened then.
_WITHIN: Final = (
    ("trees", "planted", "planted", "removed", "removed"),
    ("screening", "collected", "collected", "submitted", "handed in"),
    ("screening", "collected", "collected", "reported", "reported on"),
    ("screening", "submitted", "handed in", "reported", "reported on"),
    ("bagging", "covered", "put on", "uncovered", "taken off"),
    ("bagging", "covered", "put on", "petal_fall", "without petals"),
    ("harvests", "date", "picked", "ripening.until", "ripe"),
    ("batches", "date", "processed", "drying.from", "set to dry"),
    ("batches", "drying.from", "set to dry", "drying.to", "dry"),
    ("tests", "sampled", "sampled", "date", "tested"),
    ("incidents", "date", "noticed", "closed", "closed"),
    ("incidents", "held_from", "held", "released", "released"),
    ("incidents", "date", "noticed", "certifier_notified", "told to the certifier"),
    ("recalls", "opened", "opened", "closed", "closed"),
    ("recalls", "opened", "opened", "certifier_notified", "told to the certifier"),
)
#: Days with a rule of their own, or that may lie ahead: a visit that is only announced, how long a material
#: is approved.
_AHEAD: Final = {
    ("lots", "label.tested"), ("visits", "from"), ("visits", "to"), ("materials", "from"),
    ("materials", "until"),
}  # fmt: skip


@rule(
    weight="unproven",
    clauses=("us-nop:205.103(b)(2)", "us-nop:205.103(b)(5)"),
    remedy="Correct the day. A record is written when the work is done, not before.",
)
def date_in_future(case: Case) -> Iterator[Finding]:
    """A record bears a day that hasn't come yet, so it can't tell what was done.

    Usually the year is wrong. An inspector who finds one day that can't be true trusts the others less.
    """
    import pandas as pd

    today = pd.Timestamp(case.on)
    for table in load_tables().values():
        frame = case.season.table(table.name)
        for column in () if frame.empty else table.columns:
            if column.kind == "date" and (table.name, column.name) not in _AHEAD:
                late = frame[column.name] > today
                key = table.key or "rule"
                for row, identifier, when in indexed_rows(frame, key, column.name, where=late):
                    yield _ahead(table.name, identifier, row, (column.name,), when)
    looks = case.checks
    late = (looks["date"] > today) & (looks["position"] >= 0)
    for row, bag, position, when in plain_rows(looks, "row", "bag", "position", "date", where=late):
        yield _ahead("bagging", bag, row, ("checks", position, "date"), when)


def _ahead(table: str, identifier: str, row: int, field: tuple[str | int, ...], when: object) -> Finding:
    return Finding(
        table,
        identifier,
        row,
        field,
        f"{noun(table).capitalize()} {identifier} bears the day {day(when)}, which hasn't come yet.",  # type: ignore[arg-type]
        supply=f"the right day for {noun(table)} {identifier}",
    )


@rule(
    weight="unproven",
    clauses=("us-nop:205.103(b)(2)", "us-nop:205.403(d)(5)"),
    remedy="One of the two days is wrong: look it up in the field book and correct it.",
    after=("date-in-future", "identifier-repeated"),
)
def date_out_of_order(case: Case) -> Iterator[Finding]:
    """Something is dated before what it came out of, which can't be.

    Seed is packed after it is dried, dried after the fruit is picked, and fruit is picked after its
    flower was bagged. Where the days run backwards, one of them belongs to something else.
    """
    for table, earlier, was, later, became in _WITHIN:
        frame = case.trees if table == "trees" else case.season.table(table)
        if frame.empty:
            continue
        key = load_tables()[table].key
        wrong = frame[later] < frame[earlier]
        for row, identifier, first, second in indexed_rows(frame, key, earlier, later, where=wrong):
            what = f"{noun(table).capitalize()} {identifier}"
            yield _backwards(table, identifier, row, (later,), what, became, second, f"it was {was}", first)
    yield from _letters(case)
    yield from _across(case)


def _letters(case: Case) -> Iterator[Finding]:
    """Letters written before the samples had come; each speaks of all that it names."""
    letters = case.season.table("letters")
    wrong = letters[letters["reported"] < letters["received"]]
    members = RoundMembers(case.season) if len(wrong) else None
    for row, letter, received, reported in indexed_rows(wrong, "letter", "received", "reported"):
        _, covers = members.covered("letters", {"samples": letters["samples"].iat[row]})  # type: ignore[union-attr]
        samples = case.season.table("screening")["sample"]
        yield replace(
            _backwards(
                "letters", letter, row, ("reported",), f"Letter {letter}", "written", reported,
                "its samples came in", received,
            ),
            reaches=tuple(Node("screening", str(samples.iat[at])) for at in covers),
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Order:
    """That the day in column `later` doesn't come before the one in `earlier`, of two records on one line.

    `rows` gives a joined table with both days, the record's key and, in `row`, its row; `other` is the
    column that names the second record. A None among the steps of `field` stands for the position in a list.
    `message` and `supply` may name `what` (the record), `other`, and the two days.
    """

    table: str
    rows: Callable[[Case], DataFrame]
    field: tuple[str | None, ...]
    later: str
    earlier: str
    other: str
    message: str
    supply: str = "the right days for {it}"


def _looks(case: Case) -> DataFrame:
    looks = case.checks[case.checks["position"] >= 0]
    return looks.assign(covered=look_up(looks["row"], case.season.table("bagging")["covered"]))


def _picked(case: Case) -> DataFrame:
    picked, trees = case.picked, case.tree_of
    return picked.assign(
        row=picked["harvest_row"],
        uncovered=look_up(picked["bag"], case.keyed("bagging")["uncovered"]),
        removed=look_up(picked["tree"], trees["removed"]),
        # A bag's own days tell enough of its tree.
        planted=look_up(picked["tree"], trees["planted"]).where(picked["loose"]),
    )


def _processed(case: Case) -> DataFrame:
    processed = case.processed
    return processed.assign(
        row=processed["batch_row"], date=look_up(processed["batch"], case.keyed("batches")["date"])
    )


def _packed(case: Case) -> DataFrame:
    packed, batches = case.packed, case.keyed("batches")
    processed = look_up(packed["batch"], batches["date"])
    dry = look_up(packed["batch"], batches["drying.to"])
    return packed.assign(
        row=packed["lot_row"],
        processed=processed,
        # A batch that was dry before it was processed is told once, at the batch.
        dry=dry.mask(processed > packed["packed"]),
        source_packed=look_up(packed["source_lot"], case.keyed("lots")["packed"]),
    )


def _cleaned(case: Case) -> DataFrame:
    cleaning = case.season.table("cleaning")
    return cleaning.assign(
        row=cleaning.index, processed=look_up(cleaning["before"], case.keyed("batches")["date"])
    )


def _moved(case: Case) -> DataFrame:
    moves = case.season.table("movements")
    moves = moves.assign(row=moves.index, packed=look_up(moves["lot"], case.keyed("lots")["packed"]))
    # What went out of the door early has a rule of its own; earlier stock was packed in another season.
    return moves[~moves["kind"].isin(["sold", "transferred", "opening stock"])]


def _sown(case: Case) -> DataFrame:
    plantings = case.season.table("plantings")
    return plantings.assign(
        row=plantings.index, packed=look_up(plantings["origin.lot"], case.keyed("lots")["packed"])
    )


_ACROSS: Final = (
    _Order("bagging", _looks, ("checks", None, "date"), "date", "covered", "bag",
           "{what} was looked at on {later}, before it was put on on {earlier}."),
    _Order("harvests", _picked, ("bags", None), "date", "covered", "bag",
           "{what} was made on {later}, before bag {other} was put on on {earlier}."),
    _Order("harvests", _picked, ("bags", None), "date", "uncovered", "bag",
           "{what} was made on {later}, before bag {other} came off on {earlier}."),
    _Order("harvests", _picked, ("trees", None), "date", "planted", "tree",
           "{what} was made on {later}, before tree {other} was planted on {earlier}."),
    _Order("harvests", _picked, ("date",), "removed", "date", "tree",
           "{what} was made on {earlier}, when tree {other} had been gone since {later}.",
           "the right day for {it} or for the removal of tree {other}"),
    _Order("batches", _processed, ("date",), "date", "harvest_date", "harvest",
           "{what} was processed on {later}, before picking {other} was made on {earlier}."),
    _Order("lots", _packed, ("packed",), "packed", "processed", "batch",
           "{what} was packed on {later}, before batch {other} was processed on {earlier}."),
    _Order("lots", _packed, ("packed",), "packed", "dry", "batch",
           "{what} was packed on {later}, before batch {other} was dry on {earlier}."),
    _Order("lots", _packed, ("packed",), "packed", "source_packed", "source_lot",
           "{what} was packed on {later}, before lot {other} was packed on {earlier}."),
    _Order("cleaning", _cleaned, ("date",), "processed", "date", "before",
           "{what} of {earlier} is to prepare batch {other}, which was processed on {later} already.",
           "the right day for {it}"),
    _Order("movements", _moved, ("date",), "date", "packed", "lot",
           "{what} was made on {later}, before lot {other} was packed on {earlier}."),
    _Order("plantings", _sown, ("planted",), "planted", "packed", "origin.lot",
           "{what} was sown on {later}, before lot {other} was packed on {earlier}."),
)  # fmt: skip


def _across(case: Case) -> Iterator[Finding]:
    """Days of one record checked against those of another on the same line."""
    joined = {rows: rows(case) for rows in dict.fromkeys(order.rows for order in _ACROSS)}
    for order in _ACROSS:
        frame = joined[order.rows]
        if frame.empty:
            continue
        wrong = frame[order.later] < frame[order.earlier]
        at = "position" if None in order.field else "row"
        key = load_tables()[order.table].key
        for row, position, identifier, other, second, first in plain_rows(
            frame, "row", at, key, order.other, order.later, order.earlier, where=wrong
        ):
            it = f"{noun(order.table)} {identifier}"
            words = {
                "it": it, "what": it[0].upper() + it[1:], "other": other,
                "later": day(second), "earlier": day(first),
            }  # fmt: skip
            yield Finding(
                order.table,
                identifier,
                row,
                tuple(position if step is None else step for step in order.field),
                order.message.format(**words),
                supply=order.supply.format(**words),
            )


def _backwards(
    table: str,
    identifier: str,
    row: int,
    field: tuple[str | int, ...],
    what: str,
    became: str,
    second: object,
    event: str,
    first: object,
) -> Finding:
    return Finding(
        table,
        identifier,
        row,
        field,
        f"{what} was {became} on {day(second)}, before {event} on {day(first)}.",  # type: ignore[arg-type]
        supply=f"the right days for {what[0].lower()}{what[1:]}",
    )
