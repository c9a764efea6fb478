"""Extraction: which fruit was opened, when, and how its seed was freed and washed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from certgen.records.columns import is_in
from certgen.rules.clauses import PLAN, RECORDS
from certgen.rules.findings import Finding
from certgen.rules.ranges import compare, days_between, find_outside, outside
from certgen.rules.registry import rule
from certgen.rules.wording import day, join

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.rules.case import Case


@rule(
    weight="unproven",
    clauses=(*RECORDS, "us-nop:205.403(d)(5)"),
    remedy="Name under `harvests` the pickings that went into the run. Seed that was bought in belongs in a "
    "lot of its own, with its supplier.",
    after=("identifier-repeated",),
)
def batch_without_picking(case: Case) -> Iterator[Finding]:
    """A run names no picking, so its seed came out of nowhere.

    Fruit by fruit the line runs back to the parents. Where a run names no picking it ends, however well
    the rest is kept. Seed of other sorts may be run, but not into a lot.
    """
    batches = case.columns("batches")
    bare = batches.absent("harvests")
    if not bare.any():
        return
    bare &= batches.absent("other_seed") | case.behind("batches")
    for row, batch, other in batches.rows("batch", "other_seed", where=bare):
        source = f" It is of other seed: {other}." if other else ""
        yield Finding(
            "batches",
            batch,
            row,
            ("harvests",),
            f"Batch {batch} names no picking.{source}",
            supply=f"the pickings of batch {batch}",
        )


@rule(
    weight="advice",
    clauses=(*PLAN, "practice:days_picking_to_extraction"),
    remedy="Correct the day if it is wrong. Otherwise watch this seed's germination test.",
    after=("date-out-of-order",),
)
def extraction_delayed(case: Case) -> Iterator[Finding]:
    """Fruit was opened sooner or later after picking than is usual.

    Sooner, and the seed isn't finished, unless the fruit was ripe when it was picked; later, and it may
    have sprouted or rotted in the fruit.
    """
    practice = case.practice("days_picking_to_extraction")
    if practice is None:
        return
    processed = case.joined("processed")
    opened = case.columns("batches")["date"][processed["batch_row"]]
    days = days_between(processed["harvest_date"], opened)
    odd = outside(days, practice)
    if not odd.any():
        return
    stage = case.columns("harvests").look_up("harvest", processed["harvest"], "stage")
    odd &= ~(is_in(stage, case.profile.role("ripe_stages")) & (days < practice.range[0]))
    for _, batch, row, position, harvest, took in processed.adding(days=days).rows(
        "batch", "batch_row", "position", "harvest", "days", where=odd
    ):
        yield Finding(
            "batches",
            batch,
            row,
            ("harvests", position),
            compare(
                f"Batch {batch} opened the fruit of picking {harvest} {took:g} days after it was picked",
                practice,
                took,
            )
            + ".",
            cause=batch,
        )


@rule(
    weight="unproven",
    clauses=RECORDS,
    remedy="One of the two days is wrong, or the fruit is of another picking: look it up and correct it.",
    after=("date-out-of-order",),
)
def extracted_before_ripe(case: Case) -> Iterator[Finding]:
    """Seed was taken out of fruit that, by its own record, was still ripening.

    Fruit can't hang in the ripening room and go through the mixer. Either a day is wrong, or it was other
    fruit.
    """
    processed = case.joined("processed")
    opened = case.columns("batches")["date"][processed["batch_row"]]
    until = case.columns("harvests").look_up("harvest", processed["harvest"], "ripening.until")
    for _, batch, row, position, harvest, ripe, day_ in processed.adding(until=until, opened=opened).rows(
        "batch", "batch_row", "position", "harvest", "until", "opened", where=opened < until
    ):
        yield Finding(
            "batches",
            batch,
            row,
            ("harvests", position),
            f"Batch {batch} opened the fruit of picking {harvest} on {day(day_)}, and that fruit ripened"
            f" until {day(ripe)}.",
            supply=f"the right days for batch {batch} and picking {harvest}",
        )


@rule(
    weight="advice",
    clauses=PLAN,
    remedy="Use a blade that rubs instead of cutting. Look at a sample of this seed for cuts, and watch its "
    "germination test.",
)
def blade_sharp(case: Case) -> Iterator[Finding]:
    """The machine that loosens the seed ran with a blade that cuts.

    Cut seed dies in store, which a fresh germination test doesn't show.
    """
    batches = case.columns("batches")
    sharp = is_in(batches["blade"], case.profile.role("unsafe_blades"))
    for row, batch, blade in batches.rows("batch", "blade", where=sharp):
        yield Finding(
            "batches",
            batch,
            row,
            ("blade",),
            f"Batch {batch} was run with the blade '{blade}', which cuts seed.",
        )


@rule(
    weight="advice",
    clauses=(*PLAN, "practice:rinses", "practice:floats"),
    remedy="If the count was forgotten, correct it. Otherwise rinse until the water stays clear.",
)
def rinse_count(case: Case) -> Iterator[Finding]:
    """Seed was rinsed or floated less, or more, often than is usual.

    Pulp and gel that stay on the seed hold back germination and feed mould.
    """
    batches = case.columns("batches")
    figures = (
        ("rinses", batches["rinses"], case.practice("rinses"), "was rinsed {:g} times"),
        ("floats", batches["floats"], case.practice("floats"), "was floated {:g} times"),
    )
    yield from find_outside("batches", batches, "batch", figures, "Batch")


@rule(
    weight="advice",
    clauses=(*PLAN, "practice:extraction_run_min"),
    remedy="If the time or its unit was misread, correct it. A run of seconds leaves the gel on, one of "
    "hours grinds the seed: watch the germination test.",
)
def extraction_run_unusual(case: Case) -> Iterator[Finding]:
    """A run of the machine that loosens the seed was much shorter, or longer, than is usual.

    Minutes are usual, in one run or several short ones.
    """
    usual, batches = case.practice("extraction_run_min"), case.columns("batches")
    if usual is None:
        return
    for row, batch, written, runs in batches.rows("batch", "runs", "runs_s", where=batches.known("runs_s")):
        odd = [at for at, seconds in enumerate(runs) if usual.grade(seconds / 60) != "usual"]
        if odd:
            told = join(written[at] for at in odd)
            yield Finding(
                "batches",
                batch,
                row,
                ("runs", odd[0]),
                f"The machine ran for {told} in batch {batch}, where practice is {usual.told()} a run.",
            )
