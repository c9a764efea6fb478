"""How one transgenic insert passes to seed, and what a set of embryos or seedlings shows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from certgen.figures.arguments import check_count, check_proportion
from certgen.figures.detection import count_tests, find_chance

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
