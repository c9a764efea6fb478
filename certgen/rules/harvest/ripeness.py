"""The day and the stage of each picking, and that its fruit was taken up."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from certgen.lineage import Node
from certgen.records.columns import days_from, is_in
from certgen.rules.clauses import RECORDS
from certgen.rules.findings import Finding
from certgen.rules.ranges import compare, days_between, outside
from certgen.rules.registry import rule
from certgen.rules.wording import count, day, name

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.rules.case import Case


@rule(
    weight="unproven",
    clauses=(*RECORDS, "practice:days_covering_to_picking"),
    remedy="Look up both days, and correct the one that is wrong. If they are right, explain what made the "
    "fruit so early or so late.",
    after=("date-out-of-order", "date-in-future", "bag-harvested-twice"),
)
def harvest_interval_unlikely(case: Case) -> Iterator[Finding]:
    """Fruit was picked so soon or so long after its flower was covered that it can hardly be the same fruit.

    How long a fruit takes is known within bounds. The range is the crop profile's: a
    plausibility, no standard. Fruit of a cold season may hang long, up to the profile's last bound; that is
    advice.
    """
    practice = case.practice("days_covering_to_picking")
    if practice is None:
        return
    picked = case.joined("picked")
    days = days_between(picked["covered"], picked["date"])
    slow = (days > practice.range[1]) & (days <= practice.limits[1])
    told: dict[tuple[str, bool], list[tuple[int, int, str, float]]] = {}
    for _, harvest, by_slow, *taken in picked.adding(days=days, slow=slow).rows(
        "harvest", "slow", "harvest_row", "position", "bag", "days", where=outside(days, practice)
    ):
        told.setdefault((harvest, by_slow), []).append(tuple(taken))
    for (harvest, late), group in sorted(told.items()):
        bags = [bag for _, _, bag, _ in group]
        more = f" The same goes for {count(len(bags) - 1, 'bagging')} more of it." if len(bags) > 1 else ""
        for row, position, bag, took in group:
            yield Finding(
                "harvests",
                harvest,
                row,
                ("bags", position),
                compare(
                    f"Picking {harvest} took the fruit of bag {bag} {took:g} days after it was covered",
                    practice,
                    took,
                )
                + f".{more}",
                cause=(harvest, late),
                weight="advice" if late else None,
                reaches=(Node("bagging", bag),),
                supply=f"the right days for picking {harvest} and {name('bagging', bags)}",
            )


@rule(
    weight="advice",
    clauses=("practice:ripening_days", "practice:ripening_colour_pct"),
    remedy="Correct the stage if it was misjudged. Seed of unripe fruit germinates worse: let the fruit "
    "ripen, and watch the germination test.",
)
def harvest_stage(case: Case) -> Iterator[Finding]:
    """Fruit was picked at another stage than those that are practice for seed.

    Seed of ripe and over-ripe fruit germinates best. Fruit may be picked from the first practised stage on
    if it then ripens before its seed is taken out; greener fruit hardly gets there.
    """
    wanted = case.profile.role("harvest_stages")
    if not wanted:
        return
    order = case.profile.words["ripeness_stages"]
    harvests = case.columns("harvests")
    other = harvests.known("stage") & ~is_in(harvests["stage"], wanted)
    for row, harvest, stage in harvests.rows("harvest", "stage", where=other):
        early = order.index(stage) < min(map(order.index, wanted))
        bound = f"before '{wanted[0]}'" if early else f"after '{wanted[-1]}'"
        yield Finding(
            "harvests",
            harvest,
            row,
            ("stage",),
            f"Picking {harvest} was made at the stage '{stage}', {bound}.",
        )


@rule(
    weight="advice",
    clauses=(*RECORDS, "practice:days_picking_to_extraction"),
    remedy="Name the picking in the batch that took it up. If the fruit was eaten, sold or thrown away, say "
    "so in a note and explain the gap.",
)
def harvest_unprocessed(case: Case) -> Iterator[Finding]:
    """Fruit was picked for seed, and no batch takes it up.

    Bagged fruit is picked for its seed. What isn't accounted for could have gone into any lot.
    """
    wait = case.practice("days_picking_to_extraction")
    days = wait.high if wait is not None and wait.high is not None else 0
    harvests = case.columns("harvests")
    late = days_from(harvests["date"], np.datetime64(case.on)) > days
    taken_up = is_in(harvests["harvest"], set(case.joined("processed")["harvest"].tolist()))
    idle = late & ~taken_up & harvests.known("bags")
    for row, harvest, fruits, when in harvests.rows("harvest", "fruits", "date", where=idle):
        yield Finding(
            "harvests",
            harvest,
            row,
            (),
            f"Picking {harvest} of {day(when)} ({fruits} fruit) is in no batch.",
            reaches=(Node("harvests", harvest),),
        )
