"""A spot check that anybody can draw again, by hand or in any language, from a text both sides agreed on.

How to repeat it: for each item write the agreed text, a vertical bar and the item's identifier, with no
line end; take the SHA-256 of its UTF-8 bytes as 64 lower-case hexadecimal digits; sort the items by it,
smallest first; the first n are drawn. Neither the order of the items nor any machine has a say in it.

With how many seeds or trees a fault of a given size is found, the chance of missing it, and how often a lot
of a given quality passes a test of n units that allows Ac positives.
"""

from __future__ import annotations

import hashlib
import math
from fractions import Fraction
from typing import TYPE_CHECKING

from certgen.figures.arguments import check_confidence, check_count, check_proportion, exact
from certgen.figures.distributions import beta_quantile, binomial_at_most

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

__all__ = ["allocate", "count_items", "digest_item", "draw", "draw_by_stratum", "miss_chance"]


def digest_item(seed: str, item: str) -> str:
    """SHA-256 of 'seed|item' in UTF-8, as 64 lower-case hexadecimal digits: what the draw sorts by."""
    return hashlib.sha256(f"{seed}|{item}".encode()).hexdigest()


def draw(seed: str, items: Iterable[str], size: int) -> tuple[str, ...]:
    """The `size` items with the smallest digests, smallest first; a larger sample begins with these.

    Raises ValueError if the seed is empty, an item stands twice, or fewer items than that are there.
    """
    pool = list(items)
    check_count(size, "The size of the sample")
    if not seed:
        raise ValueError("A draw needs a text to start from that both sides know.")
    if len(set(pool)) != len(pool):
        twice = next(item for item in pool if pool.count(item) > 1)
        raise ValueError(f"{twice} stands twice among the items to draw from.")
    if size > len(pool):
        raise ValueError(f"A sample of {size} cannot be drawn from {len(pool)} items.")
    return tuple(sorted(pool, key=lambda item: (digest_item(seed, item), item))[:size])


def allocate(sizes: Mapping[str, int], size: int) -> dict[str, int]:
    """A sample shared out among strata in proportion to their sizes, by largest remainder.

    Each gets the whole part of size·stratum/total; what is left goes to the largest remainders, of equal
    ones to the larger stratum and then to the first by name. Standard. Raises ValueError if the sample
    exceeds the total.
    """
    total = sum(check_count(count, f"The size of {name}") for name, count in sizes.items())
    if check_count(size, "The size of the sample") > total:
        raise ValueError(f"A sample of {size} cannot be drawn from {total} items.")
    if total == 0:
        return dict.fromkeys(sizes, 0)
    shares = {name: divmod(size * count, total) for name, count in sizes.items()}
    taken = {name: whole for name, (whole, _) in shares.items()}
    order = sorted(sizes, key=lambda name: (-shares[name][1], -sizes[name], name))
    for name in order[: size - sum(taken.values())]:
        taken[name] += 1
    return taken


def draw_by_stratum(seed: str, strata: Mapping[str, Iterable[str]], size: int) -> dict[str, tuple[str, ...]]:
    """The sample drawn within each stratum, in the shares that allocate gives; identifiers as in draw."""
    pools = {name: list(items) for name, items in strata.items()}
    shares = allocate({name: len(items) for name, items in pools.items()}, size)
    return {name: draw(seed, items, shares[name]) for name, items in pools.items()}


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
