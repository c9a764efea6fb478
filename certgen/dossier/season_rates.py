"""What a season's own records say of its work, as rates to plan with: bags that bear, grams a fruit, days.

The crop's figures of practice stand in where the records have nothing; each rate says which it is.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from certgen.figures.bags_wanted import limit_mean
from certgen.figures.proportions import exact_limits
from certgen.records.rows import look_up, plain_rows, plain_values

if TYPE_CHECKING:
    from collections.abc import Iterable

    from pandas import DataFrame

    from certgen.examination import Result
    from certgen.standards import Practice

BEARING: Final = "bags_bearing_pct"
#: With fewer bags of known fate in this season, those of earlier seasons in reach are taken too.
ENOUGH_BAGS: Final = 20
#: From covering a bud to seed that is tested.
STEPS: Final = ("covering to picking", "picking to dry seed", "germination test")
_KEPT: Final = ("sampled", "retained", "discarded", "downgraded")


@dataclass(frozen=True, slots=True)
class Rate:
    """A rate to plan with: what is usual, what to be cautious with, and what both rest on.

    `cautious` is the one-sided limit at the confidence asked for where the records give one, else the low end
    of practice. `own` says whether it comes from the records.
    """

    usual: float
    cautious: float
    basis: str
    own: bool


@dataclass(frozen=True, slots=True)
class Days:
    """How many days a step takes, from the least to the most, and what that rests on."""

    step: str
    low: int
    high: int
    basis: str


def _say_practice(practice: Practice) -> str:
    """Where a figure of the crop comes from, in words."""
    return f"the crop's {practice.text()}, {practice.mark}: {practice.source[0].lower()}{practice.source[1:]}"


def find_bearing(result: Result, variety: str | None, confidence: float) -> Rate | None:
    """The share of bags whose fruit was picked under a cover that held, of those whose fate is known.

    A bag's fate is known where it was picked, or is written down as dropped or lost. None where neither the
    records nor the crop's profile say anything.
    """
    bags, earlier = _fates(result, variety, own=True), ""
    if len(bags) < ENOUGH_BAGS:
        bags, earlier = _fates(result, variety, own=False), " and of earlier seasons"
    if len(bags):
        bearing = int(bags["bears"].sum())
        found = exact_limits(bearing, len(bags), confidence, sides=1)
        basis = f"{bearing} of {len(bags)} bags of this season{earlier} whose fate is known"
        return Rate(found.estimate, found.low, basis, own=True)
    usual = result.case.practice(BEARING)
    if usual is None or not usual.usual:
        return None
    low = usual.low or usual.usual
    return Rate(usual.usual / 100, low / 100, _say_practice(usual), own=False)


def _fates(result: Result, variety: str | None, *, own: bool) -> DataFrame:
    """Bags that hung by the day and whose fate is known, with `bears`."""
    import pandas as pd

    case = result.case
    bags = case.bags
    bags = bags.assign(bears=bags["picked"] & (case.protection["state"] == "held"))
    known = bags["picked"] | bags["outcome"].isin(["dropped", "lost"])
    known &= bags["covered"] <= pd.Timestamp(result.on)
    if own:
        known &= case.own("bagging")
    if variety is not None:
        known &= bags["variety"] == variety
    return bags[known]


def find_grams_a_fruit(result: Result, variety: str | None, confidence: float) -> Rate | None:
    """Dry seed that a fruit gives, in grams: the mean of the runs, each its seed over its fruit.

    Runs of all seasons in reach, organic ones; runs that share a picking are taken together. With fewer than
    two the low end of practice is the cautious figure.
    """
    runs = list(_weigh_runs(result, variety))
    practice = _practice_grams(result)
    if len(runs) >= 2:
        found = limit_mean(runs, confidence)
        # A mean that runs put near nothing is no figure to plan with.
        low = found.low if found.low > 0 else min(runs)
        return Rate(found.mean, low, f"{len(runs)} runs on record", own=True)
    if len(runs) == 1:
        low = runs[0] if practice is None else min(runs[0], practice.cautious)
        return Rate(runs[0], low, "one run on record, which shows no variation", own=True)
    return practice


def _practice_grams(result: Result) -> Rate | None:
    seeds, weight = (result.case.practice(key) for key in ("seeds_per_fruit", "thousand_seed_weight_g"))
    if seeds is None or weight is None or not seeds.usual or not weight.usual:
        return None
    usual = seeds.usual * weight.usual / 1000
    low = (seeds.low or seeds.usual) * (weight.low or weight.usual) / 1000
    basis = f"the crop's figures, {seeds.text()} a fruit and {weight.text()} a thousand ({seeds.mark})"
    return Rate(usual, low, basis, own=False)


def _weigh_runs(result: Result, variety: str | None) -> Iterable[float]:
    """Grams of dry seed a fruit of each run, or of runs that share pickings."""
    case = result.case
    batches, harvests = case.keyed("batches"), case.keyed("harvests")
    good = batches[(batches["status"] == "organic") & (batches["dry_weight_mg"] > 0)]
    if variety is not None:
        kinds = case.batch_varieties
        counts = kinds.groupby("batch")["variety"].nunique()
        mine = set(kinds["batch"][kinds["variety"] == variety]) & set(counts.index[counts == 1])
        good = good[good["batch"].isin(mine)]
    known: dict[tuple[str, str], int] = {
        **{("batch", name): mass for name, mass in plain_rows(good, "batch", "dry_weight_mg")},
        **{("harvest", name): count for name, count in plain_rows(harvests, "harvest", "fruits") if count},
    }
    for group in _connect(plain_rows(case.processed, "batch", "harvest")):
        # One weight or count that is missing leaves the whole group unknown.
        if group <= known.keys():
            dry = sum(known[one] for one in group if one[0] == "batch")
            yield dry / 1000 / sum(known[one] for one in group if one[0] == "harvest")


def _connect(pairs: Iterable[tuple[Any, ...]]) -> list[set[tuple[str, str]]]:
    """Batches and pickings that hang together, each group a set of ("batch" or "harvest", name)."""
    group_of: dict[tuple[str, str], set[tuple[str, str]]] = {}
    for batch, harvest in pairs:
        one, other = ("batch", batch), ("harvest", harvest)
        joined = group_of.get(one, {one}) | group_of.get(other, {other})
        for member in joined:
            group_of[member] = joined
    return list({id(group): group for group in group_of.values()}.values())


def find_left_to_sell(result: Result, variety: str | None) -> Rate | None:
    """The share of dry seed that is left to sell: packed, and not sampled, retained, discarded or downgraded.

    Of this season's lots and the batches they were packed from; None where it has none. It has no limits.
    """
    lots = result.season.table("lots")
    if variety is not None:
        lots = lots[lots["variety"] == variety]
    weighed = dict(plain_rows(lots[lots["weight_mg"] > 0], "lot", "weight_mg"))
    packed = sum(weighed.values())
    if not packed:
        return None
    moves = result.season.table("movements")
    gone = moves[moves["lot"].isin(list(weighed)) & moves["kind"].isin(_KEPT)]
    kept = sum(mass for mass in plain_values(gone["weight_mg"]) if mass)
    batches = result.season.table("batches")
    used = set(plain_values(result.case.packed["batch"][result.case.packed["lot"].isin(list(weighed))]))
    mine = batches[batches["batch"].isin(used - {None})]
    lost = sum(mass for mass in plain_values(mine["never_packed.weight_mg"]) if mass)
    share = max(0.0, 1 - (kept + lost) / (packed + lost))
    return Rate(share, share, f"what this season's {len(weighed)} lots kept back or lost", own=True)


def find_bags_a_tree(result: Result, variety: str | None) -> tuple[float, int] | None:
    """Bags on each tree that this season bagged, on average, and how many such trees; None without any."""
    bags = result.case.bags[result.case.own("bagging")]
    if variety is not None:
        bags = bags[bags["variety"] == variety]
    trees = bags["tree"].dropna().nunique()
    return (len(bags[bags["tree"].notna()]) / trees, int(trees)) if trees else None


def list_days(result: Result) -> tuple[Days, ...]:
    """The steps from covering a bud to tested seed, each with its days; one without any is left out.

    Covering to picking, and picking to dry seed, as the records in reach had them; else as the crop's figures
    say. The germination test as the crop's figures say.
    """
    case = result.case
    picked = case.picked
    hanging, drying, testing = STEPS
    hung = _span(hanging, picked["date"] - picked["covered"])
    batches = case.processed.assign(
        dry=look_up(case.processed["batch_row"], case.season.table("batches")["drying.to"])
    )
    dried = _span(drying, batches["dry"] - batches["harvest_date"])
    days = [
        hung or _practice_days(result, hanging, ["days_covering_to_picking"]),
        dried or _practice_days(result, drying, ["days_picking_to_extraction", _slowest_drying(result)]),
        _practice_days(result, testing, ["germination_final_count_days"]),
    ]
    return tuple(step for step in days if step is not None)


def _span(step: str, took: Any) -> Days | None:
    days = [one for one in took.dt.days.tolist() if not math.isnan(one) and one > 0]
    if not days:
        return None
    return Days(step, int(min(days)), int(max(days)), f"{len(days)} on record")


def _slowest_drying(result: Result) -> str:
    """The drying method that may take longest, by its figure of practice."""
    found = [
        (practice.high or 0, key)
        for key, practice in result.profile.practice.items()
        if key.startswith("drying_days_")
    ]
    return max(found)[1] if found else ""


def _practice_days(result: Result, step: str, keys: list[str]) -> Days | None:
    figures = [result.case.practice(key) for key in keys if key]
    known = [one for one in figures if one is not None and one.high is not None]
    if not known:
        return None
    low, high = sum(one.low or 0 for one in known), sum(one.high or 0 for one in known)
    marks = ", ".join(dict.fromkeys(one.mark for one in known))
    return Days(step, math.floor(low), math.ceil(high), f"the crop's figures ({marks})")
