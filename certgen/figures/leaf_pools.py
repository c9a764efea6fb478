"""Leaves tested in pools, the trees of a positive pool again one by one: tests to expect, carriers missed.

Two-stage testing after Dorfman 1943 (formula from memory, its published table checked in the tests), with an
imperfect test whose sensitivity falls as a carrier's leaf makes up less of the pool.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from certgen.figures.arguments import check_count, check_proportion
from certgen.figures.distributions import binomial_chances

#: More leaves than any tube or plate takes.
MOST_LEAVES = 1000


def dilute(sensitivity: float, leaves: int, carriers: int = 1) -> float:
    """The chance that a pool of so many leaves is found positive, if `carriers` of them carry: Se^(n/k).

    Se is that of a single leaf. One carrier among n is found with Se^n, a pool of carriers alone with Se, and
    none of a perfect test's pools is missed. Assumed: no study of pooled leaves was read.
    Raises ValueError unless 1 <= carriers <= leaves.
    """
    check_proportion(sensitivity, "The sensitivity")
    leaves = check_count(leaves, "The number of leaves in a pool", least=1, most=MOST_LEAVES)
    carriers = check_count(carriers, "The number of carriers in a pool", least=1)
    if carriers > leaves:
        raise ValueError(f"{carriers} carriers among {leaves} leaves: there are not so many.")
    return float(sensitivity ** (leaves / carriers))


def positive_chance(
    leaves: int, prevalence: float, sensitivity: float = 1.0, specificity: float = 1.0
) -> float:
    """The chance that a pool is found positive at a prevalence of carriers.

    Σ over k of P(k of n carry) · Se(n, k), plus (1-p)^n · (1 - Sp): binomial, with `dilute` for Se(n, k).
    """
    check_proportion(prevalence, "The prevalence")
    check_proportion(specificity, "The specificity")
    chances = binomial_chances(
        check_count(leaves, "The number of leaves in a pool", least=1, most=MOST_LEAVES), prevalence
    )
    found = math.fsum(
        chance * dilute(sensitivity, leaves, carriers)
        for carriers, chance in enumerate(chances)
        if carriers and chance
    )
    return min(1.0, found + chances[0] * (1 - specificity))


@dataclass(frozen=True, slots=True)
class PoolDesign:
    """Some trees tested in pools of `leaves` (the last ones a leaf smaller), at one prevalence.

    `tests` are the pools with the single tests to expect after them. `missed` is the chance that the pool of
    a tree that carries, alone in the largest pool, comes out negative: then it passes for clear.
    """

    trees: int
    leaves: int
    pools: int
    prevalence: float
    tests: float
    missed: float


def design_pools(
    trees: int, leaves: int, prevalence: float, sensitivity: float = 1.0, specificity: float = 1.0
) -> PoolDesign:
    """Tests to expect of so many trees in pools of at most `leaves`, each tree of a positive pool once more.

    Pools are made as even as can be. A pool of n costs 1 + n·P(positive), a pool of one costs 1. With a
    perfect test and equal pools that is Dorfman's 1/n + 1 - (1-p)^n a tree. Raises ValueError for no trees.
    """
    trees = check_count(trees, "The number of trees", least=1)
    leaves = min(trees, check_count(leaves, "The number of leaves in a pool", least=1, most=MOST_LEAVES))
    pools = -(-trees // leaves)
    small, larger = divmod(trees, pools)
    # So many pools hold one leaf more than the others.
    expected = pools + math.fsum(
        number * size * positive_chance(size, prevalence, sensitivity, specificity)
        for size, number in ((small, pools - larger), (small + 1, larger))
        if number and size > 1
    )
    largest = small + 1 if larger else small
    return PoolDesign(trees, largest, pools, prevalence, expected, 1 - dilute(sensitivity, largest))


def find_cheapest(
    trees: int, largest: int, prevalence: float, sensitivity: float = 1.0, specificity: float = 1.0
) -> PoolDesign:
    """The design with the fewest tests to expect, in pools of up to `largest`; of equal ones the smallest.

    Single leaves are among them: from a prevalence of about 31 % on no pool saves tests (1 - (1/3)^(1/3),
    perfect test). Raises ValueError for no trees.
    """
    check_count(largest, "The largest pool", least=1, most=MOST_LEAVES)
    sizes = range(1, min(check_count(trees, "The number of trees", least=1), largest) + 1)
    designs = [design_pools(trees, size, prevalence, sensitivity, specificity) for size in sizes]
    return min(designs, key=lambda design: (round(design.tests, 9), design.leaves))
