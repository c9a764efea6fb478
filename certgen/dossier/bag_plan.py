"""Bags to hang for the grams wanted, when to hang them, and the leaf tests that go with them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

from certgen.dossier.season_rates import (
    STEPS,
    Days,
    Rate,
    find_bags_a_tree,
    find_bearing,
    find_grams_a_fruit,
    find_left_to_sell,
    list_days,
)
from certgen.figures.bags_wanted import count_bags, count_bags_surely, count_fruit
from certgen.rules.growing.selection import list_unfit

if TYPE_CHECKING:
    from pandas import DataFrame

    from certgen.examination import Result


@dataclass(frozen=True, slots=True)
class Dates:
    """When: bagged on `bag_on` the seed is ready between two days; to be ready by a day, bag by two others.

    `bag_by` holds even if each step is slow, `bag_latest` only if each is quick; both None unless a day was
    asked for. `missing` are the steps that neither records nor profile have days for.
    """

    steps: tuple[Days, ...]
    missing: tuple[str, ...]
    bag_on: date
    ready_from: date
    ready_to: date
    ready_by: date | None
    bag_by: date | None
    bag_latest: date | None


@dataclass(frozen=True, slots=True)
class LeafTests:
    """Trees to bag at this season's bags a tree, those that stand cleared, and those that could be screened.

    `trees` and `tests` are None where the season has no bag that says how many go on a tree. `tests` is how
    many more leaves must come out clean, `short` how many trees more than stand it would take.
    """

    bags_a_tree: float | None
    trees: int | None
    cleared: int
    unscreened: int
    tests: int | None
    short: int


@dataclass(frozen=True, slots=True)
class BagPlan:
    """The plan: fruit and bags to expect, and to be sure of it; every rate it rests on.

    `fruit` and `bags` are what is needed on average. `fruit_cautious` and `bags_cautious` take the cautious
    end of each rate, and the chance of bags besides; both are None where no number is sure.
    `traced` is the share of what this season packed that is traced, None where it packed nothing.
    `kept_g` is seed that tests and file samples use up beside the grams wanted.
    """

    grams: float
    variety: str | None
    confidence: float
    bearing: Rate
    grams_a_fruit: Rate
    left: Rate
    traced: float | None
    kept_g: float
    fruit: int
    bags: int
    fruit_cautious: int | None
    bags_cautious: int | None
    dates: Dates
    leaves: LeafTests

    @property
    def own_limits(self) -> bool:
        """Whether both cautious ends are limits of the records: only then is there a confidence."""
        return self.bearing.own and self.grams_a_fruit.own


def plan_bags(
    result: Result,
    grams: float,
    *,
    variety: str | None = None,
    ready_by: date | None = None,
    confidence: float = 0.95,
) -> BagPlan:
    """How many bags give so many grams of seed to sell, from the season's own rates.

    Raises ValueError where neither records nor profile give a rate, naming what to record, or where no
    orchard could hang so many.
    """
    bearing = find_bearing(result, variety, confidence)
    if bearing is None or bearing.usual == 0:
        raise ValueError(
            "No bag on record has given fruit: record of each bag whether its fruit set, dropped or was lost."
        )
    each = find_grams_a_fruit(result, variety, confidence)
    if each is None or each.usual == 0:
        raise ValueError(
            "No run on record gave seed: record the fruit of each picking and the dry weight of runs."
        )
    left = find_left_to_sell(result, variety) or _after_one_test(result, grams)
    if left.usual == 0:
        raise ValueError("All that this season packed was kept back or lost, so no seed is left to sell.")
    fruit = count_fruit(grams, each.usual, left.usual)
    bags = count_bags(fruit, bearing.usual)
    summary = result.summary
    cautious, sure = _count_cautiously(grams, each, left, bearing, confidence)
    return BagPlan(
        grams=grams,
        variety=variety,
        confidence=confidence,
        bearing=bearing,
        grams_a_fruit=each,
        left=left,
        traced=summary.traced_mg / summary.weight_mg if summary.weight_mg else None,
        kept_g=grams / left.usual - grams,
        fruit=fruit,
        bags=bags,
        fruit_cautious=cautious,
        bags_cautious=sure,
        dates=_find_dates(result, ready_by),
        leaves=_count_leaf_tests(result, variety, sure or bags),
    )


def _count_cautiously(
    grams: float, each: Rate, left: Rate, bearing: Rate, confidence: float
) -> tuple[int | None, int | None]:
    """Fruit and bags at the cautious end; None for both where so little is on record that none are enough."""
    try:
        fruit = count_fruit(grams, each.cautious, left.cautious)
        return fruit, count_bags_surely(fruit, bearing.cautious, confidence)
    except ValueError:
        return None, None


def _after_one_test(result: Result, grams: float) -> Rate:
    """Where no lot says what is kept back: one germination test of the crop's usual size."""
    seeds, weight = (result.case.practice(key) for key in ("germination_seeds", "thousand_seed_weight_g"))
    if seeds is None or weight is None or not seeds.usual or not weight.usual:
        return Rate(1.0, 1.0, "nothing kept back: no lot of this season says what is", own=False)
    used = seeds.usual * weight.usual / 1000
    share = grams / (grams + used)
    return Rate(share, share, f"one germination test of {seeds.usual:g} seeds ({seeds.mark})", own=False)


def _find_dates(result: Result, ready_by: date | None) -> Dates:
    steps = list_days(result)
    try:
        low, high = timedelta(sum(step.low for step in steps)), timedelta(sum(step.high for step in steps))
        return Dates(
            steps,
            tuple(step for step in STEPS if step not in {one.step for one in steps}),
            result.on,
            result.on + low,
            result.on + high,
            ready_by,
            None if ready_by is None else ready_by - high,
            None if ready_by is None else ready_by - low,
        )
    except OverflowError:
        told = "; ".join(f"{step.step}: {step.high:.3g} days, {step.basis}" for step in steps)
        raise ValueError(f"The days add up to more than a calendar holds ({told}): mend them.") from None


def _count_leaf_tests(result: Result, variety: str | None, bags: int) -> LeafTests:
    standing = list_standing(result, variety)
    bearers = standing["sex"].isin(
        [*result.profile.role("seed_parents"), *result.profile.role("needs_pollen_parent")]
    )
    cleared = int((bearers & (standing["verdict"] == "clear")).sum())
    open_ = int((bearers & standing["verdict"].isin(["unscreened", "inconclusive"])).sum())
    usual = find_bags_a_tree(result, variety)
    if usual is None:
        return LeafTests(None, None, cleared, open_, None, 0)
    trees = math.ceil(bags / usual[0] - 1e-9)
    tests = max(0, trees - cleared)
    return LeafTests(usual[0], trees, cleared, open_, tests, max(0, tests - open_))


def list_standing(result: Result, variety: str | None = None) -> DataFrame:
    """The trees that stand on the day and may be parents, each once, with their screening; of one variety
    if it is given."""
    import pandas as pd

    trees = result.case.tree_of
    standing = trees["removed"].isna() | (trees["removed"] > pd.Timestamp(result.on))
    standing &= ~(trees["planted"] > pd.Timestamp(result.on))
    unfit = [tree for tree, since in list_unfit(result.case).items() if since <= result.on]
    standing &= ~trees["tree"].isin(unfit)
    if variety is not None:
        standing &= trees["variety"] == variety
    return trees[standing]
