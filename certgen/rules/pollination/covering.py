"""The flower under the cover: that it can set the seed it is meant to, and that the cover kept pollen out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from certgen.lineage import Node
from certgen.records.columns import is_in
from certgen.rules.clauses import EXCLUDED, KEPT_APART, PLAN, RECORDS
from certgen.rules.findings import Finding, Weight
from certgen.rules.ranges import days_between
from certgen.rules.registry import rule
from certgen.rules.wording import IN_A_LOT, capital, count, day, join, name

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.rules.case import Case

_FATHERED = (*KEPT_APART, *EXCLUDED)


@rule(
    weight="rejects",
    clauses=_FATHERED,
    remedy="Look at the tree and correct the flower or the tree's sex, if one was written down wrongly. "
    "Otherwise keep this fruit's seed out of every lot.",
    packed="Look at the tree and correct the flower or the tree's sex, if one was written down "
    f"wrongly. Otherwise: {IN_A_LOT}",
)
def bag_on_wrong_flower(case: Case) -> Iterator[Finding]:
    """A bag stands over a flower that can't have set the seed, or nobody wrote down what flower it was.

    Which pollen set a fruit follows from the flower: one that sets seed of its own pollen needs only the
    cover, one that doesn't needs pollen brought by hand. If the flower isn't known, neither is the father.
    """
    profile, bags = case.profile, case.joined("bags")
    flower, sex, unsaid = bags["flower"], bags["sex"], bags.absent("flower")
    barren = is_in(flower, profile.role("pollen_flowers")) | (
        unsaid & is_in(sex, profile.role("non_parents"))
    )
    # A tree whose sex is also a word for flowers bears only those.
    differs = ~unsaid & is_in(sex, profile.words["flowers"]) & (flower != sex)
    # A tree's sex tells what flowers it bears as a rule; a hermaphrodite's change with the weather.
    silent = unsaid & ~barren
    bags = bags.adding(barren=barren, silent=silent)
    for row, bag, tree, flower_, sex_, by_barren, by_silent, behind in bags.rows(
        "bag", "tree", "flower", "sex", "barren", "silent", "behind_lot", where=barren | differs | silent
    ):
        weight: Weight | None = None if by_barren else "unproven" if behind else "advice"
        if by_silent:
            said = f"Nothing says what flower bag {bag} on tree {tree} was put over."
        elif by_barren:
            said = f"Bag {bag} on tree {tree} was put over a {flower_ or sex_} flower, which sets no fruit."
        else:
            said = f"Bag {bag} is entered over a {flower_} flower, but tree {tree} is {sex_}."
        yield Finding(
            "bagging",
            bag,
            row,
            ("flower",),
            said,
            weight=weight,
            supply=None if by_barren else f"the flower under bag {bag}",
        )


@rule(
    weight="unproven",
    clauses=(*_FATHERED, *RECORDS),
    remedy="Write under `pollen_parent` which tree's pollen was brought to the flower. If none was, the "
    "fruit was set by pollen from somewhere else: keep its seed out of every lot.",
    after=("bag-on-wrong-flower",),
    packed="Write under `pollen_parent` which tree's pollen was brought to the flower. If none was: "
    f"{IN_A_LOT}",
)
def female_without_pollen_parent(case: Case) -> Iterator[Finding]:
    """A flower that sets no seed of its own was covered, and nothing says whose pollen it was given.

    Half of each seed comes from the pollen. Without a named, screened father half of the claim is missing.
    """
    profile, bags = case.profile, case.joined("bags")
    crossing = is_in(bags["flower"], profile.role("crossing_flowers")) | (
        bags.absent("flower") & is_in(bags["sex"], profile.role("needs_pollen_parent"))
    )
    fatherless = crossing & bags.absent("pollen_parent")
    for row, bag, tree, flower, sex in bags.rows("bag", "tree", "flower", "sex", where=fatherless):
        yield Finding(
            "bagging",
            bag,
            row,
            ("pollen_parent",),
            f"Bag {bag} on tree {tree} covers a {flower or sex} flower, and no pollen parent is named.",
            supply=f"the pollen parent of bag {bag}",
        )


@rule(
    weight="unproven",
    clauses=(*RECORDS, *EXCLUDED),
    remedy="Correct the number of the pollen parent. If it is right, the seed is not what its lot is called.",
)
def pollen_parent_unfit(case: Case) -> Iterator[Finding]:
    """The tree named as pollen parent can't have been the father of seed of this name.

    It gives no pollen, is of another variety, or didn't stand there on the day the flower was covered.
    Seed of two varieties is a cross, and bears neither name.
    """
    trees, bags = case.joined("trees"), case.joined("bags")
    if not bags.known("pollen_parent").any():
        return
    rows, covered = trees.find("tree", bags["pollen_parent"]), bags["covered"]
    absent = (trees.at("planted", rows) > covered) | (trees.at("removed", rows) < covered)
    bags = bags.adding(father_sex=trees.at("sex", rows), father=trees.at("variety", rows))
    barren = is_in(bags["father_sex"], case.profile.role("needs_pollen_parent"))
    other = bags.known("father") & bags.known("variety") & (bags["father"] != bags["variety"])
    bags = bags.adding(barren=barren, absent=absent, other=other)
    for row, bag, parent, by_barren, by_absent, by_other, sex, variety, own in bags.rows(
        "bag", "pollen_parent", "barren", "absent", "other", "father_sex", "father", "variety",
        where=barren | absent | other,
    ):  # fmt: skip
        told = []
        if by_barren:
            told.append(f"is {sex} and gives no pollen")
        if by_absent:
            told.append("didn't stand there on the day the flower was covered")
        if by_other:
            told.append(f"is {variety}, where the mother is {own}")
        yield Finding(
            "bagging",
            bag,
            row,
            ("pollen_parent",),
            f"Tree {parent}, the pollen parent of bag {bag}, {join(told)}.",
            supply=f"the right pollen parent of bag {bag}",
        )


@rule(
    weight="rejects",
    clauses=RECORDS,
    remedy="Correct the tree, the day, or the tree's dates. If they are right, nobody knows what this bag "
    "covered: keep its seed out of every lot.",
    after=("date-in-future", "identifier-repeated"),
    packed=f"Correct the tree, the day, or the tree's dates. If they are right: {IN_A_LOT}",
)
def bag_on_absent_tree(case: Case) -> Iterator[Finding]:
    """A bag is entered on a tree that wasn't there on that day: not yet planted, or already removed.

    The bag hung on some other tree, and nothing says which.
    """
    bags = case.joined("bags")
    covered, planted, removed = bags["covered"], bags["planted"], bags["removed"]
    early = covered < planted
    late = (removed < covered) & ~(removed < planted)
    for row, bag, tree, on, since, until, by_early in bags.adding(early=early).rows(
        "bag", "tree", "covered", "planted", "removed", "early", where=early | late
    ):
        state = f"was planted only on {day(since)}" if by_early else f"had been removed on {day(until)}"
        yield Finding(
            "bagging",
            bag,
            row,
            ("covered",),
            f"Bag {bag} was put on tree {tree} on {day(on)}, but the tree {state}.",
        )


@rule(
    weight="advice",
    clauses=(*PLAN, "eu:2018/848 28"),
    remedy="Clear the other buds next time; now make sure that only the fruit of the covered flower is "
    "picked.",
)
def bag_buds_not_cleared(case: Case) -> Iterator[Finding]:
    """Other buds were left beside the covered flower.

    A bud that opens within the bag or beside it makes a second fruit, which is easily taken for the first.
    """
    bags = case.columns("bagging")
    left = is_in(bags["other_buds_cleared"], (False,))
    for row, bag, tree in bags.rows("bag", "tree", where=left):
        yield Finding(
            "bagging",
            bag,
            row,
            ("other_buds_cleared",),
            f"Under bag {bag} on tree {tree} the other buds were not cleared.",
        )


@rule(
    weight="unproven",
    clauses=(*KEPT_APART, *PLAN),
    remedy="Write under `secured` whether the bag was tied, or say it once in the bagging round. Draw "
    "every bag tight round the stalk. If insects can have got in, keep this fruit's seed apart.",
)
def bag_not_secured(case: Case) -> Iterator[Finding]:
    """A bag was not tied round the stalk, or nobody says that it was.

    Insects that carry pollen creep in from below. A bag that isn't tied is a bag that isn't closed.
    """
    bags = case.columns("bagging")
    for row, bag, tree in bags.rows("bag", "tree", where=is_in(bags["secured"], (False,))):
        yield Finding(
            "bagging",
            bag,
            row,
            ("secured",),
            f"Bag {bag} on tree {tree} was not drawn tight round the stalk.",
            supply=f"that bag {bag} was tied",
        )
    yield from _unsaid(case, "secured", "Nothing says that {bags} {was} tied.", "whether {bags} {was} tied")


def _unsaid(case: Case, field: str, told: str, supply: str) -> Iterator[Finding]:
    """One gap for all picked bags of which nobody says the same thing; {bags} and {was} are filled in."""
    bags = case.joined("bags")
    silent = bags.absent(field) & (bags["picked"] | bags["behind_lot"])
    if not silent.any():
        return
    numbers = bags.values("bag", np.flatnonzero(silent))
    words = {"bags": name("bagging", numbers), "was": "was" if len(numbers) == 1 else "were"}
    told, supply, steps = told.format(**words), supply.format(**words), (field,)
    for row, bag in bags.rows("bag", where=silent):
        yield Finding("bagging", bag, row, steps, told, cause=field, supply=supply)


@rule(
    weight="unproven",
    clauses=KEPT_APART,
    remedy="Write under `stage` how far open each flower was, or say it once in the bagging round.",
)
def bag_stage_unknown(case: Case) -> Iterator[Finding]:
    """Nothing says that a bag was put over a closed bud.

    A flower that was open already may have had its pollen. Whoever tied the bag saw it.
    """
    yield from _unsaid(
        case, "stage", "Nothing says how far open the flowers under {bags} were.",
        "how far open the flowers under {bags} were",
    )  # fmt: skip


@rule(
    weight="unproven",
    clauses=RECORDS,
    remedy="Write under `covered` the day on which the bag was put on, or name the bag in the bagging round.",
)
def bag_undated(case: Case) -> Iterator[Finding]:
    """Nothing says on which day a bag was put on.

    Whether its tree was cleared by then, and whether the fruit can be of that flower, can't be told.
    """
    yield from _unsaid(
        case,
        "covered",
        "Nothing says when {bags} {was} put on.",
        "the day on which {bags} {was} put on",
    )


@rule(
    weight="unproven",
    clauses=(*RECORDS, "practice:days_planting_to_flowering"),
    remedy="Correct the day, the tree, or the day of planting. If they are right, nobody knows what "
    "flower it was.",
    after=("bag-on-absent-tree", "date-in-future", "identifier-repeated"),
)
def tree_too_young(case: Case) -> Iterator[Finding]:
    """A flower was covered on a tree that was too young to flower.

    A seedling bears leaves first. A flower before its time hung on another tree, or the days are wrong.
    """
    practice = case.practice("days_planting_to_flowering")
    if practice is None or practice.limits[0] <= 0:
        return
    bags = case.joined("bags")
    age = days_between(bags["planted"], bags["covered"])
    bags = bags.adding(age=age)
    for row, bag, tree, days in bags.rows("bag", "tree", "age", where=age < practice.limits[0]):
        yield Finding(
            "bagging",
            bag,
            row,
            ("covered",),
            f"Bag {bag} was put on tree {tree} {count(days, 'day')} after the tree was planted, where"
            f" practice is {practice.told()}.",
            supply=f"the right day or tree of bag {bag}",
        )


@rule(
    weight="unproven",
    clauses=(*KEPT_APART, "practice:days_covered"),
    remedy="Correct the days if one is wrong. If the flower had withered by then, say so in a note and "
    "explain the gap.",
    after=("bag-failed", "date-out-of-order", "date-in-future"),
)
def uncovered_early(case: Case) -> Iterator[Finding]:
    """A bag came off while the flower could still take foreign pollen.

    The cover must outlast the days in which the stigma takes pollen; how many that is comes from the crop
    profile. Taking it off early is as bad as a tear.
    """
    needed = case.practice("days_covered")
    if needed is None or needed.low is None:
        return
    bags, state = case.joined("bags"), case.joined("protection")["state"]
    kept = days_between(bags["covered"], bags["uncovered"])
    early = (state == "early") & (bags["picked"] | bags["behind_lot"]) & (kept >= 0)
    for row, bag, tree, days in bags.adding(kept=kept).rows("bag", "tree", "kept", where=early):
        yield Finding(
            "bagging",
            bag,
            row,
            ("uncovered",),
            f"Bag {bag} on tree {tree} came off after {count(days, 'day')}, where practice is"
            f" {needed.text()}.",
            supply=f"the day on which bag {bag} came off",
        )


@rule(
    weight="unproven",
    clauses=("us-nop:7 USC 6510(a)(6)", "us-nop:205.272(b)(2)", "eu:2018/848 28", "canada:5.2"),
    remedy="Write what the bags held before under `previous_contents`, and when they were washed under "
    "`bag_cleaned`.",
)
def bag_reused(case: Case) -> Iterator[Finding]:
    """A bag was used again, and nothing says what it held before, or that it was washed since.

    A bag that covered another flower carries its pollen, and one that held treated seed or a spray may
    carry that. What it held and when it was washed is what shows. A bag that nobody calls new may be any.
    """
    yield from _unsaid(case, "bag_use", "Nothing says whether {bags} {was} new.", "whether {bags} {was} new")
    bags = case.columns("bagging")
    unknown, dirty = bags.absent("previous_contents"), bags.absent("bag_cleaned")
    late = bags["bag_cleaned"] > bags["covered"]
    faulty = (bags["bag_use"] == "re-used") & (unknown | dirty | late)
    bags = bags.adding(unknown=unknown, dirty=dirty, late=late)
    told_of = list(bags.rows("bag", "unknown", "dirty", "late", where=faulty))
    groups: dict[tuple[bool, ...], list[str]] = {}
    for _, bag, *by in told_of:
        groups.setdefault(tuple(by), []).append(bag)
    for row, bag, by_unknown, by_dirty, by_late in told_of:
        alike = groups[by_unknown, by_dirty, by_late]
        told = []
        if by_unknown:
            told.append(
                "nothing says what was in it before"
                if len(alike) == 1
                else "nothing says what was in them before"
            )
        if by_dirty:
            told.append("no washing is written down")
        if by_late:
            told.append(
                "the washing is dated after it was put on"
                if len(alike) == 1
                else "the washing is dated after they were put on"
            )
        yield Finding(
            "bagging",
            bag,
            row,
            ("previous_contents",) if by_unknown else ("bag_cleaned",),
            f"{capital(name('bagging', alike))} {'was' if len(alike) == 1 else 'were'} used before, and "
            f"{join(told)}.",
            cause=(by_unknown, by_dirty, by_late),
            reaches=(Node("bagging", bag),),
            supply=f"what {name('bagging', alike)} held before and when "
            f"{'it was' if len(alike) == 1 else 'they were'} washed",
        )
