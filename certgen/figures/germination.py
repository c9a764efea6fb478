"""Germination tests: do the replicates agree, does the result meet a label or another test."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Literal

from certgen.figures.arguments import Number, check_count, check_proportion, exact
from certgen.figures.distributions import binomial_chances, range_quantile, round_half_up
from certgen.figures.proportions import Limits, exact_limits
from certgen.figures.tables.germination import (
    LABEL_TOLERANCE,
    LABEL_TOLERANCE_SEEDS,
    MIXTURE_ALLOWANCE,
    TWO_TESTS,
)
from certgen.figures.tables.replicate_range import RANGE_BY_REPLICATES, SEEDS_PER_REPLICATE
from certgen.records.nouns import count

if TYPE_CHECKING:
    from collections.abc import Sequence

Basis = Literal["table", "formula", "no cell"]
_CLOSE = 0.025

MOST_IN_REPLICATE = 10_000
"""The most seeds of one replicate that are reckoned with: nobody counts more seedlings than that."""
_MOST_REPLICATES = 1_000


@dataclass(frozen=True, slots=True)
class ReplicateRange:
    """How far the replicates of one test lie apart, and whether chance lets them; in per cent of seeds.

    `basis` is `table` (7 CFR 201.55, 100 seeds a replicate, two or four of them), `formula` (another
    design: no published table) or `no cell` (the table is blank at this mean, and the replicates pass).
    `limit` is None where there is no cell.
    """

    mean: float
    rounded_mean: int
    range: float
    limit: float | None
    basis: Basis
    passes: bool


@dataclass(frozen=True, slots=True)
class ReplicateVerdict(ReplicateRange):
    """The range of the replicates of one test, and how likely it is.

    `chance` is that of a range at least as wide, if the replicates were random samples. `unusually_close`
    says that one as narrow has a chance below 2.5 %: worth a look at how they were counted.
    """

    chance: float
    unusually_close: bool


def compare_range(normal: Sequence[int], per_replicate: int = 100) -> ReplicateRange:
    """The range of one test's replicates, from the count of normal seedlings in each.

    The range (highest less lowest) is compared with 7 CFR 201.55's cell at the mean rounded half up, or, off
    the table, against formula_range. Raises ValueError for fewer than two replicates or a count above
    `per_replicate`.
    """
    seeds = _check_replicate(per_replicate)
    counts = [check_count(count, "A replicate") for count in normal]
    check_count(len(counts), "The number of replicates", most=_MOST_REPLICATES)
    if len(counts) < 2:
        raise ValueError("One replicate alone cannot be compared: give at least two.")
    if max(counts) > seeds:
        most = count(max(counts), "normal seedling")
        raise ValueError(f"A replicate of {count(seeds, 'seed')} cannot hold {most}.")
    mean = Fraction(100 * sum(counts), seeds * len(counts))
    rounded, width = int(round_half_up(mean)), Fraction(100 * (max(counts) - min(counts)), seeds)
    limit, basis = range_limit(mean, len(counts), seeds)
    passes = limit is None or width <= exact(limit)
    return ReplicateRange(float(mean), rounded, float(width), limit, basis, passes)


def compare_replicates(normal: Sequence[int], per_replicate: int = 100) -> ReplicateVerdict:
    """The range of one test's replicates as `compare_range` gives it, with its chance."""
    found = compare_range(normal, per_replicate)
    spread, share = int(max(normal)) - int(min(normal)), found.mean / 100
    narrower = range_chance(spread, len(normal), per_replicate, share)
    wider = 1 - range_chance(spread - 1, len(normal), per_replicate, share) if spread else 1.0
    return ReplicateVerdict(
        found.mean,
        found.rounded_mean,
        found.range,
        found.limit,
        found.basis,
        found.passes,
        max(0.0, wider),
        narrower < _CLOSE,
    )


def range_limit(mean: Number, replicates: int, per_replicate: int = 100) -> tuple[float | None, Basis]:
    """The widest range allowed at a mean in per cent, and its basis: table, formula, or no cell (None).

    Raises ValueError for a mean outside 0 to 100 %, or a design that formula_range refuses.
    """
    share, per_replicate = _percentage(mean), _check_replicate(per_replicate)
    replicates = check_count(replicates, "The number of replicates", least=2, most=_MOST_REPLICATES)
    if per_replicate == SEEDS_PER_REPLICATE and replicates in RANGE_BY_REPLICATES:
        cell = RANGE_BY_REPLICATES[replicates].get(int(round_half_up(share)))
        return (None, "no cell") if cell is None else (float(cell), "table")
    return formula_range(float(share), replicates, per_replicate), "formula"


def formula_range(mean: float, replicates: int, per_replicate: int) -> float:
    """The range that chance exceeds in 2.5 % of tests, in points: q·sqrt(P(100 - P)/r).

    q is the 97.5 % point of the studentised range with infinite degrees of freedom (3.984 for four
    replicates). It lies behind the published table, within about a point, but is none: to be shown as
    'formula, not a published table'.
    """
    points = float(_percentage(mean))
    check_count(replicates, "The number of replicates", least=2, most=_MOST_REPLICATES)
    _check_replicate(per_replicate)
    return range_quantile(0.975, replicates) * math.sqrt(points * (100 - points) / per_replicate)


def _check_replicate(per_replicate: int) -> int:
    return check_count(per_replicate, "The number of seeds in a replicate", least=1, most=MOST_IN_REPLICATE)


def range_chance(spread: int, replicates: int, per_replicate: int, share: float) -> float:
    """The exact chance that the counts of binomial replicates lie no further apart than `spread` seeds.

    Sum over the lowest count x of [F(x+s) - F(x-1)]^k - [F(x+s) - F(x)]^k. Order statistics, standard.
    """
    spread = check_count(spread, "The spread")
    replicates = check_count(replicates, "The number of replicates", least=1, most=_MOST_REPLICATES)
    per_replicate = _check_replicate(per_replicate)
    chances = binomial_chances(per_replicate, check_proportion(share, "The share"))
    total, window = 0.0, math.fsum(chances[: spread + 1])
    for lowest, chance in enumerate(chances):
        above = max(0.0, window - chance)
        total += window**replicates - above**replicates
        following = lowest + spread + 1
        window = above + (chances[following] if following <= per_replicate else 0.0)
    return min(1.0, total)


def limit_germination(normal: Sequence[int], per_replicate: int = 100, confidence: float = 0.95) -> Limits:
    """The estimate with its exact limits, as shares, from the replicates taken together; two-sided.

    It holds the chance of drawing these seeds and no more: not the differences between laboratories or days.
    280 of 400 are 70 %, 65.2 to 74.5 % at 95 %. Clopper-Pearson, as in exact_limits.
    """
    seeds = _check_replicate(per_replicate)
    return exact_limits(
        sum(check_count(count, "A replicate") for count in normal), seeds * len(normal), confidence
    )


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two germination figures side by side, in per cent and points.

    `tolerance` is None where the table has no cell at that mean, and `within` is then whether the two are
    equal. `applies` is False where fewer seeds were tested than the table is for.
    """

    mean: float
    difference: float
    tolerance: int | None
    within: bool
    applies: bool


def label_tolerance(mean: Number, *, mixture_of_200: bool = False) -> int:
    """Points that a test may differ from the label or standard, by the mean of the two figures.

    Source: 7 CFR 201.63, for 400 seeds or more; two more points where a mixture's component had 200 seeds
    only.
    """
    value = _percentage(mean)
    cell = next(cell for least, cell in LABEL_TOLERANCE if value >= least)
    return cell + (MIXTURE_ALLOWANCE if mixture_of_200 else 0)


def compare_with_label(
    labelled: Number, found: Number, seeds: int = LABEL_TOLERANCE_SEEDS, *, mixture_of_200: bool = False
) -> Comparison:
    """Whether a result lies within tolerance of a label or standard, at their mean (7 CFR 201.59, .63)."""
    first, second = _percentage(labelled), _percentage(found)
    mean, difference = (first + second) / 2, abs(first - second)
    tolerance = label_tolerance(mean, mixture_of_200=mixture_of_200)
    enough = LABEL_TOLERANCE_SEEDS // 2 if mixture_of_200 else LABEL_TOLERANCE_SEEDS
    return Comparison(
        float(mean),
        float(difference),
        tolerance,
        difference <= tolerance,
        check_count(seeds, "The number of seeds") >= enough,
    )


def compare_tests(
    first: Number, second: Number, table: str = "between laboratories", seeds: int = LABEL_TOLERANCE_SEEDS
) -> Comparison:
    """Whether two tests of the same seed agree, at their mean rounded half up.

    `table` is `between laboratories` (Louisiana Administrative Code 7 §XIII-139) or `same laboratory`
    (ISTA, from memory); the page must say which. Raises ValueError for another.
    """
    if table not in TWO_TESTS:
        raise ValueError(f"There is no table '{table}' for two tests; there are {', '.join(TWO_TESTS)}.")
    one, other = _percentage(first), _percentage(second)
    mean, difference = (one + other) / 2, abs(one - other)
    tolerance = TWO_TESTS[table].get(int(round_half_up(mean)))
    within = difference == 0 if tolerance is None else difference <= tolerance
    return Comparison(
        float(mean),
        float(difference),
        tolerance,
        within,
        check_count(seeds, "The number of seeds") >= LABEL_TOLERANCE_SEEDS,
    )


def _percentage(value: Number) -> Fraction:
    percent = exact(value)
    if not 0 <= percent <= 100:
        raise ValueError(f"A germination figure must lie between 0 % and 100 %, and is {value} %.")
    return percent
