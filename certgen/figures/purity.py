"""A purity test: the parts of a sample in per cent by weight; noxious weeds' seeds against the label."""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING

from certgen.figures.arguments import Number, check_count, check_mass
from certgen.figures.distributions import round_component

if TYPE_CHECKING:
    from fractions import Fraction

_WHOLE = Decimal("100.00")
SUBTRACTION_FROM = 25
"""Grams of sample from which pure seed may be found by subtraction (7 CFR 201.47)."""


@dataclass(frozen=True, slots=True)
class Purity:
    """Pure seed, other seed and inert matter in per cent, to two decimals; together always 100.00.

    `by_subtraction` says whether pure seed is the sample less the rest. `missing` is the mass that the
    weighed parts fall short of the sample by (negative: they exceed it), in grams, where the whole sample
    was weighed too.
    """

    pure: Decimal
    other: Decimal
    inert: Decimal
    by_subtraction: bool
    missing: float | None


def find_purity(
    *, other: Number, inert: Number, pure: Number | None = None, sample: Number | None = None
) -> Purity:
    """The parts of a sample in per cent, from masses in grams.

    Below 25 g every part is weighed and their sum is the whole; from 25 g on the other parts are taken of
    the sample and pure seed is 100 % less theirs (7 CFR 201.47). Each is rounded as round_component does,
    and the largest part takes what rounding leaves of 100 % (common practice of seed analysts, from memory);
    of equally large ones pure seed does, then other seed. Raises ValueError if a weight that the case needs
    is absent, or the parts exceed the sample where it is the whole.
    """
    rest = (check_mass(other, "Other seed", zero=True), check_mass(inert, "Inert matter", zero=True))
    whole = None if sample is None else check_mass(sample, "The sample")
    clean = None if pure is None else check_mass(pure, "Pure seed", zero=True)
    missing = None if whole is None or clean is None else float(whole - clean - sum(rest))
    if whole is not None and whole >= SUBTRACTION_FROM:
        if sum(rest) > whole:
            raise ValueError(
                f"The other parts weigh {float(sum(rest))} g, more than the sample of {sample} g."
            )
        return Purity(*_round_parts((whole - sum(rest), *rest)), by_subtraction=True, missing=missing)
    if clean is None:
        raise ValueError("A sample below 25 g needs the weight of its pure seed too.")
    if clean + sum(rest) == 0:
        raise ValueError("All parts weigh nothing: there is no sample.")
    return Purity(*_round_parts((clean, *rest)), by_subtraction=False, missing=missing)


def _round_parts(parts: tuple[Fraction, Fraction, Fraction]) -> tuple[Decimal, Decimal, Decimal]:
    """The parts in per cent of their sum, rounded, the largest being 100.00 less the others."""
    whole = sum(parts)
    first, second, third = (round_component(part / whole * 100) for part in parts)
    match parts.index(max(parts)):
        case 0:
            first = _WHOLE - second - third
        case 1:
            second = _WHOLE - first - third
        case _:
            third = _WHOLE - first - second
    return first, second, third


_MOST_FOUND = (
    2, 4, 6, 8, 9, 11, 12, 13, 14, 16, 17, 18, 20, 21, 22, 23,
    24, 25, 27, 28, 29, 30, 32, 33, 34, 35, 37, 38, 39, 41, 42,
)  # fmt: skip


def most_found(labelled: int) -> tuple[float, bool]:
    """The most seeds that may be found where so many are labelled, and whether that stands in the table.

    Table up to 30 labelled; beyond it X + 1 + 1.96·sqrt(X), not rounded, since neither way of rounding
    reproduces the table. Source: 7 CFR 201.65.
    """
    count = check_count(labelled, "The number labelled")
    if count < len(_MOST_FOUND):
        return float(_MOST_FOUND[count]), True
    return count + 1 + 1.96 * math.sqrt(count), False
