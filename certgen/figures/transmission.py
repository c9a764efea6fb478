"""What a carrier among a lot's parents hands on to its seed, pair by pair of seed and pollen parent."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from certgen.figures.arguments import check_proportion
from certgen.figures.inheritance import Copies, cross

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence


@dataclass(frozen=True, slots=True)
class Pair:
    """Seed of one mother with one kind of pollen: its share of the lot, from 0 to 1.

    `pollen` is the mother herself for selfed seed, another tree for crossed, None where nothing shows whose
    pollen it was.
    """

    mother: str
    pollen: str | None
    share: float


@dataclass(frozen=True, slots=True)
class Span:
    """A share of seed, from 0 to 1, between two bounds; they are one where nothing is open."""

    low: float
    high: float


SELFED_SHARE: Final = cross(1, 1).transgenic
"""Share of transgenic embryos where both parents, or a selfed tree, have one copy of the insert (3 : 1)."""


def _of_two_carriers(copies: Copies, selfed_share: float) -> float:
    shares = cross(copies, copies)
    return selfed_share if copies == 1 else shares.transgenic


def carried_by(pairs: Iterable[Pair], tree: str, copies: Copies, selfed_share: float = SELFED_SHARE) -> Span:
    """The share of a lot's seed that would carry if one tree did, with so many copies, and no other.

    Σ share · transmission: of selfed seed `selfed_share` with one copy, of crossed 1/2, with two copies all
    (`inheritance.cross`). Open pollen lies between another tree's clean pollen and the mother's own.
    """
    crossed = cross(copies, 0).transgenic
    selfed = _of_two_carriers(copies, check_proportion(selfed_share, "The share of selfed seed"))
    low = high = 0.0
    for pair in pairs:
        check_proportion(pair.share, "A pair's share")
        if pair.mother == tree:
            low += pair.share * (selfed if pair.pollen == tree else crossed)
            high += pair.share * (selfed if pair.pollen in (tree, None) else crossed)
        elif pair.pollen == tree:
            low += pair.share * cross(0, copies).transgenic
            high += pair.share * cross(0, copies).transgenic
    return Span(low, high)


def worst_share(pairs: Iterable[Pair], cleared: Iterable[str]) -> float:
    """The share of a lot's seed that may carry, if all that nothing clears did with two copies.

    That is all seed of a pair whose mother or pollen parent isn't cleared or whose pollen is open, and all
    seed of no pair: 1 - Σ share of pairs both of whose parents are cleared. Seed without a parent on record
    counts in full.
    """
    known = set(cleared)
    sound = math.fsum(
        check_proportion(pair.share, "A pair's share")
        for pair in pairs
        if pair.mother in known and pair.pollen in known
    )
    return max(0.0, 1 - sound)


def expected_share(
    pairs: Iterable[Pair],
    chances: Mapping[str, float],
    copies: Copies = 1,
    selfed_share: float = SELFED_SHARE,
) -> Span:
    """The share of seed that carries, averaged over many such lots: in one of them it is all or nothing.

    Σ share · ΣP(mother) P(pollen) · transmission, parents independent, carriers with so many copies. Two
    crossed parents at 10 % with one copy: 9.75 %. Open pollen lies between none and all of it carrying.
    Raises ValueError for a parent without a chance.
    """
    low = high = 0.0
    both = _of_two_carriers(copies, check_proportion(selfed_share, "The share of selfed seed"))
    one = cross(copies, 0).transgenic
    for pair in pairs:
        check_proportion(pair.share, "A pair's share")
        mother = _take_chance(chances, pair.mother)
        if pair.pollen is None:
            low += pair.share * mother * one
            high += pair.share
            continue
        carried = mother * both
        if pair.pollen != pair.mother:
            pollen = _take_chance(chances, pair.pollen)
            carried = (mother * (1 - pollen) + (1 - mother) * pollen) * one + mother * pollen * both
        low, high = low + pair.share * carried, high + pair.share * carried
    return Span(low, high)


def _take_chance(chances: Mapping[str, float], tree: str) -> float:
    if tree not in chances:
        raise ValueError(f"Nothing is given of {tree!r:.40}, a parent of the seed.")
    return check_proportion(chances[tree], "A parent's chance")


def any_carrier(chances: Sequence[float]) -> Span:
    """The chance that at least one of some parents carries.

    From the largest single chance, where they stand or fall together as siblings may, to 1 - Π(1 - p),
    where each stands for itself. Elementary probability.
    """
    for chance in chances:
        check_proportion(chance, "A parent's chance")
    return Span(max(chances, default=0.0), 1 - math.prod(1 - chance for chance in chances))
