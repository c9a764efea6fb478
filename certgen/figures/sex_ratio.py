"""The sexes to expect among seedlings, and how far a count strays: a planting aid, never a verdict."""

from __future__ import annotations

import math
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

from certgen.figures.arguments import check_count, check_proportion
from certgen.figures.distributions import chi_square_above

if TYPE_CHECKING:
    from collections.abc import Mapping

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
