"""Measured values held against the crop's practice."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pandas import Series

    from certgen.standards import Practice


def outside(values: Series[Any], practice: Practice | None) -> Series[Any]:
    """Which values, in the practice's own unit, leave its usual range; never a missing one."""
    if practice is None:
        return values.isna() & False
    low, high = practice.range
    return ((values < low) | (values > high)).fillna(value=False).astype("bool")


def days_between(first: Series[Any], last: Series[Any]) -> Series[Any]:
    """Whole days from one day to another; missing where either is, or where they run backwards."""
    days = (last - first).dt.days
    return days.where(days >= 0)


def compare(said: str, practice: Practice, value: float) -> str:
    """ "was dried at 52 °C, where practice is at most 40 °C": a value, and the range that it leaves."""
    doubt = ", and such a figure can hardly be right" if practice.grade(value) == "impossible" else ""
    return f"{said}, where practice is {practice.text()}{doubt}"
