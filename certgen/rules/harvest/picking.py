"""From the bag to the picking: that every fruit is accounted for, and can have been ready."""

from __future__ import annotations

from typing import TYPE_CHECKING

from certgen.lineage import Node
from certgen.records.rows import indexed_rows, look_up, plain_rows
from certgen.rules.clauses import BALANCE, RECORDS
from certgen.rules.findings import Finding, Weight
from certgen.rules.registry import rule
from certgen.rules.wording import count, day, name

if TYPE_CHECKING:
    from collections.abc import Iterator

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
    import pandas as pd

    end, today = case.season.details.end, pd.Timestamp(case.on)
    bags = case.bags
    ripe = case.practice("days_covering_to_picking")
    latest = ripe.high if ripe is not None else None
    ripened = today > bags["covered"] + pd.Timedelta(days=latest or 0)
    silent = bags["outcome"].isna() & (ripened | (today >= pd.Timestamp(end)))
    # A bag of an earlier year was told in its year.
    bags = bags[case.own("bagging")]
    silent, ripened = silent[bags.index], ripened[bags.index]
    unknown = ~bags["picked"] & (silent | ((bags["outcome"] == "set") & ripened))
    loose = case.picked[case.picked["loose"]]
    for row, bag, tree, outcome in indexed_rows(bags[unknown], "bag", "tree", "outcome"):
        picked = list(dict.fromkeys(loose["harvest"][loose["tree"] == tree].tolist()))
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
    picked = case.picked
    bagging = case.keyed("bagging")
    outcome = look_up(picked["bag"], bagging["outcome"])
    chosen = picked.assign(outcome=outcome)[outcome.isin(["dropped", "lost"])]
    for harvest, bag, bag_row, ended in plain_rows(chosen, "harvest", "bag", "bag_row", "outcome"):
        fate = "dropped" if ended == "dropped" else "was lost"
        yield Finding(
            "bagging",
            bag,
            int(bag_row),
            ("outcome",),
            f"The flower under bag {bag} {fate}, but picking {harvest} holds its fruit.",
            supply=f"the right outcome of bag {bag}, or the right bag in picking {harvest}",
        )


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
    picked = case.picked
    bagging = case.keyed("bagging")
    bare = picked.assign(
        uncovered=look_up(picked["bag"], bagging["uncovered"]),
        marked=look_up(picked["bag"], bagging["fruit_marked"]),
    )
    bare = bare[(bare["uncovered"] < bare["date"]) & ~bare["marked"].fillna(value=False).astype("bool")]
    for harvest, bag, bag_row, uncovered, marked in plain_rows(
        bare[~bare["bag"].duplicated()], "harvest", "bag", "bag_row", "uncovered", "marked"
    ):
        mark = (
            "and its fruit was not marked"
            if marked is not None
            else "and nothing says that its fruit was marked"
        )
        yield Finding(
            "bagging",
            bag,
            int(bag_row),
            ("fruit_marked",),
            f"Bag {bag} came off on {day(uncovered)}, before picking {harvest}, {mark}.",
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
    harvests = case.season.table("harvests")
    named = case.picked[~case.picked["loose"]]
    bags = named.groupby("harvest_row")["bag"].nunique()
    mixed = harvests.index.isin(case.picked["harvest_row"][case.picked["loose"]])
    known = look_up(harvests.index.to_series(), bags)
    chosen = harvests.assign(known=known)[
        ((harvests["fruits"] > known * each.high) & ~mixed).fillna(value=False)
    ]
    for row, harvest, fruits, number in indexed_rows(chosen, "harvest", "fruits", "known"):
        yield Finding(
            "harvests",
            harvest,
            row,
            ("fruits",),
            f"Picking {harvest} counts {fruits} fruit, but its {count(number, 'bag')}"
            f" can have set {number * each.high:g} at most.",
            supply=f"the bags of {fruits - number * each.high:g} more fruit of picking {harvest}",
        )


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
    named = case.picked[~case.picked["loose"]].sort_values("date", kind="stable")
    before = named.groupby("bag").cumcount()
    chosen = named.assign(before=before)[before >= each.high]
    first = named[~named["bag"].duplicated()].set_index("bag")["harvest"]
    for harvest, row, position, bag in plain_rows(chosen, "harvest", "harvest_row", "position", "bag"):
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
    harvests = case.season.table("harvests")
    bags = case.picked[~case.picked["loose"]].groupby("harvest_row")["bag"].nunique()
    known = look_up(harvests.index.to_series(), bags)
    chosen = harvests.assign(known=known)[(harvests["fruits"] < known).fillna(value=False)]
    for row, harvest, fruits, number in indexed_rows(chosen, "harvest", "fruits", "known"):
        yield Finding(
            "harvests",
            harvest,
            row,
            ("fruits",),
            f"Picking {harvest} counts {fruits} fruit, but names {count(number, 'bag')}.",
        )
