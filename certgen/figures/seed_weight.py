"""Thousand-seed weight from replicates of a hundred seeds."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from certgen.figures.arguments import Number, check_count, check_mass

LIMIT = 4.0
LIMIT_CHAFFY = 6.0
REPLICATES = 8


@dataclass(frozen=True, slots=True)
class SeedWeight:
    """The result: weights in grams, `variance` in grams squared, coefficient of variation `cv` in per cent.

    `passes` is None where fewer than eight replicates were weighed: the rule speaks of eight. `dropped` are
    the positions (from 0) of replicates that lay beyond two standard deviations and were left out of the
    mean.
    """

    replicates: int
    mean: float
    variance: float
    cv: float
    thousand_seeds: float
    seeds_per_gram: float
    limit: float
    passes: bool | None
    dropped: tuple[int, ...]


def weigh_thousand(weights: Sequence[Number], seeds_each: int = 100, *, chaffy: bool = False) -> SeedWeight:
    """The thousand-seed weight from replicates in grams.

    s² = (nΣx² - (Σx)²) / (n(n-1)), CV = 100·s/x̄, TSW = 1000·x̄/seeds a replicate (10·x̄ for a hundred). It
    holds if CV <= 4.0 (chaffy seed 6.0); else eight more are weighed and, of the sixteen, those beyond 2 s
    are dropped and the mean of the rest counts (ISTA, from memory). Raises ValueError for fewer than two
    replicates.
    """
    masses = [check_mass(weight, "A replicate") for weight in weights]
    seeds = check_count(seeds_each, "The number of seeds in a replicate", least=1)
    if len(masses) < 2:
        raise ValueError(
            "One replicate alone shows no variation: weigh at least two, and eight for the rule."
        )
    limit = LIMIT_CHAFFY if chaffy else LIMIT
    mean, variance, cv = _spread(masses)
    dropped: tuple[int, ...] = ()
    passes: bool | None = cv <= limit if len(masses) >= REPLICATES else None
    if len(masses) >= 2 * REPLICATES:
        dropped = tuple(i for i, mass in enumerate(masses) if (mass - mean) ** 2 > 4 * variance)
        mean = Fraction(
            sum(mass for i, mass in enumerate(masses) if i not in dropped), len(masses) - len(dropped)
        )
        passes = True
    return SeedWeight(
        replicates=len(masses),
        mean=float(mean),
        variance=float(variance),
        cv=cv,
        thousand_seeds=float(mean * 1000 / seeds),
        seeds_per_gram=float(seeds / mean),
        limit=limit,
        passes=passes,
        dropped=dropped,
    )


def _spread(masses: list[Fraction]) -> tuple[Fraction, Fraction, float]:
    count, total = len(masses), sum(masses, start=Fraction(0))
    variance = (count * sum(mass**2 for mass in masses) - total**2) / (count * (count - 1))
    mean = total / count
    return mean, variance, 100 * math.sqrt(variance / mean**2)
