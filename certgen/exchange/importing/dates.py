"""Dates as people write them, turned into calendar dates without guessing.

`3/4/2026` is the third of April on one farm and the fourth of March on the next. A column of such dates is
read only when its other dates leave one reading, or when the grower says which it is.
"""

from __future__ import annotations

import datetime as dt
import re
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from collections.abc import Iterable

Order = Literal["dmy", "mdy"]

_ISO = re.compile(r"([0-9]{4})-([0-9]{1,2})-([0-9]{1,2})(?:[T ]00:00(?::00(?:\.0+)?)?)?")
_YEAR_FIRST = re.compile(r"([0-9]{4})[/.]([0-9]{1,2})[/.]([0-9]{1,2})")
_NUMBERS = re.compile(r"([0-9]{1,2})([/.-])([0-9]{1,2})\2([0-9]{4})")
_SHORT_YEAR = re.compile(r"[0-9]{1,2}([/.-])[0-9]{1,2}\1[0-9]{2}")
_DAY_WORD = re.compile(r"([0-9]{1,2})(?:st|nd|rd|th)?[ .-]+([A-Za-z]{3,9})\.?[ ,.-]+([0-9]{4})")
_WORD_DAY = re.compile(r"([A-Za-z]{3,9})\.?[ -]+([0-9]{1,2})(?:st|nd|rd|th)?,?[ -]+([0-9]{4})")
_MONTHS = [
    "january",
    "february",
    "march",
    "april",
    "may",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
    "december",
]


class DateError(ValueError):
    """Text that is no date, or a date that cannot be told from another; the message says what to write."""


def decide_order(texts: Iterable[str]) -> Order | None:
    """The one order of day and month that fits every numeric date of a column; None when both fit.

    Raises `DateError` when neither fits all of them. Dates such as 5/5/2026, the same either way, decide
    nothing. A column without numeric dates fits both.
    """
    possible: set[Order] = {"dmy", "mdy"}
    seen: dict[Order, str] = {}
    for text in texts:
        date = _NUMBERS.fullmatch(text.strip())
        if date is None:
            continue
        fits = {order for order in ("dmy", "mdy") if _numeric(date, order) is not None}
        for order in possible - fits:
            seen[order] = text
        possible &= fits
    if possible:
        return possible.pop() if len(possible) == 1 else None
    raise DateError(
        f"the column mixes dates: '{seen['dmy']}' has no day first and '{seen['mdy']}' has no month first; "
        "write them as 2026-04-03"
    )


def read_date(text: str, order: Order | None) -> dt.date:
    """One date. `order` settles numeric dates; None refuses those that read differently both ways.

    Raises `DateError`.
    """
    text = text.strip()
    if parts := _ISO.fullmatch(text) or _YEAR_FIRST.fullmatch(text):
        return _build(text, int(parts[1]), int(parts[2]), int(parts[3]))
    if parts := _NUMBERS.fullmatch(text):
        return _read_numeric(parts, text, order)
    if parts := _DAY_WORD.fullmatch(text):
        return _build(text, int(parts[3]), _month(parts[2], text), int(parts[1]))
    if parts := _WORD_DAY.fullmatch(text):
        return _build(text, int(parts[3]), _month(parts[1], text), int(parts[2]))
    if _SHORT_YEAR.fullmatch(text):
        raise DateError(f"'{text}' has two digits for the year; write all four, as in 2026-04-03")
    raise DateError(f"'{text[:40]}' is no date; write it as 2026-04-03")


def _read_numeric(parts: re.Match[str], text: str, order: Order | None) -> dt.date:
    if order is not None:
        date = _numeric(parts, order)
        if date is None:
            form = "day/month/year" if order == "dmy" else "month/day/year"
            raise DateError(f"'{text}' is no date when read as {form}")
        return date
    readings = {date for reading in ("dmy", "mdy") if (date := _numeric(parts, reading)) is not None}
    if len(readings) == 1:
        return readings.pop()
    if not readings:
        raise DateError(f"'{text}' is no date; write it as 2026-04-03")
    raise DateError(f"'{text}' can be two dates; say which with --dates dmy or --dates mdy")


def _numeric(parts: re.Match[str], order: Literal["dmy", "mdy"]) -> dt.date | None:
    first, second, year = int(parts[1]), int(parts[3]), int(parts[4])
    day, month = (first, second) if order == "dmy" else (second, first)
    try:
        return dt.date(year, month, day)
    except ValueError:
        return None


def _month(word: str, text: str) -> int:
    matches = [
        i
        for i, name in enumerate(_MONTHS, 1)
        if name.startswith(word.lower()) or word.lower() == name[:3] + "t"
    ]
    if len(matches) != 1:
        raise DateError(f"'{text[:40]}' names no month that is known here; write it as 2026-04-03")
    return matches[0]


def _build(text: str, year: int, month: int, day: int) -> dt.date:
    try:
        return dt.date(year, month, day)
    except ValueError:
        raise DateError(f"'{text}' is no day of the calendar") from None
