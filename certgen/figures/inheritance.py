"""What passes from the parents to seed: a transgenic insert, and the sex of the seedlings.

The sexes to expect and how far a count strays from them are a planting aid, never a verdict.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Literal

from certgen.figures.arguments import check_count, check_proportion
from certgen.figures.distributions import chi_square_above
from certgen.figures.sampling import count_tests, find_chance

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

Copies = Literal[0, 1, 2]
"""Copies of the insert in a tree: none, one (hemizygous) or two (homozygous)."""


@dataclass(frozen=True, slots=True)
class Progeny:
    """Seed of one cross: shares from 0 to 1 of embryos with two copies, one and none.

    `mother_shows` says whether leaf, flesh and seed coat carry the insert: they are the mother's tissue,
    and say nothing about the pollen.
    """

    two: float
    one: float
    none: float
    mother_shows: bool

    @property
    def transgenic(self) -> float:
        """The share of embryos with at least one copy."""
        return self.two + self.one


def cross(mother: Copies, pollen: Copies) -> Progeny:
    """What to expect of a mother and the pollen that reached it, for a single unlinked insert.

    A tree with one copy gives it to half of its gametes, one with two to all. Selfing is a cross with equal
    copies. Mendelian, standard. Raises ValueError for other numbers of copies.
    """
    egg, grain = (
        check_count(copies, "The number of copies of the insert in a tree", most=2) / 2
        for copies in (mother, pollen)
    )
    two, none = egg * grain, (1 - egg) * (1 - grain)
    return Progeny(two=two, one=1 - two - none, none=none, mother_shows=mother > 0)


def count_embryos(share: float = 0.75, confidence: float = 0.95) -> int:
    """Embryos that must all be negative to clear the mother: smallest n with (1 - share)^n <= 1 - c.

    `share` is that of transgenic embryos if she were transgenic: 0.75 selfed with one copy, 0.5 against
    clean pollen.
    """
    return count_tests(share, confidence)


def all_negative_chance(embryos: int, share: float = 0.75) -> float:
    """The chance that all embryos of a transgenic mother are negative: (1 - share)^n. Binomial, standard."""
    return (1 - check_proportion(share, "The share")) ** check_count(embryos, "The number of embryos")


def share_from_one_parent(parents: int, embryo_share: float = 0.75) -> float:
    """The lot's transgenic share if one of its equal parents is transgenic: embryo share / parents."""
    return check_proportion(embryo_share, "The embryo share") / check_count(
        parents, "The number of parents", least=1
    )


def hermaphrodite_chance(seedlings: int, share: float = 2 / 3) -> float:
    """The chance of at least one hermaphrodite among the seedlings of a planting hole: 1 - (1-h)^n.

    `share` is 2/3 for selfed hermaphrodites and 1/2 for female × hermaphrodite; measured 0.701 in 2,621
    hermaphrodite and female plants of selfed hermaphrodites (Khan, Tyagi and Jokhan 2002).
    """
    return find_chance(seedlings, share)


def count_seedlings(share: float = 2 / 3, confidence: float = 0.95) -> int:
    """Seedlings a hole to have at least one hermaphrodite with the given confidence."""
    return count_tests(share, confidence)


EXPECTED: Mapping[tuple[str, str], Mapping[str, float]] = MappingProxyType(
    {
        ("hermaphrodite", "hermaphrodite"): MappingProxyType({"hermaphrodite": 2 / 3, "female": 1 / 3}),
        ("female", "hermaphrodite"): MappingProxyType({"hermaphrodite": 1 / 2, "female": 1 / 2}),
        ("female", "male"): MappingProxyType({"female": 1 / 2, "male": 1 / 2}),
        ("hermaphrodite", "male"): MappingProxyType({"female": 1 / 3, "hermaphrodite": 1 / 3, "male": 1 / 3}),
    }
)
"""Shares by (seed parent, pollen parent): one locus, two dominant alleles being lethal.

Lethality: Plant Breeding 122, 2003; the crosses: a plant database.

A quarter of selfed hermaphrodites' embryos is lost, which makes 2 : 1.
"""


@dataclass(frozen=True, slots=True)
class Fit:
    """A count against an expectation: chi-square, degrees of freedom, and the chance of straying as far.

    `small` says that some class expects fewer than five plants, where chi-square's chance is rough (common
    practice). `exact` says that the chance is that of the exact multinomial test instead.
    """

    statistic: float
    freedom: int
    chance: float
    small: bool
    exact: bool = False

    @property
    def basis(self) -> str:
        """The test that the chance comes from, in words for a page."""
        if self.exact:
            return "exact multinomial test"
        return "chi-square, rough for so few plants" if self.small else "chi-square"


def expect_sexes(seed_parent: str, pollen_parent: str) -> Mapping[str, float]:
    """The shares of the sexes among seedlings of a cross. Raises ValueError for a cross that sets no seed."""
    try:
        return EXPECTED[seed_parent, pollen_parent]
    except KeyError:
        raise ValueError(
            f"A {seed_parent} tree with a {pollen_parent} as pollen parent sets no seed."
        ) from None


def compare_counts(counts: Mapping[str, int], expected: Mapping[str, float]) -> Fit:
    """Pearson's chi-square of a count against expected shares: Σ(observed - expected)² / expected.

    Where a class expects fewer than five plants, the chance is exact_chance's instead, as long as there are
    few enough ways to count. Classes that are expected but not counted stand at nothing. Real progeny strays
    from 2 : 1 (1,838 to 783 was measured: chi-square 14.11), so a small chance asks for a second look and no
    more. Raises ValueError if nothing is counted, a class was not expected, or shares do not add up to one.
    """
    total = sum(check_count(count, f"The count of {sex}") for sex, count in counts.items())
    if total == 0:
        raise ValueError("No plant is counted, so there is nothing to compare.")
    if unexpected := sorted(sex for sex, count in counts.items() if count and not expected.get(sex)):
        raise ValueError(f"No {unexpected[0]} plant is to be expected of this cross, yet some are counted.")
    _check_shares(expected)
    wanted = {sex: share * total for sex, share in expected.items() if share}
    return _fit([counts.get(sex, 0) for sex in wanted], list(wanted.values()))


def _fit(seen: Sequence[int], wanted: Sequence[float]) -> Fit:
    """The fit of counts to the numbers expected of them, class by class."""
    total, freedom, small = sum(seen), len(wanted) - 1, min(wanted) < _FEW
    statistic = math.fsum((count - number) ** 2 / number for count, number in zip(seen, wanted, strict=True))
    if small and math.comb(total + freedom, freedom) <= _MOST_WAYS:
        chance = exact_chance(seen, [number / total for number in wanted])
        return Fit(statistic, freedom, chance, small=True, exact=True)
    return Fit(statistic, freedom, chi_square_above(statistic, freedom), small=small)


_FEW = 5
_MOST_WAYS = 20_000
_TIE = 1 + 1e-9


def exact_chance(counts: Sequence[int], shares: Sequence[float]) -> float:
    """The exact multinomial test: the chance of a count no likelier than this one, in as many plants.

    Σ n!/Πx! · Πp^x over all counts x of n with a chance at most that of the count seen; ties within one part
    in a thousand million are ties. Standard. Raises ValueError where nothing is counted, for shares that do
    not add up to 1 or of another number of classes, and for more than 20,000 ways to count.
    """
    total = sum(check_count(count, "A count") for count in counts)
    if total == 0 or len(counts) != len(shares):
        raise ValueError("Give a count of some plants, and one share for each class of it.")
    _check_shares(dict(enumerate(shares)))
    if min(shares) <= 0:
        raise ValueError("A class with a share of nothing is no class.")
    freedom = len(shares) - 1
    if total > _MOST_WAYS or math.comb(total + freedom, freedom) > _MOST_WAYS:
        raise ValueError(
            f"There are more than {_MOST_WAYS:,} ways to count {total} plants in {len(shares)} classes."
        )
    logs = [math.log(share) for share in shares]
    ways = math.lgamma(total + 1)

    def chance_of(seen: Sequence[int]) -> float:
        return math.exp(
            ways + math.fsum(x * log - math.lgamma(x + 1) for x, log in zip(seen, logs, strict=True))
        )

    most = chance_of(counts) * _TIE
    chances = (chance_of(seen) for seen in _list_counts(total, len(shares)))
    return min(1.0, math.fsum(chance for chance in chances if chance <= most))


def _list_counts(total: int, classes: int) -> Iterator[tuple[int, ...]]:
    """Every way to share out so many plants among the classes."""
    if classes == 1:
        yield (total,)
        return
    for first in range(total + 1):
        for rest in _list_counts(total - first, classes - 1):
            yield (first, *rest)


def _check_shares(expected: Mapping[Any, float]) -> None:
    for share in expected.values():
        check_proportion(share, "An expected share")
    if abs(math.fsum(expected.values()) - 1) > 1e-9 or len(expected) < 2:
        raise ValueError("The expected shares must be of two sexes or more and add up to 1.")
