"""From a spreadsheet cell to a value as the records write it, by the field's kind.

Dates as people write them become calendar dates without guessing.
"""

from __future__ import annotations

import datetime as dt
import re
from decimal import Decimal
from typing import TYPE_CHECKING, Literal

from certgen.exchange.importing.grids import Cell
from certgen.exchange.spreadsheets.rows import split_list
from certgen.records.tables import Field

if TYPE_CHECKING:
    from collections.abc import Iterable

#: What a cell shows whose formula fails (ECMA-376).
ERRORS = frozenset({"#REF!", "#N/A", "#NAME?", "#DIV/0!", "#NULL!", "#NUM!", "#VALUE!", "#GETTING_DATA"})
#: What growers tick and write for yes and no.
YES = frozenset({"yes", "y", "true", "1", "x", "✓", "✔"})
NO = frozenset({"no", "n", "false", "0", "-"})


class CellError(ValueError):
    """A cell that does not hold what its column takes; the message says what to write."""


def read_cell(
    cell: Cell,
    field: Field,
    order: Order | None,
    unit: str = "",
    words: tuple[str, ...] = (),
    decimal: str = "",
) -> object:
    """A cell's value as a record writes it: text, yes/no, or a list of texts. Raises `CellError`.

    `unit` is the one a heading names (`Weight (g)`); `words` are the words that the field takes; `decimal`
    says what commas in numbers are, as `read_commas` takes it.
    """
    if cell.formula:
        raise CellError(_tell_no_value(cell))
    if decimal and isinstance(cell.value, str) and takes_numbers(field):
        cell = cell._replace(value=read_commas(cell.value, decimal))
    if field.kind in {"list", "evidence"}:
        item = field.item or Field(field.name, "text")
        parts = split_list(cell.value) if isinstance(cell.value, str) else [cell]
        return [_read_one(_part(part, cell), item, order, unit, words) for part in parts]
    return _read_one(cell, field, order, unit, words)


def _tell_no_value(cell: Cell) -> str:
    text = str(cell.value)
    if text in ERRORS:
        return f"holds an error, {text}; mend it in the workbook, or empty the cell"
    shown = f" ({text[:60]})" if text.startswith("=") else ""
    return (
        f"holds a formula{shown} or something that is no value; copy the column and paste it as values only"
    )


def takes_numbers(field: Field) -> bool:
    """Whether a field, or each of its list, is a number or a quantity."""
    one = field.item or field
    return one.is_quantity or one.kind in {"whole", "number"}


def read_commas(text: str, decimal: str) -> str:
    """A number's text with a point for decimals and nothing between thousands.

    `decimal` is `comma` where 3,5 is three and a half, `thousands` where 1,250 is twelve hundred and fifty.
    Raises `CellError` where a point stands among decimal commas: it may part thousands.
    """
    if decimal == "thousands":
        return re.sub(r"(?<=[0-9]),(?=[0-9]{3}(?![0-9]))", "", text)
    if re.search(r"[0-9]\.[0-9]", text):
        raise CellError(
            f"holds '{text[:40]}' with a point, and in this sheet commas are the decimals; write 1250 or 1,25"
        )
    return re.sub(r"(?<=[0-9]),(?=[0-9])", ".", text)


def _part(part: str | Cell, cell: Cell) -> Cell:
    return part if isinstance(part, Cell) else Cell(part, cell.address)


def _read_one(cell: Cell, field: Field, order: Order | None, unit: str, words: tuple[str, ...]) -> object:
    value, kind = cell.value, field.kind
    if kind == "date":
        return _read_day(value, order)
    if kind == "yes_no":
        return _read_yes_no(value)
    if field.is_quantity:
        return _read_quantity(cell, kind, unit)
    text = as_text(value)
    if kind in {"whole", "number"}:
        return _read_number(text.strip(), kind)
    if kind == "identifier":
        return shorten_dashes(text.strip())
    listed = words or field.enum
    return _read_word(text, listed) if listed else text


def shorten_dashes(text: str) -> str:
    """An identifier with hyphens for the long dashes that spreadsheets put in their place.

    No identifier can hold a long dash, so nothing else can be meant.
    """
    return re.sub("(?<=[A-Za-z0-9])[\u2010-\u2015\u2212](?=[A-Za-z0-9])", "-", text)


def _read_word(text: str, listed: tuple[str, ...]) -> str:
    """A word as its list has it, in whatever case it was typed; another one is left to be objected to."""
    typed = text.strip()
    folded = " ".join(text.split()).casefold()
    same = [word for word in listed if word.casefold() == folded]
    return same[0] if typed not in listed and len(same) == 1 else typed


def _read_number(text: str, kind: str) -> object:
    """A number where the text is one; other text is left for the reader of records to object to."""
    if re.fullmatch(r"[+-]?[0-9]{1,15}", text):
        return int(text)
    return float(text) if kind == "number" and re.fullmatch(r"[+-]?[0-9]{1,15}\.[0-9]{1,15}", text) else text


def _read_day(value: object, order: Order | None) -> dt.date:
    if isinstance(value, dt.datetime):
        if value.time() != dt.time():
            raise CellError(f"holds a time of day ({value:%H:%M}); only the date belongs here")
        return value.date()
    if isinstance(value, dt.date):
        return value
    if isinstance(value, str):
        try:
            return read_date(value, order)
        except DateError as fault:
            raise CellError(str(fault)) from fault
    raise CellError(f"holds '{as_text(value)}' where a date belongs; write it as 2026-04-03")


def _read_yes_no(value: object) -> bool:
    text = as_text(value).strip().casefold()
    if text in YES:
        return True
    if text in NO:
        return False
    raise CellError(f"holds '{text[:40]}' where yes or no belongs")


def _read_quantity(cell: Cell, kind: str, unit: str) -> str:
    value = cell.value
    if isinstance(value, int | float) and not isinstance(value, bool):
        if kind == "percent" and cell.percent:
            return f"{_number(Decimal(repr(value)) * 100)} %"
        if unit:
            return f"{_number(Decimal(repr(value)))} {unit}"
        if kind == "percent":
            return f"{_number(Decimal(repr(value)))} %"
        raise CellError(
            f"holds {as_text(value)} without a unit; write for example '{as_text(value)} {_usual(kind)}'"
        )
    text = as_text(value)
    if unit and re.fullmatch(r"\s*[+-]?[0-9]+(\.[0-9]+)?\s*", text):
        return f"{text.strip()} {unit}"
    return text


def _number(value: Decimal) -> str:
    shown = format(value.normalize(), "f")
    return shown if len(shown) <= 18 else format(value, ".12g")


def _usual(kind: str) -> str:
    units = {"mass": "g", "temperature": "°C", "length": "mm", "duration": "h", "area": "ha"}
    return units.get(kind, "%")


def as_text(value: object) -> str:
    """A cell's value as people see it: a whole number that a spreadsheet keeps as 17.0 is 17."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    if isinstance(value, dt.datetime):
        return value.date().isoformat() if value.time() == dt.time() else value.isoformat(" ")
    if isinstance(value, dt.time):
        return value.strftime("%H:%M:%S" if value.second else "%H:%M")
    return str(value)


Order = Literal["dmy", "mdy"]

_ISO = re.compile(r"([0-9]{4})-([0-9]{1,2})-([0-9]{1,2})(?:[T ]00:00(?::00(?:\.0+)?)?)?")
_YEAR_FIRST = re.compile(r"([0-9]{4})[/.]([0-9]{1,2})[/.]([0-9]{1,2})")
_NUMBERS = re.compile(r"([0-9]{1,2})([/.-])([0-9]{1,2})\2([0-9]{4}|[0-9]{2})")
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


_CENTURY = 2000


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
    """One date. `order` settles numeric dates, those of this century with a year of two digits too; None
    refuses these, and those that read differently both ways.

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
    raise DateError(f"'{text[:40]}' is no date; write it as 2026-04-03")


def _read_numeric(parts: re.Match[str], text: str, order: Order | None) -> dt.date:
    if order is None and len(parts[4]) == 2:
        raise DateError(
            f"'{text}' has two digits for the year; say what comes first with --dates dmy or --dates mdy, or "
            "write all four, as in 2026-04-03"
        )
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
    # Where it is told which comes first, the year is what is left; no season is older than this century.
    year += _CENTURY if len(parts[4]) == 2 else 0
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
