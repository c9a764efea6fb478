"""Days: none lies ahead of us, and what comes later in the job comes later in the year."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Final

import numpy as np

from certgen.records.columns import is_in, take
from certgen.records.joining.rounds import RoundMembers
from certgen.records.tables import load_tables
from certgen.rules.findings import Finding
from certgen.rules.registry import rule
from certgen.rules.wording import day, noun

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from certgen.records.columns import Columns
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
_NEVER: Final = np.datetime64("NaT")


@rule(
    weight="unproven",
    clauses=("us-nop:205.103(b)(2)", "us-nop:205.103(b)(5)"),
    remedy="Correct the day. A record is written when the work is done, not before.",
)
def date_in_future(case: Case) -> Iterator[Finding]:
    """A record bears a day that hasn't come yet, so it can't tell what was done.

    Usually the year is wrong. An inspector who finds one day that can't be true trusts the others less.
    """
    today = np.datetime64(case.on)
    for table, key, name in _days():
        columns = case.columns(table)
        if len(columns):
            for row, identifier, when in columns.rows(key, name, where=columns[name] > today):
                yield _ahead(table, identifier, row, (name,), when)
    looks = case.joined("checks")
    late = (looks["date"] > today) & (looks["position"] >= 0)
    for _, row, bag, position, when in looks.rows("row", "bag", "position", "date", where=late):
        yield _ahead("bagging", bag, row, ("checks", position, "date"), when)


@cache
def _days() -> tuple[tuple[str, str, str], ...]:
    """The columns of days that can't lie ahead: table, its key, column."""
    return tuple(
        (table.name, table.key or "rule", column.name)
        for table in load_tables().values()
        for column in table.columns
        if column.kind == "date" and (table.name, column.name) not in _AHEAD
    )


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
        if not len(case.columns(table)):
            continue
        columns = case.joined("trees") if table == "trees" else case.columns(table)
        key = load_tables()[table].key
        wrong = columns[later] < columns[earlier]
        for row, identifier, first, second in columns.rows(key, earlier, later, where=wrong):
            what = f"{noun(table).capitalize()} {identifier}"
            yield _backwards(table, identifier, row, (later,), what, became, second, f"it was {was}", first)
    yield from _letters(case)
    yield from _across(case)


def _letters(case: Case) -> Iterator[Finding]:
    """Letters written before the samples had come; each speaks of all that it names."""
    letters = case.columns("letters")
    wrong = letters["reported"] < letters["received"]
    members = RoundMembers(case.season)
    for row, letter, received, reported, named in letters.rows(
        "letter", "received", "reported", "samples", where=wrong
    ):
        _, covers = members.covered("letters", {"samples": named})
        found = _backwards(
            "letters", letter, row, ("reported",), f"Letter {letter}", "written", reported,
            "its samples came in", received,
        )  # fmt: skip
        yield found._replace(reaches=case.nodes("screening", covers))


@dataclass(frozen=True, slots=True)
class _Order:
    """That the day in column `later` doesn't come before the one in `earlier`, of two records on one line.

    `rows` gives a joined table with both days, the record's key and, in `row`, its row; `other` is the
    column that names the second record. A None among the steps of `field` stands for the position in a list.
    `message` and `supply` may name `what` (the record), `other`, and the two days.
    """

    table: str
    rows: Callable[[Case], Columns]
    field: tuple[str | None, ...]
    later: str
    earlier: str
    other: str
    message: str
    supply: str = "the right days for {it}"


def _looks(case: Case) -> Columns:
    looks = case.joined("checks")
    looks = looks.where(looks["position"] >= 0, "row", "bag", "position", "date")
    return looks.adding(covered=take(case.columns("bagging")["covered"], looks["row"]))


def _picked(case: Case) -> Columns:
    picked, bags, trees = case.joined("picked"), case.columns("bagging"), case.joined("trees")
    of = trees.find("tree", picked["tree"])
    return picked.adding(
        row=picked["harvest_row"],
        uncovered=bags.look_up("bag", picked["bag"], "uncovered"),
        removed=trees.at("removed", of),
        # A bag's own days tell enough of its tree.
        planted=np.where(picked["loose"], trees.at("planted", of), _NEVER),
    )


def _processed(case: Case) -> Columns:
    processed, batches = case.joined("processed"), case.columns("batches")
    return processed.adding(
        row=processed["batch_row"], date=batches.look_up("batch", processed["batch"], "date")
    )


def _packed(case: Case) -> Columns:
    packed, batches, lots = case.joined("packed"), case.columns("batches"), case.columns("lots")
    of = batches.find("batch", packed["batch"])
    processed = batches.at("date", of)
    return packed.adding(
        row=packed["lot_row"],
        processed=processed,
        # A batch that was dry before it was processed is told once, at the batch.
        dry=np.where(processed > packed["packed"], _NEVER, batches.at("drying.to", of)),
        source_packed=lots.look_up("lot", packed["source_lot"], "packed"),
    )


def _cleaned(case: Case) -> Columns:
    cleaning, batches = case.columns("cleaning"), case.columns("batches")
    return cleaning.adding(
        row=np.arange(len(cleaning)), processed=batches.look_up("batch", cleaning["before"], "date")
    )


def _moved(case: Case) -> Columns:
    moves = case.columns("movements")
    packed = case.columns("lots").look_up("lot", moves["lot"], "packed")
    # What went out of the door early has a rule of its own; earlier stock was packed in another season.
    apart = is_in(moves["kind"], ("sold", "transferred", "opening stock"))
    return moves.adding(row=np.arange(len(moves)), packed=np.where(apart, _NEVER, packed))


def _sown(case: Case) -> Columns:
    plantings, lots = case.columns("plantings"), case.columns("lots")
    return plantings.adding(
        row=np.arange(len(plantings)), packed=lots.look_up("lot", plantings["origin.lot"], "packed")
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
        columns = joined[order.rows]
        wrong = columns[order.later] < columns[order.earlier]
        at = "position" if None in order.field else "row"
        key = load_tables()[order.table].key
        for _, row, position, identifier, other, second, first in columns.rows(
            "row", at, key, order.other, order.later, order.earlier, where=wrong
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
