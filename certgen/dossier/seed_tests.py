"""What each test of a lot says, computed from what the laboratory or the grower counted and weighed.

A test for transgenes is planned: how many pools of how many seeds, and what it uses up.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Any, Final, TypeGuard

import numpy as np

from certgen.figures.arguments import exact
from certgen.figures.germination import ReplicateVerdict, compare_replicates, limit_germination
from certgen.figures.ledger import stock_on
from certgen.figures.moisture import MoistureResult, compare_duplicates
from certgen.figures.pools import (
    PoolEstimate,
    bound_after_none,
    count_pools,
    detection_confidence,
    estimate_share,
    largest_pool,
    plan_cost,
)
from certgen.figures.purity import Purity, find_purity
from certgen.figures.sampling import count_tests
from certgen.figures.seed_weight import SeedWeight, weigh_thousand
from certgen.figures.validity import age_in_months, last_ship_day
from certgen.lineage import Node
from certgen.records.quantities import grams
from certgen.records.rows import plain_rows
from certgen.rules.seed.assays import Assay, find_limit, judge_assay
from certgen.rules.wording import count, name

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import date

    from certgen.examination import Result
    from certgen.figures.proportions import Limits
    from certgen.records.columns import Array

BOUND_CONFIDENCE: Final = 0.95
"""One-sided: that of the bound after no positive pool."""
_VOID: Final = ("failed", "not run")
#: Gaps that say what the assay's own doubts say; and a find, which is no objection.
_TOLD_ALREADY: Final = ("lot-test-void", "lot-transgene-positive", "transgene-in-kin")


@dataclass(frozen=True, slots=True)
class Germination:
    """Replicates' verdict, the exact interval of the germination, and how long the test holds.

    `months` is the age in full months on the day of the examination; `ship_by` the last day that the
    benchmark seed law would let seed be shipped on it, None where no such rulebook was asked for.
    """

    verdict: ReplicateVerdict
    limits: Limits
    seeds: int
    months: int
    ship_by: date | None


@dataclass(frozen=True, slots=True)
class Moisture:
    """The moisture in per cent of wet weight; `repeats` where two weighings were recorded."""

    percent: float
    repeats: MoistureResult | None


@dataclass(frozen=True, slots=True)
class Transgene:
    """A pooled test of seed: the estimate, and the bound after none was found (one-sided, BOUND_CONFIDENCE).

    `assay` is what the test can bear by its own record. `reasons` say why no share of the seed may be told of
    it, in words that follow a colon; there is no bound then, nor where a pool was positive.
    """

    estimate: PoolEstimate
    bound: float | None
    targets: tuple[str, ...]
    assay: Assay
    reasons: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SeedTest:
    """One test with what was computed of it; where nothing could be, `fault` says why."""

    test: str
    lot: str
    day: date
    kind: str
    laboratory: str
    report: str
    figure: Germination | Moisture | Purity | SeedWeight | Transgene | None
    fault: str = ""


def compute_tests(result: Result) -> tuple[SeedTest, ...]:
    """Every test of the season with its figure, in the order of the records."""
    months = [
        int(demand.value) for _, demand in result.case.demand("ship_by_months") if _is_number(demand.value)
    ]
    ship_months = min(months, default=None)
    found = []
    frame = result.season.table("tests")
    for row in range(len(frame)):
        record = result.season.record_at("tests", row)
        figure: Any = None
        fault = ""
        try:
            figure = _compute(record, row, result, ship_months)
        except ValueError as error:
            fault = str(error)
        found.append(
            SeedTest(
                record["test"],
                record.get("lot", ""),
                record["date"],
                record["kind"],
                record.get("laboratory", ""),
                record.get("report", ""),
                figure,
                fault,
            )
        )
    return tuple(found)


def _compute(record: dict[str, Any], row: int, result: Result, ship_months: int | None) -> Any:
    kind = record["kind"]
    frame: Any = result.season.table("tests")
    if kind == "germination":
        each = int(record["per_replicate"])
        counts = record["replicates"]
        day = record["date"]
        return Germination(
            compare_replicates(counts, each),
            limit_germination(counts, each),
            each * len(counts),
            age_in_months(day, result.on) if result.on >= day else 0,
            last_ship_day(day, ship_months) if ship_months is not None else None,
        )
    if kind == "moisture":
        return _moisture(frame, row)
    if kind == "purity":
        pure, other, inert = (frame[f"{part}_mg"].iat[row] for part in ("pure", "other", "inert"))
        return find_purity(pure=grams(pure), other=grams(other), inert=grams(inert))
    if kind == "seed weight":
        return weigh_thousand([grams(mass) for mass in frame["hundred_seed_weights_mg"].iat[row]])
    return _transgene(record, result)


def _transgene(record: dict[str, Any], result: Result) -> Transgene:
    pools, seeds, positive = (int(record[name]) for name in ("pools", "seeds_per_pool", "positive_pools"))
    estimate, assay = estimate_share(pools, seeds, positive), judge_assay(result.case, record)
    reasons = (*assay.doubts, *_list_objections(record, result))
    bound = bound_after_none(pools, seeds, BOUND_CONFIDENCE) if positive == 0 and not reasons else None
    return Transgene(estimate, bound, assay.targets, assay, reasons)


def _list_objections(record: dict[str, Any], result: Result) -> Iterator[str]:
    """What speaks against a test beside its own record: gaps that stand at it, and tests that found some."""
    node = Node("tests", record["test"])
    for number in result.numbers_of(node):
        gap = result.gap(number)
        if gap.weight != "advice" and gap.rule not in _TOLD_ALREADY:
            yield f"gap {number} stands against it"
    tests = result.season.table("tests")
    found = (
        (tests["lot"] == record.get("lot", ""))
        & (tests["positive_pools"] > 0)
        & ~tests["controls"].isin(_VOID)
    )
    others = [
        test for (test,) in plain_rows(tests[found.fillna(value=False)], "test") if test != record["test"]
    ]
    if others:
        yield f"{name('tests', others)} of the same lot found some"


def _moisture(frame: Any, row: int) -> Moisture:
    weighings = [
        (grams(one["container_mg"]), grams(one["before_mg"]), grams(one["after_mg"]))
        for one in frame["weighings"].iat[row]
        if {"container_mg", "before_mg", "after_mg"} <= set(one)
    ]
    repeats = compare_duplicates(weighings[0], weighings[1]) if len(weighings) >= 2 else None
    stated = float(frame["moisture_pct"].iat[row])
    if not math.isnan(stated):
        return Moisture(stated, repeats)
    if repeats is None:
        raise ValueError("Neither a moisture nor two weighings are recorded.")
    return Moisture(repeats.mean, repeats)


def _is_number(value: object) -> TypeGuard[int | float]:
    return isinstance(value, (int, float))


@dataclass(frozen=True, slots=True)
class SeedPlan:
    """A plan and its cost. Shares, confidences and the sensitivity of one pool's test run from 0 to 1.

    `reached` is the chance of at least one positive pool if the share is as `detect` says; `bound` what no
    positive pool would leave possible at the confidence, one-sided (None if nothing). `largest_pool` is what
    the assay's detection `limit` allows. `thousand_g` is the thousand-seed weight, `weight_source` where it
    comes from. `stock_mg` is the lot's stock on the day, `share_of_stock` the part that the test uses up,
    above 1 if there isn't enough.
    """

    lot: str
    detect: float
    confidence: float
    sensitivity: float
    limit: float
    limit_source: str
    largest_pool: int
    pools: int
    seeds_per_pool: int
    reached: float
    bound: float | None
    thousand_g: float
    weight_source: str
    cost_g: float
    stock_mg: int
    share_of_stock: float | None

    @property
    def seeds(self) -> int:
        """Seeds that the test uses up."""
        return self.pools * self.seeds_per_pool


def plan_seed_test(
    result: Result,
    lot: str,
    detect: float,
    *,
    confidence: float = 0.95,
    limit: float | None = None,
    sensitivity: float = 1.0,
    pool: int | None = None,
) -> SeedPlan:
    """The cheapest plan of equal pools that finds a share of `detect` or more with the confidence.

    Pools are as large as the assay's detection limit allows (or `pool`), so that there are few to test; then
    as small as that number of pools allows, so that little seed is used up. `limit` None takes the limit of
    the lot's newest test, else the crop's figure. Raises KeyError for a lot that isn't known, ValueError for
    a share that cannot be tested for, a pool beyond the assay's limit, or a lot whose seeds have no weight.
    """
    held = {str(name): int(mass) for name, mass in stock_on(result.ledger, result.on).items()}
    if lot not in result.lots and lot not in held:
        raise KeyError(lot)
    known, limit_source = (exact(limit), "as given") if limit is not None else _find_limit(result, lot)
    largest = largest_pool(known)
    if pool is not None and not 1 <= pool <= largest:
        raise ValueError(
            f"In a pool of {count(pool, 'seed')} the assay misses one: it finds one seed among {largest} at"
            " most."
        )
    size = pool or min(largest, count_tests(detect, confidence))
    pools = count_pools(detect, size, confidence, sensitivity)
    if pool is None:
        size = _shrink(size, pools, detect, confidence, sensitivity)
    thousand, source = _weigh_thousand(result, lot)
    stock = held.get(lot, 0)
    cost = plan_cost(pools, size, thousand, stock / 1000 if stock > 0 else None)
    return SeedPlan(
        lot=lot,
        detect=detect,
        confidence=confidence,
        sensitivity=sensitivity,
        limit=float(known),
        limit_source=limit_source,
        largest_pool=largest,
        pools=pools,
        seeds_per_pool=size,
        reached=detection_confidence(pools, size, detect, sensitivity),
        bound=bound_after_none(pools, size, confidence, sensitivity),
        thousand_g=thousand,
        weight_source=source,
        cost_g=float(cost.grams),
        stock_mg=stock,
        share_of_stock=cost.share_of_lot,
    )


def _shrink(size: int, pools: int, detect: float, confidence: float, sensitivity: float) -> int:
    """The smallest pool with which as many pools still suffice: the chance rises with the pool's size."""
    low, high = 0, size
    while high - low > 1:
        middle = (low + high) // 2
        if count_pools(detect, middle, confidence, sensitivity) <= pools:
            high = middle
        else:
            low = middle
    return high


def _find_limit(result: Result, lot: str) -> tuple[Fraction, str]:
    """The detection limit that the lot's newest test with one states, else the crop's figure."""
    told = result.season.columns("tests")["detection_limit_pct"] > 0
    for row in _list_newest(result, lot, "transgene").tolist():
        if not told[row]:
            continue
        known, source = find_limit(result.case, result.season.record_at("tests", row))
        if known is not None:
            return known, source
    known, source = find_limit(result.case, {})
    if known is None:
        raise ValueError("No detection limit of the assay is known: give one.")
    return known, source


def _list_newest(result: Result, lot: str, kind: str) -> Array:
    """The rows of a lot's tests of a kind, the newest first; of one day the last on record."""
    tests = result.season.columns("tests")
    rows = np.flatnonzero((tests["lot"] == lot) & (tests["kind"] == kind))
    return rows[np.argsort(tests["date"][rows], kind="stable")][::-1]


def _weigh_thousand(result: Result, lot: str) -> tuple[float, str]:
    tests = result.season.columns("tests")
    rows = _list_newest(result, lot, "seed weight")
    for test, weights in zip(
        tests.values("test", rows), tests.values("hundred_seed_weights_mg", rows), strict=True
    ):
        if weights and len(weights) > 1:
            return weigh_thousand([grams(mass) for mass in weights]).thousand_seeds, f"test {test}"
    usual = result.case.practice("thousand_seed_weight_g")
    if usual is None:
        raise ValueError(f"No weight of a thousand seeds is known for lot {lot}.")
    figure = usual.usual if usual.usual is not None else _middle(usual.low, usual.high)
    return figure, f"the crop's figure: {usual.source[0].lower()}{usual.source[1:]} ({usual.mark})"


def _middle(low: float | None, high: float | None) -> float:
    known = [bound for bound in (low, high) if bound is not None]
    return math.fsum(known) / len(known)
