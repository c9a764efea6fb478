"""What passes from the parents to seed: a transgenic insert, and the sex of the seedlings.

The sexes to expect and how far a count strays from them are a planting aid, never a verdict.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Literal

from certgen.figures.arguments import check_count, check_proportion
from certgen.figures.distributions import chi_square_above
from certgen.figures.sampling import count_tests, find_chance

if TYPE_CHECKING:
    from collections.abc import Mapping


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
    for copies in (mother, pollen):
        if copies not in (0, 1, 2):
            raise ValueError(f"A tree has no, one or two copies of the insert, not {copies}.")
    egg, grain = mother / 2, pollen / 2
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

    `small` says that some class expects fewer than five plants, where the chance is rough (common
    practice).
    """

    statistic: float
    freedom: int
    chance: float
    small: bool


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

    Classes that are expected but not counted stand at nothing. Real progeny strays from 2 : 1 (1,838 to 783
    was measured: chi-square 14.11), so a small chance asks for a second look and no more. Raises ValueError
    if nothing is counted, if a class was not expected, or shares do not add up to one.
    """
    total = sum(check_count(count, f"The count of {sex}") for sex, count in counts.items())
    if total == 0:
        raise ValueError("No plant is counted, so there is nothing to compare.")
    if unexpected := sorted(sex for sex, count in counts.items() if count and not expected.get(sex)):
        raise ValueError(f"No {unexpected[0]} plant is to be expected of this cross, yet some are counted.")
    _check_shares(expected)
    wanted = {sex: share * total for sex, share in expected.items() if share}
    statistic = math.fsum((counts.get(sex, 0) - number) ** 2 / number for sex, number in wanted.items())
    freedom = len(wanted) - 1
    return Fit(statistic, freedom, chi_square_above(statistic, freedom), small=min(wanted.values()) < 5)


def _check_shares(expected: Mapping[str, float]) -> None:
    for share in expected.values():
        check_proportion(share, "An expected share")
    if abs(math.fsum(expected.values()) - 1) > 1e-9 or len(expected) < 2:
        raise ValueError("The expected shares must be of two sexes or more and add up to 1.")
