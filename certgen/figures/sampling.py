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
from collections import Counter
from fractions import Fraction
from typing import TYPE_CHECKING

from certgen.figures.arguments import (
    MOST_COUNTED,
    MOST_TESTED,
    SMALLEST,
    check_confidence,
    check_count,
    check_proportion,
    exact,
)
from certgen.figures.distributions import beta_quantile, binomial_at_most

if TYPE_CHECKING:
    from collections.abc import Iterable

__all__ = ["count_items", "digest_item", "draw", "miss_chance"]


def digest_item(seed: str, item: str) -> str:
    """SHA-256 of 'seed|item' in UTF-8, as 64 lower-case hexadecimal digits: what the draw sorts by."""
    return hashlib.sha256(f"{seed}|{item}".encode()).hexdigest()


def draw(seed: str, items: Iterable[str], size: int) -> tuple[str, ...]:
    """The `size` items with the smallest digests, smallest first; a larger sample begins with these.

    Raises ValueError if the seed is empty, an item stands twice, or fewer items than that are there.
    """
    pool = list(items)
    size = check_count(size, "The size of the sample")
    if not seed:
        raise ValueError("A draw needs a text to start from that both sides know.")
    item, times = next(iter(Counter(pool).most_common(1)), ("", 0))
    if times > 1:
        raise ValueError(f"{item} stands twice among the items to draw from.")
    if size > len(pool):
        raise ValueError(f"A sample of {size} cannot be drawn from {len(pool)} items.")
    return tuple(sorted(pool, key=lambda item: (digest_item(seed, item), item))[:size])


_NOISE = 1e-12


def count_tests(proportion: float, confidence: float = 0.95, sensitivity: float = 1.0) -> int:
    """Independent tests needed to find at least one positive with the given confidence.

    Formula: n = ceil(ln(1 - c) / ln(1 - p·Se)), for a random sample from a lot far larger than the sample.
    `proportion` is the true share, `sensitivity` the chance that a test of a positive says so. The quotient
    is lowered by one part in 10^12 before the ceiling, so that rounding noise does not add a seed.
    Source: binomial, standard; theory for seed in Remund et al. 2001.
    Raises ValueError for shares outside (0, 1], and if so many cannot be counted.
    """
    share = check_proportion(proportion, "The proportion to find", zero=False)
    return count_trials(share * check_proportion(sensitivity, "The sensitivity", zero=False), confidence)


def count_trials(found: float, confidence: float) -> int:
    """The smallest n with 1 - (1 - found)^n >= confidence, `found` being the chance in one trial.

    At least one. Raises ValueError if it takes more than MOST_COUNTED: nobody can plan that.
    """
    check_proportion(found, "The chance to find one")
    open_ = -math.log1p(-check_confidence(confidence))
    if found == 1:
        return 1
    if found * MOST_COUNTED < open_:
        raise ValueError(
            f"To find so small a share takes more than {MOST_COUNTED:,} tests: nobody can plan that."
        )
    return max(1, math.ceil(open_ / -math.log1p(-found) * (1 - _NOISE)))


def find_chance(tests: int, proportion: float, sensitivity: float = 1.0) -> float:
    """The chance that `tests` independent tests find at least one positive: 1 - (1 - p·Se)^n."""
    tests = check_count(tests, "The number of tests")
    found = check_proportion(proportion, "The proportion") * check_proportion(sensitivity, "The sensitivity")
    if found == 1:
        return 1.0 if tests else 0.0
    return -math.expm1(tests * math.log1p(-found))


MOST_ITEMS = 10**7
"""The largest finite set that is drawn from exactly: beyond it count_tests gives the same figure."""
_MOST_TERMS = 30_000
_MOST_OVERLOOKED = 1_000


def miss_chance(items: int, faults: int, taken: int, sensitivity: float = 1.0) -> Fraction:
    """The exact chance that `taken` of `items`, drawn without putting back, show none of the `faults`.

    Formula: C(N - D, n) / C(N, n) with a perfect test (hypergeometric, standard). With an imperfect one, each
    fault drawn is overlooked with chance 1 - Se: sum over x of P(x faults drawn) · (1 - Se)^x.
    Raises ValueError if there are more faults, or more taken, than items, or too many for exact arithmetic:
    more than MOST_ITEMS, or both more than 30,000 (1,000 with an imperfect test).
    """
    items = check_count(items, "The number of items", least=1, most=MOST_ITEMS)
    faults = check_count(faults, "The number of faults")
    taken = check_count(taken, "The number taken")
    if faults > items or taken > items:
        raise ValueError(f"{max(faults, taken)} out of {items} items: there are not so many.")
    finds = check_proportion(sensitivity, "The sensitivity")
    # A sensitivity below the least number that is computed with finds nothing.
    overlooked = 1 - (exact(finds) if finds > SMALLEST else Fraction(0))
    few, many = sorted((faults, taken))
    most = _MOST_OVERLOOKED if overlooked else _MOST_TERMS
    if few > most:
        raise ValueError(
            f"The chance that {taken} of {items} items show none of {faults} is not worked out exactly where"
            f" both are more than {most:,}."
        )
    if overlooked == 0:
        return Fraction(math.perm(items - many, few), math.perm(items, few))
    return _overlook(items, few, many, overlooked)


def _overlook(items: int, few: int, many: int, overlooked: Fraction) -> Fraction:
    """Sum over x of C(many, x) C(items - many, few - x) overlooked^x / C(items, few).

    Taken and faults change places without a change in the sum, so that the smaller of them counts the terms.
    """
    least = max(0, few + many - items)
    missed, of = overlooked.numerator, overlooked.denominator
    # From the last term back, so that each costs two products: total = missed · total + ways · of^(few - x).
    ways, scale, total = math.comb(many, few), 1, 0
    for x in range(few, least - 1, -1):
        total = missed * total + ways * scale
        scale *= of
        ways = ways * x * (items - many - few + x) // ((many - x + 1) * (few - x + 1))
    return Fraction(total * missed**least, math.comb(items, few) * of**few)


def count_items(items: int, faults: int, confidence: float = 0.95, sensitivity: float = 1.0) -> int:
    """The smallest number to test out of a finite set so that `faults` faulty ones cannot all be missed.

    Smallest n with miss_chance <= 1 - c, in exact arithmetic. `faults` is a whole number of trees:
    published tables that turn 5 % of 50 into 2.5 animals give figures that no orchard has.
    Raises ValueError if even a test of all of them falls short, which an imperfect test may do, and for sets
    too large for exact arithmetic.
    """
    allowed = 1 - exact(check_confidence(confidence))
    items = check_count(items, "The number of items", least=1, most=MOST_ITEMS)
    faults = check_count(faults, "The number of faults", least=1)
    if faults > items:
        raise ValueError(f"{faults} out of {items} items: there are not so many.")
    # With all of them tested each fault is overlooked by itself.
    sensitivity = check_proportion(sensitivity, "The sensitivity")
    if sensitivity < 1 and _all_overlooked(sensitivity, faults, allowed):
        raise ValueError(f"Testing all {items} once does not give that confidence with this sensitivity.")
    # Up by doubling: the chance is quick to work out where few are taken.
    low, high = 0, 1
    while high < items and miss_chance(items, faults, high, sensitivity) > allowed:
        low, high = high, min(2 * high, items)
    while high - low > 1:
        middle = (low + high) // 2
        if miss_chance(items, faults, middle, sensitivity) <= allowed:
            high = middle
        else:
            low = middle
    return high


def _all_overlooked(sensitivity: float, faults: int, allowed: Fraction) -> bool:
    """Whether (1 - Se)^D exceeds what is allowed; by logarithms where the power has too many digits."""
    if faults > _MOST_OVERLOOKED:
        return faults * math.log1p(-sensitivity) > math.log(allowed)
    return sensitivity <= SMALLEST or (1 - exact(sensitivity)) ** faults > allowed


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
    units, allowed = _check_plan(units, allowed)
    seeds_per_unit = check_count(seeds_per_unit, "The number of seeds in a unit", least=1)
    proportion = check_proportion(proportion, "The proportion")
    sensitivity = check_proportion(sensitivity, "The sensitivity")
    specificity = check_proportion(specificity, "The specificity")
    carrying = 1.0 if proportion == 1 else -math.expm1(seeds_per_unit * math.log1p(-proportion))
    positive = sensitivity * carrying + (1 - specificity) * (1 - carrying)
    return binomial_at_most(allowed, units, min(1.0, positive))


def quality_at(units: int, allowed: int, chance: float, seeds_per_unit: int = 1) -> float:
    """The true share of seeds at which the plan accepts with the given chance, for a perfect test.

    At 0.95 it is the grower's point, at 0.10 the buyer's: the p with P(X <= Ac) = chance.
    """
    units, allowed = _check_plan(units, allowed)
    seeds_per_unit = check_count(seeds_per_unit, "The number of seeds in a unit", least=1)
    chance = check_proportion(chance, "The chance of acceptance", zero=False, one=False)
    if allowed == units:
        raise ValueError("A plan that allows every unit to be positive accepts everything.")
    share = beta_quantile(chance, allowed + 1, units - allowed, upper=True)
    return -math.expm1(math.log1p(-share) / seeds_per_unit) if share < 1 else 1.0


def _check_plan(units: int, allowed: int) -> tuple[int, int]:
    units = check_count(units, "The number of units", least=1, most=MOST_TESTED)
    allowed = check_count(allowed, "The number allowed")
    if allowed > units:
        raise ValueError(f"{allowed} positives allowed among {units} units: more than there are.")
    return units, allowed
