"""What a grower typed, as numbers: whole milligrams, days, degrees, millimetres."""

from __future__ import annotations

import re
from datetime import date
from decimal import ROUND_HALF_EVEN, Decimal
from typing import Any

_QUANTITY = re.compile(r"\s*([-+−]?)([0-9]{1,20}(?:\.[0-9]{1,20})?)\s*([^0-9\s].*?)\s*")
_UNITS = {
    "mass": {
        "mg": "1", "milligram": "1", "milligrams": "1", "g": "1000", "gram": "1000", "grams": "1000",
        "kg": "1000000", "kilogram": "1000000", "kilograms": "1000000", "t": "1000000000",
        "oz": "28349.523125", "ounce": "28349.523125", "ounces": "28349.523125",
        "lb": "453592.37", "lbs": "453592.37", "pound": "453592.37", "pounds": "453592.37",
    },
    "length": {
        "mm": "1", "cm": "10", "m": "1000", "km": "1000000", "in": "25.4", "inch": "25.4", "inches": "25.4",
        "ft": "304.8", "foot": "304.8", "feet": "304.8", "yd": "914.4", "yard": "914.4", "yards": "914.4",
        "mi": "1609344", "mile": "1609344", "miles": "1609344", "metres": "1000", "meters": "1000",
    },
    "duration": {
        "s": "1", "sec": "1", "second": "1", "seconds": "1", "min": "60", "minute": "60", "minutes": "60",
        "h": "3600", "hour": "3600", "hours": "3600", "d": "86400", "day": "86400", "days": "86400",
        "wk": "604800", "week": "604800", "weeks": "604800",
    },
    "percent": {"%": "1", "percent": "1"},
    "area": {
        "m2": "1", "m²": "1", "ha": "10000", "acre": "4046.8564224", "acres": "4046.8564224",
        "ac": "4046.8564224", "sq ft": "0.09290304", "ft2": "0.09290304", "ft²": "0.09290304",
    },
}  # fmt: skip
_DEGREES = {"c": False, "°c": False, "ºc": False, "f": True, "°f": True, "ºf": True}
#: Words that fill a line and say nothing.
PLACEHOLDERS = frozenset({
    "", "?", "??", "???", "-", "--", "---", "–", "—", ".", "..", "...", "n/a", "na", "n.a.", "none",
    "unknown", "not known", "tbd", "tba", "tbc", "todo", "x", "xx", "xxx", "nil", "nothing", "pending",
    "to follow", "later", "missing", "nobody", "somebody", "someone", "various", "misc",
})  # fmt: skip


class RefusedError(ValueError):
    """A value of a form that the reader doesn't take."""


def quantity(kind: str, text: str) -> Decimal:
    """A number and a unit in the unit that is reckoned with: mg, mm, s, °C, per cent, m²."""
    found = _QUANTITY.fullmatch(text)
    if not found:
        raise RefusedError(f"no number and unit: {text[:40]!r}")
    sign, number, unit = found.groups()
    amount = Decimal(number) * (-1 if sign in {"-", "−"} else 1)
    if kind == "temperature":
        if unit.casefold() not in _DEGREES:
            raise RefusedError(f"no scale of temperature: {text[:40]!r}")
        amount = (amount - 32) * 5 / 9 if _DEGREES[unit.casefold()] else amount
        if amount < Decimal("-273.15"):
            raise RefusedError("colder than anything can be")
        return amount
    if unit not in _UNITS[kind]:
        raise RefusedError(f"no unit of {kind}: {text[:40]!r}")
    if sign in {"-", "−"}:
        raise RefusedError(f"below nothing: {text[:40]!r}")
    return amount * Decimal(_UNITS[kind][unit])


def milligrams(text: str) -> int:
    """A weight in whole milligrams."""
    return int(quantity("mass", text).quantize(Decimal(1), ROUND_HALF_EVEN))


def day(text: str) -> int:
    """A calendar date as the number of its day."""
    if not re.fullmatch(r"[12][0-9]{3}-[0-9]{2}-[0-9]{2}", text, re.ASCII):
        raise RefusedError(f"no date: {text[:40]!r}")
    try:
        return date.fromisoformat(text).toordinal()
    except ValueError as error:
        raise RefusedError(str(error)) from error


def months_later(when: int, months: int) -> int:
    """The same day of the month so many months later, or that month's last day."""
    start = date.fromordinal(when)
    year, month = divmod(start.year * 12 + start.month - 1 + months, 12)
    if year > date.max.year:
        return date.max.toordinal()
    for last in range(start.day, 27, -1):
        try:
            return date(year, month + 1, last).toordinal()
        except ValueError:
            continue
    return date(year, month + 1, start.day).toordinal()


def silent(value: Any) -> bool:
    """Whether a text says nothing: '?', '-', 'n/a', 'none', 'unknown' and their like."""
    return isinstance(value, str) and value.strip().casefold() in PLACEHOLDERS


def plain(text: str) -> str:
    """A name without the differences of case and spacing that mean nothing."""
    return " ".join(text.split()).casefold()


def number_on_a_mark(text: str) -> str:
    """The number on a leaf's mark or a tag, without 'no.', 'nr' or 'tree' before it; digits as written."""
    found = re.sub(r"^(?:(?:no|nr|num|number|tree)\b[.:]?|#|№)\s*", "", plain(text))
    return found.strip()
