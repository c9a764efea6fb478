"""From the bag to the picking: that every fruit is accounted for, and can have been ready."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from certgen.lineage import Node
from certgen.records.columns import days_from, group_rows
from certgen.rules.clauses import BALANCE, RECORDS
from certgen.rules.findings import Finding, Weight
from certgen.rules.registry import rule
from certgen.rules.wording import count, day, name

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.records.columns import Array, Columns
    from certgen.rules.case import Case


@rule(
    weight="advice",
    clauses=RECORDS,
    remedy="Write under `outcome` whether the flower set fruit, dropped or was lost, and name the bag in "
    "the picking that took its fruit.",
    after=("bag-on-wrong-flower",),
)
def bag_fate_unknown(case: Case) -> Iterator[Finding]:
    """The season is over, and nothing says what became of the flower under a bag.

    Bags that went on and fruit that came in must match. A bag without an end is a fruit that could have
    gone anywhere; where the same tree's fruit was picked without a bag, it is the first place to ask.
    """
    bags, taken = case.joined("bags"), case.joined("picked")
    ripe = case.practice("days_covering_to_picking")
    latest = ripe.high if ripe is not None else None
    ripened = days_from(bags["covered"], np.datetime64(case.on)) > (latest or 0)
    silent = bags.absent("outcome") & (ripened | (case.on >= case.season.details.end))
    # A bag of an earlier year was told in its year.
    unknown = case.own("bagging") & ~bags["picked"] & (silent | ((bags["outcome"] == "set") & ripened))
    loose = group_rows(taken["tree"], taken["loose"])
    for row, bag, tree, outcome in bags.rows("bag", "tree", "outcome", where=unknown):
        picked = list(dict.fromkeys(taken["harvest"][loose.get(tree, [])].tolist()))
        if outcome and picked:
            # That fruit is told under `fruit-unbagged`, where this bag may be named.
            continue
        weight: Weight = (
            "unproven" if picked and case.lineage.lots_of([Node("harvests", h) for h in picked]) else "advice"
        )
        fate = (
            "set fruit, and no picking took it"
            if outcome
            else "has no outcome, and no picking took its fruit"
        )
        also = (
            f" Fruit of the same tree was picked without a bag: {name('harvests', picked)}." if picked else ""
        )
        yield Finding(
            "bagging",
            bag,
            row,
            ("outcome",),
            f"Bag {bag} on tree {tree} {fate}.{also}",
            weight=weight,
            reaches=tuple(Node("harvests", harvest) for harvest in picked),
            supply=f"what became of bag {bag}",
        )


@rule(
    weight="unproven",
    clauses=(*RECORDS, "us-nop:205.103(b)(5)"),
    remedy="Look at the tag and the field book: either the outcome or the bag's number in the picking is "
    "wrong.",
)
def bag_outcome_differs(case: Case) -> Iterator[Finding]:
    """A picking takes fruit of a bag whose flower dropped or was lost.

    A flower that dropped has no fruit. The fruit in the picking grew somewhere else.
    """
    picked = case.joined("picked")
    outcome = case.columns("bagging").at("outcome", _rows_of_bags(picked))
    for _, harvest, bag, bag_row, ended in picked.adding(outcome=outcome).rows(
        "harvest", "bag", "bag_row", "outcome", where=(outcome == "dropped") | (outcome == "lost")
    ):
        fate = "dropped" if ended == "dropped" else "was lost"
        yield Finding(
            "bagging",
            bag,
            int(bag_row),
            ("outcome",),
            f"The flower under bag {bag} {fate}, but picking {harvest} holds its fruit.",
            supply=f"the right outcome of bag {bag}, or the right bag in picking {harvest}",
        )


def _rows_of_bags(picked: Columns) -> Array:
    """For all that was picked the row of its bag, -1 where it has none."""
    return np.nan_to_num(picked["bag_row"], nan=-1).astype("int64")


@rule(
    weight="unproven",
    clauses=RECORDS,
    remedy="Write under `fruit_marked` whether the fruit was marked when the bag came off. If it wasn't, "
    "say in a note what else told it apart.",
    after=("date-out-of-order",),
)
def fruit_unmarked(case: Case) -> Iterator[Finding]:
    """A bag came off before its fruit was picked, and the fruit bore no mark.

    For months the fruit hung among others. Only a mark on it shows that the picker took the right one.
    """
    picked, bagging = case.joined("picked"), case.columns("bagging")
    rows = _rows_of_bags(picked)
    uncovered, mark = bagging.at("uncovered", rows), bagging.at("fruit_marked", rows)
    bare = (uncovered < picked["date"]) & (mark != np.True_)
    told = set()
    for _, harvest, bag, bag_row, off, marked in picked.adding(uncovered=uncovered, marked=mark).rows(
        "harvest", "bag", "bag_row", "uncovered", "marked", where=bare
    ):
        if bag in told:
            continue
        told.add(bag)
        marking = (
            "and its fruit was not marked"
            if marked is not None
            else "and nothing says that its fruit was marked"
        )
        yield Finding(
            "bagging",
            bag,
            int(bag_row),
            ("fruit_marked",),
            f"Bag {bag} came off on {day(off)}, before picking {harvest}, {marking}.",
            supply=f"the mark on the fruit of bag {bag}",
        )


@rule(
    weight="unproven",
    clauses=(*RECORDS, *BALANCE, "eu:2018/848 annex II 1.12", "practice:fruits_per_bag"),
    remedy="Count again, or name the bags that are missing from the list. Fruit that no bag stands for is "
    "listed by its tree under `trees`.",
    after=("fruit-unbagged",),
)
def more_fruit_than_bags(case: Case) -> Iterator[Finding]:
    """A picking counts more fruit than its bags can have set.

    One covered flower makes one fruit. The surplus grew under no bag that the records know.
    """
    each = case.practice("fruits_per_bag")
    if each is None or each.high is None:
        return
    harvests, picked, bags = case.columns("harvests"), case.joined("picked"), _count_bags(case)
    surplus = (bags > 0) & (harvests["fruits"] > bags * each.high)
    surplus[picked["harvest_row"][picked["loose"]]] = False
    for row, harvest, fruits, number in harvests.adding(bags=bags).rows(
        "harvest", "fruits", "bags", where=surplus
    ):
        yield Finding(
            "harvests",
            harvest,
            row,
            ("fruits",),
            f"Picking {harvest} counts {fruits} fruit, but its {count(number, 'bag')}"
            f" can have set {number * each.high:g} at most.",
            supply=f"the bags of {fruits - number * each.high:g} more fruit of picking {harvest}",
        )


def _count_bags(case: Case) -> Array:
    """How many bags each picking names, row for row."""
    lists = case.columns("harvests")["bags"].tolist()
    return np.fromiter((len(set(bags)) for bags in lists), dtype="int64", count=len(lists))


@rule(
    weight="unproven",
    clauses=(*RECORDS, "practice:fruits_per_bag"),
    remedy="Correct the number of the bag where it is wrong.",
    after=("identifier-repeated",),
)
def bag_harvested_twice(case: Case) -> Iterator[Finding]:
    """One bag is named for more fruit than it can have set.

    Once its fruit is picked a bag is done. Where it turns up again, that fruit came from another.
    """
    each = case.practice("fruits_per_bag")
    if each is None or each.high is None:
        return
    picked = case.joined("picked")
    named = np.flatnonzero(~picked["loose"])
    named = named[np.argsort(picked["date"][named], kind="stable")]
    picked = picked.where(named, "harvest", "harvest_row", "position", "bag")
    again, first = np.zeros(len(named), dtype=bool), {}
    for bag, rows in group_rows(picked["bag"]).items():
        if len(rows) > each.high:
            first[bag] = picked["harvest"][rows[0]]
            again[[row for before, row in enumerate(rows) if before >= each.high]] = True
    for _, harvest, row, position, bag in picked.rows(
        "harvest", "harvest_row", "position", "bag", where=again
    ):
        yield Finding(
            "harvests",
            harvest,
            row,
            ("bags", position),
            f"Picking {harvest} names bag {bag}, whose fruit is in picking {first[bag]} already.",
            cause=bag,
            reaches=(Node("bagging", bag),),
            supply=f"the right bag for bag {bag} in picking {harvest}",
        )


@rule(
    weight="advice",
    clauses=(*RECORDS, *BALANCE),
    remedy="Count again, or take the bag whose fruit wasn't there off the list and write its outcome.",
    after=("bag-harvested-twice", "bag-outcome-differs"),
)
def fewer_fruit_than_bags(case: Case) -> Iterator[Finding]:
    """A picking counts less fruit than it names bags.

    A bag that is named gave a fruit. If one is missing, an inspector asks which, and where it is.
    """
    harvests, bags = case.columns("harvests"), _count_bags(case)
    for row, harvest, fruits, number in harvests.adding(bags=bags).rows(
        "harvest", "fruits", "bags", where=harvests["fruits"] < bags
    ):
        yield Finding(
            "harvests",
            harvest,
            row,
            ("fruits",),
            f"Picking {harvest} counts {fruits} fruit, but names {count(number, 'bag')}.",
        )
