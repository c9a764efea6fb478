"""Days: none lies ahead of us, and what comes later in the job comes later in the year."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

from certgen.lineage import Node
from certgen.records.rounds import RoundMembers
from certgen.records.rows import indexed_rows, look_up, plain_rows
from certgen.records.tables import load_tables
from certgen.rules.findings import Finding
from certgen.rules.registry import rule
from certgen.rules.wording import day, noun

if TYPE_CHECKING:
    from collections.abc import Iterator

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
    ("incidents", "date", "noticed", "certifier_notified", "told to the certifier"),
)


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
        for column in table.columns:
            if column.kind == "date" and column.name != "label.tested":
                late = frame[frame[column.name] > today]
                key = table.key or "rule"
                for row, identifier, when in indexed_rows(late, key, column.name):
                    yield _ahead(table.name, identifier, row, (column.name,), when)
    looks = case.checks
    looks = looks[(looks["date"] > today) & (looks["position"] >= 0)]
    for row, bag, position, when in plain_rows(looks, "row", "bag", "position", "date"):
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
        key = load_tables()[table].key
        wrong = frame[frame[later] < frame[earlier]]
        for row, identifier, first, second in indexed_rows(wrong, key, earlier, later):
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


def _across(case: Case) -> Iterator[Finding]:
    """Days of one record held against those of another on the same line."""
    looks = case.checks[case.checks["position"] >= 0].assign(
        covered=lambda frame: look_up(frame["row"], case.season.table("bagging")["covered"])
    )
    for row, bag, position, when, first in plain_rows(
        looks[looks["date"] < looks["covered"]], "row", "bag", "position", "date", "covered"
    ):
        yield _backwards(
            "bagging",
            bag,
            row,
            ("checks", position, "date"),
            f"Bag {bag}",
            "looked at",
            when,
            "it was put on",
            first,
        )
    bagging = case.keyed("bagging")
    picked = case.picked.assign(uncovered=lambda frame: look_up(frame["bag"], bagging["uncovered"]))
    trees = case.tree_of
    picked = picked.assign(
        since=look_up(picked["tree"], trees["planted"]), until=look_up(picked["tree"], trees["removed"])
    )
    columns = ("harvest", "harvest_row", "position", "bag", "date")
    for reference, story in (("covered", "was put on"), ("uncovered", "came off")):
        wrong = picked[picked["date"] < picked[reference]]
        for harvest, row, position, bag, when, first in plain_rows(wrong, *columns, reference):
            yield _backwards(
                "harvests",
                harvest,
                row,
                ("bags", position),
                f"Picking {harvest}",
                "made",
                when,
                f"bag {bag} {story}",
                first,
            )
    loose = picked[picked["loose"]]
    for harvest, row, position, tree, when, first in plain_rows(
        loose[loose["date"] < loose["since"]], "harvest", "harvest_row", "position", "tree", "date", "since"
    ):
        yield _backwards(
            "harvests",
            harvest,
            row,
            ("trees", position),
            f"Picking {harvest}",
            "made",
            when,
            f"tree {tree} was planted",
            first,
        )
    for harvest, row, tree, when, gone in plain_rows(
        picked[picked["until"] < picked["date"]], "harvest", "harvest_row", "tree", "date", "until"
    ):
        yield Finding(
            "harvests",
            harvest,
            row,
            ("date",),
            f"Picking {harvest} was made on {day(when)}, when tree {tree} had been gone since {day(gone)}.",
            supply=f"the right day for picking {harvest} or for the removal of tree {tree}",
        )
    yield from _across_processing(case)


def _across_processing(case: Case) -> Iterator[Finding]:
    batches, lots = case.keyed("batches"), case.keyed("lots")
    processed = case.processed.assign(date=lambda frame: look_up(frame["batch"], batches["date"]))
    yield from _later_than(
        processed,
        "batches",
        ("batch", "batch_row"),
        "date",
        "processed",
        "harvest_date",
        ("picking", "harvest", "made"),
    )
    packed = case.packed.assign(
        processed=lambda frame: look_up(frame["batch"], batches["date"]),
        dried=lambda frame: look_up(frame["batch"], batches["drying.to"]),
        before=lambda frame: look_up(frame["source_lot"], lots["packed"]),
    )
    for reference, told in (
        ("processed", ("batch", "batch", "processed")),
        ("dried", ("batch", "batch", "dry")),
        ("before", ("lot", "source_lot", "packed")),
    ):
        # A batch that was dry before it was processed is told once, at the batch.
        late = packed[~(packed["processed"] > packed["packed"])] if reference == "dried" else packed
        yield from _later_than(late, "lots", ("lot", "lot_row"), "packed", "packed", reference, told)
    cleaning = case.season.table("cleaning")
    cleaning = cleaning.assign(row=cleaning.index, used=look_up(cleaning["before"], batches["date"]))
    for identifier, row, when, batch, used in plain_rows(
        cleaning[cleaning["date"] > cleaning["used"]], "cleaning", "row", "date", "before", "used"
    ):
        yield Finding(
            "cleaning",
            identifier,
            row,
            ("date",),
            f"Cleaning {identifier} of {day(when)} is to prepare batch {batch}, "
            f"which was processed on {day(used)} already.",
            supply=f"the right day for cleaning {identifier}",
        )
    moves = case.season.table("movements")
    moves = moves.assign(row=moves.index, packed=look_up(moves["lot"], lots["packed"]))
    # What went out of the door early has a rule of its own; earlier stock was packed in another season.
    inside = moves[~moves["kind"].isin(["sold", "transferred", "opening stock"])]
    yield from _later_than(
        inside, "movements", ("movement", "row"), "date", "made", "packed", ("lot", "lot", "packed")
    )
    plantings = case.season.table("plantings")
    plantings = plantings.assign(row=plantings.index, packed=look_up(plantings["origin.lot"], lots["packed"]))
    yield from _later_than(
        plantings,
        "plantings",
        ("planting", "row"),
        "planted",
        "sown",
        "packed",
        ("lot", "origin.lot", "packed"),
    )


def _later_than(
    frame: DataFrame,
    table: str,
    record: tuple[str, str],
    later: str,
    became: str,
    earlier: str,
    told: tuple[str, str, str],
) -> Iterator[Finding]:
    """Where the `later` day comes before the `earlier` one; `told` names the other record and its doing."""
    word, other, was = told
    wrong = frame[frame[later] < frame[earlier]]
    for identifier, row, when, source, first in plain_rows(wrong, *record, later, other, earlier):
        what = f"{noun(table).capitalize()} {identifier}"
        yield _backwards(
            table, identifier, row, (later,), what, became, when, f"{word} {source} was {was}", first
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
