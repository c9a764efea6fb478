"""How long a germination test holds, in calendar months; hermetic packing makes it hold longer."""

from __future__ import annotations

import calendar
import math
from dataclasses import dataclass
from datetime import MAXYEAR, date, timedelta
from fractions import Fraction

from certgen.figures.arguments import Number, check_count, check_mass, exact

_MOST_YEARS = 1000


def last_ship_day(tested: date, months: int = 5) -> date:
    """The last day to ship seed on this test: so many calendar months after the end of the test's month.

    A rule of seed law about shipping: 5 months in ordinary containers and 24 in hermetic ones, for the kinds
    that it lists. What is practice goes by months_later instead. Source: 7 CFR 201.30a for vegetable seed,
    201.22(a) for agricultural; the reading as the last day of a month is derived.
    """
    return end_of_month(tested, months)


def add_years(day: date, years: int) -> date:
    """The same day so many years later; 29 February becomes 1 March, so that nothing ends a day early."""
    later = _check_year(day.year + check_count(years, "The number of years", most=_MOST_YEARS))
    try:
        return day.replace(year=later)
    except ValueError:
        return date(later, 3, 1)


def end_of_month(day: date, later: int = 0) -> date:
    """The last day of the month that comes `later` months after the day's own."""
    year, month = _count_on(day, later)
    return date(year, month, calendar.monthrange(year, month)[1])


def months_later(day: date, months: int) -> date:
    """The same day so many months later, or that month's last day where it is shorter.

    Nothing is rounded to the end of a month: that is a rule of seed law for shipping (last_ship_day).
    """
    year, month = _count_on(day, months)
    return date(year, month, min(day.day, calendar.monthrange(year, month)[1]))


def keeps_until(day: date, months: Number) -> date:
    """The last day of so many months of practice, as how long seed keeps in a store: months_later's.

    A part of a month counts as whole days of the month that it falls in, rounded down. Raises ValueError for
    a negative number of months, or more than a thousand years of them.
    """
    term = exact(months)
    if term < 0:
        raise ValueError(f"A term of months cannot be negative, and is {float(term):g}.")
    whole = months_later(day, math.floor(term))
    part = term - math.floor(term)
    return (
        whole + timedelta(math.floor(part * (months_later(day, math.floor(term) + 1) - whole).days))
        if part
        else whole
    )


def _count_on(day: date, months: int) -> tuple[int, int]:
    """Year and month so many months after a day's own month."""
    later = check_count(months, "The number of months", most=12 * _MOST_YEARS)
    year, month = divmod(day.year * 12 + day.month - 1 + later, 12)
    return _check_year(year), month + 1


def _check_year(year: int) -> int:
    if year > MAXYEAR:
        raise ValueError(f"The calendar ends with the year {MAXYEAR}, before {year}.")
    return year


def is_in_date(tested: date, on: date, months: int = 5) -> bool:
    """Whether the test still holds on a day. A day before the test is not in date: nothing was known yet."""
    return tested <= on <= last_ship_day(tested, months)


def age_in_months(tested: date, on: date) -> int:
    """Full months from the test to a day: a month is full on the same day of the month, or on its last day.

    Raises ValueError if the day comes before the test.
    """
    if on < tested:
        raise ValueError(f"{on} comes before the test of {tested}.")
    months = (on.year - tested.year) * 12 + on.month - tested.month
    full = on.day >= tested.day or on == end_of_month(on)
    return months if full else months - 1


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
        packed_in_time=packed <= months_later(harvested, MONTHS_TO_PACKING),
        tight=check_mass(vapour, "The water vapour", zero=True) <= MOST_VAPOUR,
        dry=check_mass(moisture, "The moisture", zero=True) <= exact(most_moisture),
    )
