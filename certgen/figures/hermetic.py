"""Whether seed counts as hermetically packed, so that its germination test holds for 24 months."""

from __future__ import annotations

import calendar
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from certgen.figures.arguments import Number, check_mass, exact

MONTHS_TO_PACKING = 9
MOST_VAPOUR = Fraction(5, 100)
"""Grams of water vapour in 24 h through 100 square inches, at 100 °F with 90 % against 0 % humidity."""


@dataclass(frozen=True, slots=True)
class HermeticPacking:
    """The conditions of 7 CFR 201.36c that figures can show; the container is marked too (from memory)."""

    packed_in_time: bool
    tight: bool
    dry: bool

    @property
    def holds(self) -> bool:
        """Whether all three conditions are met."""
        return self.packed_in_time and self.tight and self.dry


def check_packing(
    harvested: date, packed: date, *, vapour: Number, moisture: Number, most_moisture: Number | str
) -> HermeticPacking:
    """The conditions met: packed within nine months, 0.05 g vapour at most, moisture up to the kind's cap.

    `vapour` in grams as in MOST_VAPOUR, moistures in per cent of wet weight. The nine months are read as
    calendar months to the day (derived). Raises ValueError if packed before harvest.
    """
    if packed < harvested:
        raise ValueError(f"Packed on {packed}, before the harvest of {harvested}.")
    return HermeticPacking(
        packed_in_time=packed <= _months_later(harvested, MONTHS_TO_PACKING),
        tight=check_mass(vapour, "The water vapour", zero=True) <= MOST_VAPOUR,
        dry=check_mass(moisture, "The moisture", zero=True) <= exact(most_moisture),
    )


def _months_later(day: date, months: int) -> date:
    """The same day of a later month, or that month's last day where it is shorter."""
    count = day.year * 12 + day.month - 1 + months
    year, month = count // 12, count % 12 + 1
    return date(year, month, min(day.day, calendar.monthrange(year, month)[1]))
