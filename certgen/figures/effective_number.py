"""How many parents to take so that a lot has an effective number of them, as parents give unequally.

The effective number itself, 1/Σp², is `parents.count_effective`. What is here turns it round: from the spread
of what parents gave to the number to take. For seed that is selfed it is a note on diversity, no verdict.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from fractions import Fraction

from certgen.figures.arguments import (
    MOST_COUNTED,
    Number,
    as_float,
    check_count,
    check_proportion,
    exact,
)
from certgen.figures.bags_wanted import LEAST_SET
from certgen.figures.parents import count_effective

MOST_SPREAD = 1_000_000
"""The largest spread that is computed with: of a million parents one gave all."""
_LEAST_MEAN = 1e-9


def spread_shares(shares: Mapping[str, Number] | Iterable[Number]) -> float:
    """The relative variance of what the parents gave: n·Σp² - 1, the squared coefficient of variation.

    Over all n parents that gave something, dividing by n. Zero where all gave the same. Standard.
    """
    values = list(shares.values() if isinstance(shares, Mapping) else shares)
    given = [value for value in values if value]
    # Nothing is lost by the float: the effective number is exact until its last step.
    return max(0.0, len(given) / count_effective(given) - 1)


def effective_of(parents: int, spread: float) -> float:
    """The effective number of n parents whose gifts spread so: n / (1 + C). The same as 1/Σp². Standard."""
    return check_count(parents, "The number of parents", least=1) / (1 + _check_spread(spread))


def count_parents(effective: Number, spread: float) -> int:
    """The fewest parents with that effective number, if they give as unequally as `spread` says.

    ceil(N·(1 + C)). Equal parents: N itself. Raises ValueError for an effective number below one.
    """
    wanted = exact(effective)
    if not 1 <= wanted <= MOST_COUNTED:
        raise ValueError(f"An effective number lies from 1 to {MOST_COUNTED:,}.")
    needed = wanted * (1 + Fraction(_check_spread(spread)))
    return math.ceil(needed * (1 - Fraction(1, 10**12)))


def family_variance(mean: float, spread: float) -> float:
    """The variance in family size that goes with a spread of the parents' gifts: k̄ + k̄²·C.

    Families drawn at random (Poisson) from parents that give unequally: chance adds the mean, the spread the
    rest. With a mean of two and no spread it is two. Standard (law of total variance).
    """
    mean = _check_mean(mean)
    return mean + mean * mean * _check_spread(spread)


def effective_by_families(parents: int, mean: float, variance: float) -> float:
    """The variance effective number of n parents by their family sizes: (n·k̄ - 1) / (k̄ - 1 + V/k̄).

    Family size counts the gametes a parent gives to the next generation. With a mean of two it is
    (4n - 2) / (V + 2). Sources: Wright 1938, Kimura and Crow 1963 (both from memory), for parents that may
    self at random. Raises ValueError where nothing varies and the mean is one, which has no figure.
    """
    parents = check_count(parents, "The number of parents", least=1)
    mean, variance = _check_mean(mean), as_float(variance)
    if not 0 <= variance <= MOST_COUNTED:
        raise ValueError("The variance of family sizes must be 0 or more, and a number that can be counted.")
    below = mean - 1 + variance / mean
    above = parents * mean - 1
    if below <= 0 or above <= 0:
        raise ValueError("With these family sizes there is no effective number.")
    return above / below


def reduce_by_inbreeding(effective: float, inbreeding: float) -> float:
    """The effective number of inbred parents: N / (1 + F), half of it for pure lines (F = 1).

    Source: Wright; as in textbooks of population genetics (from memory).
    """
    effective = as_float(effective)
    if not 0 < effective <= MOST_COUNTED:
        raise ValueError("The effective number must be more than 0, and a number that can be counted.")
    return effective / (1 + check_proportion(inbreeding, "The inbreeding coefficient"))


def count_with_failures(bearing: int, bags_each: int, set_share: float) -> int:
    """Trees to bag so that so many are expected to bear, with `bags_each` bags on each.

    ceil(n / (1 - (1 - s)^b)): a tree bears if one of its bags sets. Binomial, standard; bags set each by
    itself. Raises ValueError where none ever sets.
    """
    check_count(bearing, "The number of trees that bear", least=1)
    check_count(bags_each, "The number of bags a tree", least=1)
    share = check_proportion(set_share, "The share of bags that give fruit", zero=False)
    if share < LEAST_SET:
        raise ValueError("So few bags give fruit that no number of trees is a plan.")
    if share == 1:
        return bearing
    bears = -math.expm1(bags_each * math.log1p(-share))
    return max(bearing, math.ceil(bearing / bears * (1 - 1e-12)))


def _check_spread(spread: float) -> float:
    number = as_float(spread)
    if not 0 <= number <= MOST_SPREAD:
        raise ValueError(f"The spread of the parents' gifts must lie from 0 to {MOST_SPREAD:,}.")
    return number


def _check_mean(mean: float) -> float:
    number = as_float(mean)
    if not _LEAST_MEAN <= number <= MOST_COUNTED:
        raise ValueError("The mean family size must be more than 0, and a number that can be counted.")
    return number
