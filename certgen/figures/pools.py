"""Seed tested in pools: what positive pools say about single seeds, and what a plan finds and costs."""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING

from certgen.figures.arguments import (
    Number,
    check_count,
    check_mass,
    check_positives,
    check_proportion,
    exact,
)
from certgen.figures.proportions import exact_limits, tail
from certgen.figures.sampling import count_trials

if TYPE_CHECKING:
    from fractions import Fraction

_LEAST_LIMIT = 10**-9


@dataclass(frozen=True, slots=True)
class PoolEstimate:
    """The share of single seeds that carry the trait, judged from pools; all shares between 0 and 1.

    `estimate`, `bias_reduced` and `standard_error` are None where every pool was positive: the share then
    has a lower limit only (`high` is 1). `standard_error` is also None where no pool was.
    """

    pools: int
    seeds_per_pool: int
    positive: int
    estimate: float | None
    bias_reduced: float | None
    standard_error: float | None
    low: float
    high: float
    confidence: float

    @property
    def only_lower_limit(self) -> bool:
        """Whether every pool was positive, so that the pools say 'at least' and no more."""
        return self.estimate is None


def _seed_share(pool_share: float, seeds_per_pool: int) -> float:
    """The share of seeds at which a pool is positive with the given chance: 1 - (1 - P)^(1/m)."""
    return 1.0 if pool_share >= 1 else -math.expm1(math.log1p(-pool_share) / seeds_per_pool)


def _pool_share(proportion: float, seeds_per_pool: int) -> float:
    """The chance that a pool holds at least one such seed: 1 - (1 - p)^m."""
    return 1.0 if proportion >= 1 else -math.expm1(seeds_per_pool * math.log1p(-proportion))


def estimate_share(pools: int, seeds_per_pool: int, positive: int, confidence: float = 0.95) -> PoolEstimate:
    """The estimate with its exact limits, for equal pools and a perfect test.

    Estimate 1 - (1 - k/n)^(1/m); limits: Clopper-Pearson's for k of n pools, put through the same formula;
    variance (1 - (1-p)^m) / (n·m²·(1-p)^(m-2)); bias-reduced (Burrows 1987, formula from memory)
    1 - (1 - k/(n+b))^(1/m) with b = (m-1)/(2m). Two-sided.
    """
    positive, pools = check_positives(positive, pools)
    m = check_count(seeds_per_pool, "The number of seeds in a pool", least=1)
    limits = exact_limits(positive, pools, confidence)
    low, high = _seed_share(limits.low, m), _seed_share(limits.high, m)
    if positive == pools and m > 1:
        return PoolEstimate(pools, m, positive, None, None, None, low, 1.0, confidence)
    share = _seed_share(positive / pools, m)
    reduced = _seed_share(positive / (pools + (m - 1) / (2 * m)), m)
    error = None
    if 0 < positive < pools:
        spread = math.exp((m - 2) * math.log1p(-share))
        error = math.sqrt(_pool_share(share, m) / (pools * m * m * spread))
    return PoolEstimate(pools, m, positive, share, reduced, error, low, high, confidence)


def count_pools(
    proportion: float, seeds_per_pool: int, confidence: float = 0.95, sensitivity: float = 1.0
) -> int:
    """Pools needed to find at least one positive with the given confidence.

    ceil(ln(1 - c) / ln(1 - Se·(1 - (1-p)^m))), `sensitivity` being that of one pool's test. Binomial,
    standard. Raises ValueError if so many cannot be counted.
    """
    proportion = check_proportion(proportion, "The proportion to find", zero=False)
    sensitivity = check_proportion(sensitivity, "The sensitivity", zero=False)
    seeds_per_pool = check_count(seeds_per_pool, "The number of seeds in a pool", least=1)
    return count_trials(sensitivity * _pool_share(proportion, seeds_per_pool), confidence)


def detection_confidence(
    pools: int, seeds_per_pool: int, proportion: float, sensitivity: float = 1.0
) -> float:
    """The chance that at least one of the pools is found positive: 1 - (1 - Se·(1 - (1-p)^m))^n."""
    pools = check_count(pools, "The number of pools")
    seeds_per_pool = check_count(seeds_per_pool, "The number of seeds in a pool", least=1)
    proportion = check_proportion(proportion, "The proportion")
    found = check_proportion(sensitivity, "The sensitivity") * _pool_share(proportion, seeds_per_pool)
    if found >= 1:
        return 1.0 if pools else 0.0
    return -math.expm1(pools * math.log1p(-found))


def bound_after_none(
    pools: int, seeds_per_pool: int, confidence: float = 0.95, sensitivity: float = 1.0
) -> float | None:
    """The largest share consistent with no positive pool, one-sided; None if the test bounds nothing.

    The p at which detection_confidence reaches the confidence: 1 - (1 - (1 - α^(1/n))/Se)^(1/m). With a
    perfect test it is the bound after n·m single seeds. Raises ValueError for a confidence below 0.5.
    """
    pools = check_count(pools, "The number of pools", least=1)
    seeds_per_pool = check_count(seeds_per_pool, "The number of seeds in a pool", least=1)
    sensitivity = check_proportion(sensitivity, "The sensitivity", zero=False)
    pool_share = -math.expm1(math.log(tail(confidence)) / pools) / sensitivity
    return _seed_share(pool_share, seeds_per_pool) if pool_share < 1 else None


def largest_pool(detection_limit: Number) -> int:
    """The most seeds a pool may hold for one transgenic seed in it to stay above the assay's detection limit.

    floor(1 / limit), the limit as a share of seeds: 0.4 % found reliable on real papaya seed mixtures gives
    250 (BMC Biotechnology 2013, 13:69). By DNA the share is lower still, as maternal seed coat dilutes it.
    """
    limit = exact(detection_limit)
    if not 0 < limit <= 1:
        raise ValueError(f"The detection limit must lie above 0 and up to 1, and is {float(limit):g}.")
    if limit < _LEAST_LIMIT:
        raise ValueError("No assay finds one seed among more than a thousand million.")
    return math.floor(1 / limit)


@dataclass(frozen=True, slots=True)
class PlanCost:
    """What a destructive plan uses up: seeds, grams, and the share of the lot (0 to 1) if that is known."""

    seeds: int
    grams: Decimal
    share_of_lot: float | None


def plan_cost(
    pools: int, seeds_per_pool: int, thousand_seed_grams: Number, lot_grams: Number | None = None
) -> PlanCost:
    """Seeds and grams that a plan of pools uses up: n·m seeds, n·m·TSW/1000 grams.

    3,000 seeds at 16 g a thousand are 48 g.
    """
    in_all = check_count(pools, "The number of pools") * check_count(
        seeds_per_pool, "The number of seeds in a pool"
    )
    seeds = check_count(in_all, "The number of seeds in all")
    grams = seeds * check_mass(thousand_seed_grams, "The thousand-seed weight") / 1000
    share = None if lot_grams is None else float(grams / check_mass(lot_grams, "The lot's weight"))
    return PlanCost(seeds, _decimal(grams), share)


def _decimal(value: Fraction) -> Decimal:
    return Decimal(value.numerator) / Decimal(value.denominator)
