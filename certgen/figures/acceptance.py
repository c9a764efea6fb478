"""Acceptance plans: how often a lot of a given quality passes a test of n units that allows Ac positives."""

from __future__ import annotations

import math

from certgen.figures.arguments import check_count, check_proportion
from certgen.figures.distributions import beta_quantile, binomial_at_most


def accept_chance(
    units: int,
    allowed: int,
    proportion: float,
    *,
    seeds_per_unit: int = 1,
    sensitivity: float = 1.0,
    specificity: float = 1.0,
) -> float:
    """The chance that at most `allowed` of `units` are found positive, at the given true share of seeds.

    Binomial P(X <= Ac; n, q) with q = Se·P + (1 - Sp)·(1 - P) and P = 1 - (1-p)^m for units of m seeds.
    Plans drawn up with Poisson chances (ISO 2859-1's larger ones, from memory) differ in the last digit.
    """
    _check_plan(units, allowed)
    check_count(seeds_per_unit, "The number of seeds in a unit", least=1)
    check_proportion(proportion, "The proportion")
    check_proportion(sensitivity, "The sensitivity")
    check_proportion(specificity, "The specificity")
    carrying = 1.0 if proportion == 1 else -math.expm1(seeds_per_unit * math.log1p(-proportion))
    return binomial_at_most(allowed, units, sensitivity * carrying + (1 - specificity) * (1 - carrying))


def quality_at(units: int, allowed: int, chance: float, seeds_per_unit: int = 1) -> float:
    """The true share of seeds at which the plan accepts with the given chance, for a perfect test.

    At 0.95 it is the grower's point, at 0.10 the buyer's: the p with P(X <= Ac) = chance.
    """
    _check_plan(units, allowed)
    check_count(seeds_per_unit, "The number of seeds in a unit", least=1)
    check_proportion(chance, "The chance of acceptance", zero=False, one=False)
    if allowed == units:
        raise ValueError("A plan that allows every unit to be positive accepts everything.")
    share = beta_quantile(chance, allowed + 1, units - allowed, upper=True)
    return -math.expm1(math.log1p(-share) / seeds_per_unit)


def _check_plan(units: int, allowed: int) -> None:
    check_count(units, "The number of units", least=1)
    if check_count(allowed, "The number allowed") > units:
        raise ValueError(f"{allowed} positives allowed among {units} units: more than there are.")
