"""How many seeds or trees to test to find a fault of a given size, and the chance of missing it."""

from __future__ import annotations

import math
from fractions import Fraction

from certgen.figures.arguments import check_confidence, check_count, check_proportion, exact

_NOISE = 1e-12


def count_tests(proportion: float, confidence: float = 0.95, sensitivity: float = 1.0) -> int:
    """Independent tests needed to find at least one positive with the given confidence.

    Formula: n = ceil(ln(1 - c) / ln(1 - p·Se)), for a random sample from a lot far larger than the sample.
    `proportion` is the true share, `sensitivity` the chance that a test of a positive says so. The quotient
    is lowered by one part in 10^12 before the ceiling, so that rounding noise does not add a seed.
    Source: binomial, standard; theory for seed in Remund et al. 2001.
    Raises ValueError for shares outside (0, 1].
    """
    check_proportion(proportion, "The proportion to find", zero=False)
    check_proportion(sensitivity, "The sensitivity", zero=False)
    check_confidence(confidence)
    found = proportion * sensitivity
    if found == 1:
        return 1
    return max(1, math.ceil(math.log1p(-confidence) / math.log1p(-found) * (1 - _NOISE)))


def find_chance(tests: int, proportion: float, sensitivity: float = 1.0) -> float:
    """The chance that `tests` independent tests find at least one positive: 1 - (1 - p·Se)^n."""
    check_count(tests, "The number of tests")
    found = check_proportion(proportion, "The proportion") * check_proportion(sensitivity, "The sensitivity")
    if found == 1:
        return 1.0 if tests else 0.0
    return -math.expm1(tests * math.log1p(-found))


def miss_chance(items: int, faults: int, taken: int, sensitivity: float = 1.0) -> Fraction:
    """The exact chance that `taken` of `items`, drawn without putting back, show none of the `faults`.

    Formula: C(N - D, n) / C(N, n) with a perfect test (hypergeometric, standard). With an imperfect one, each
    fault drawn is overlooked with chance 1 - Se: sum over x of P(x faults drawn) · (1 - Se)^x.
    Raises ValueError if there are more faults, or more taken, than items.
    """
    check_count(items, "The number of items", least=1)
    check_count(faults, "The number of faults")
    check_count(taken, "The number taken")
    if faults > items or taken > items:
        raise ValueError(f"{max(faults, taken)} out of {items} items: there are not so many.")
    overlooked = 1 - exact(check_proportion(sensitivity, "The sensitivity"))
    if overlooked == 0:
        few, many = sorted((faults, taken))
        return Fraction(math.perm(items - many, few), math.perm(items, few))
    ways = math.comb(items, taken)
    least = max(0, taken + faults - items)
    drawn = range(least, min(faults, taken) + 1)
    return sum(
        (
            Fraction(math.comb(faults, x) * math.comb(items - faults, taken - x), ways) * overlooked**x
            for x in drawn
        ),
        start=Fraction(0),
    )


def count_items(items: int, faults: int, confidence: float = 0.95, sensitivity: float = 1.0) -> int:
    """The smallest number to test out of a finite set so that `faults` faulty ones cannot all be missed.

    Smallest n with miss_chance <= 1 - c, in exact arithmetic. `faults` is a whole number of trees:
    published tables that turn 5 % of 50 into 2.5 animals give figures that no orchard has.
    Raises ValueError if even a test of all of them falls short, which an imperfect test may do.
    """
    allowed = 1 - exact(check_confidence(confidence))
    check_count(faults, "The number of faults", least=1)
    if miss_chance(items, faults, items, sensitivity) > allowed:
        raise ValueError(f"Testing all {items} once does not give that confidence with this sensitivity.")
    low, high = 0, items
    while high - low > 1:
        middle = (low + high) // 2
        if miss_chance(items, faults, middle, sensitivity) <= allowed:
            high = middle
        else:
            low = middle
    return high
