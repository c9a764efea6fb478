"""Tables of the packet: a column is declared once, its heading and its cells together.

A cell holds its figure and unit apart until all rows are known: a unit that a whole column shares stands
once, in the heading, and the figures below it are aligned digit by digit.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import lru_cache
from typing import Final, Generic, TypeVar

from certgen.records.quantities import format_mass
from certgen.report.wording import key, whole
from certgen.typeset.design import WEIGHT_MARKS
from certgen.typeset.parts import Cell, Grid, Head, Row, Run

#: What stands where nothing was recorded.
NOTHING: Final = "–"
#: Units that a heading may say for its whole column.
_SHARED: Final = frozenset({"mg", "g", "kg", "%", "°C", "m", "mm", "days", "points"})
#: As wide as a digit, and (twice a narrow space) as a point: they hold the place of absent decimals.
_DIGIT: Final = "\u2007"
_POINT: Final = "\u202f\u202f"


@dataclass(frozen=True, slots=True)
class Amount:
    """A figure and its unit; `gap` stands between them where they stand together."""

    figure: str
    unit: str = ""
    gap: str = "\u00a0"

    def text(self) -> str:
        """The figure with its unit."""
        return f"{self.figure}{self.gap}{self.unit}" if self.unit else self.figure


#: What a column may show of a row.
Shown = str | int | date | Amount | Cell | None
RowType = TypeVar("RowType")


@dataclass(frozen=True, slots=True)
class Column(Generic[RowType]):
    """A column: its heading, and what it shows of a row.

    `kind` is `text`, `number` (set right), `date`, `key` (an identifier, kept whole while it is short),
    `long` (an identifier that may break), `standing` or `weight` (the word with its shape). `share` is its
    part of the width, where the texts don't tell it. `total` is what stands below all rows.
    """

    title: str
    kind: str
    shown: Callable[[RowType], Shown]
    share: str = ""
    total: Callable[[Sequence[RowType]], Shown] | None = None


def table(
    caption: str,
    columns: Sequence[Column[RowType]],
    rows: Sequence[RowType],
    *,
    note: str = "",
    width: str = "measure",
    close: bool = False,
    tone: Callable[[RowType], str] = lambda _row: "plain",
) -> Grid:
    """The table of some rows. A column's `total` adds a last row, in which the other columns are empty."""
    shown = [[column.shown(row) for row in rows] for column in columns]
    tones = [tone(row) for row in rows]
    if any(column.total for column in columns):
        for column, values in zip(columns, shown, strict=True):
            values.append(column.total(rows) if column.total else "")
        tones.append("total")
    return lay_out(caption, columns, shown, tones, note=note, width=width, close=close)


def fold(
    columns: Sequence[Column[RowType]], rows: Sequence[RowType]
) -> tuple[tuple[Column[RowType], ...], str]:
    """The columns that tell rows apart, and in words what the others show of every row.

    Only columns of text are folded, never the first, and none of a single row.
    """
    if len(rows) < 2:
        return tuple(columns), ""
    kept, told = list(columns[:1]), []
    for column in columns[1:]:
        texts = {say_shown(column.shown(row)) for row in rows} if column.kind == "text" else set()
        if len(texts) != 1:
            kept.append(column)
        elif (text := texts.pop()) not in {"", NOTHING}:
            told.append(f"{column.title[0].lower()}{column.title[1:]} {text}")
    return tuple(kept), f"The same in every row: {'; '.join(told)}." if told else ""


def lay_out(
    caption: str,
    columns: Sequence[Column[RowType]],
    shown: Sequence[Sequence[Shown]],
    tones: Sequence[str],
    *,
    note: str = "",
    width: str = "measure",
    close: bool = False,
) -> Grid:
    """A table from what its columns show, and the tone of each row."""
    heads, cells = [], []
    for column, values in zip(columns, shown, strict=True):
        unit = _shared_unit(values) if column.kind == "number" else ""
        # A heading takes the place of the words that a unit would stand behind.
        title = f"{column.title},\u00a0{unit}" if unit and column.title else column.title or unit
        kind = column.kind if column.kind in {"number", "date", "key"} else "text"
        heads.append(Head(title, kind, column.share))
        total = tones[-1] == "total" if tones else False
        cells.append(_column_cells(column.kind, _aligned(values) if unit else values, total=total))
    rows = tuple(Row(row, tone=tone) for row, tone in zip(zip(*cells, strict=True), tones, strict=True))
    return Grid(caption, tuple(heads), rows, note, width, close)


def _shared_unit(values: Sequence[Shown]) -> str:
    """The unit that all figures of a column have; none of one row, or where a cell holds anything else."""
    units = {value.unit for value in values if isinstance(value, Amount)}
    others = {value for value in values if not isinstance(value, Amount)} - {None, "", NOTHING}
    return units.pop() if len(units) == 1 and units <= _SHARED and not others and len(values) > 1 else ""


def _aligned(values: Sequence[Shown]) -> list[Shown]:
    """The figures of a column without their unit, each with room for the decimals that it lacks."""
    figures = [value.figure if isinstance(value, Amount) else value for value in values]
    places = max(len(figure.partition(".")[2]) for figure in figures if isinstance(figure, str))

    def align(figure: Shown) -> Shown:
        if not isinstance(figure, str) or figure in {"", NOTHING} or not places:
            return figure
        decimals = len(figure.partition(".")[2])
        return figure + ("" if decimals else _POINT) + _DIGIT * (places - decimals)

    return [align(figure) for figure in figures]


def _column_cells(kind: str, values: Sequence[Shown], *, total: bool) -> list[Cell]:
    cells = [_cell(kind, value) for value in values]
    if total and (kind != "number" or not values[-1]):
        # The word 'All' is no identifier, and an empty cell neither that nor a figure.
        cells[-1] = replace(cells[-1], kind="text", mark="")
    return cells


def _cell(kind: str, shown: Shown) -> Cell:
    return shown if isinstance(shown, Cell) else _text_cell(kind, say_shown(shown))


@lru_cache(maxsize=4_096)
def _text_cell(kind: str, text: str) -> Cell:
    """A cell of a text. Thousands say the same, most of them nothing: they are one, and are sent to another
    process and gone through as one."""
    if kind == "key":
        return key(text)
    if kind == "standing":
        return Cell((Run(text),), mark=text)
    if kind == "weight":
        return Cell((Run(text),), mark=WEIGHT_MARKS[text])
    return Cell((Run(text),), kind)


def say_shown(shown: Shown) -> str:
    """What is shown, as text: a dash for nothing, days in ISO form, counts with thousands set apart."""
    if shown is None:
        return NOTHING
    if isinstance(shown, int):
        return whole(shown)
    if isinstance(shown, Amount):
        return shown.text()
    if isinstance(shown, Cell):
        return "".join(run.text for run in shown.runs)
    return shown if isinstance(shown, str) else shown.isoformat()


def mass(milligrams: float | None) -> Amount | None:
    """A mass as everywhere in certgen; None where nothing was weighed."""
    if milligrams is None:
        return None
    figure, _, unit = format_mass(int(milligrams)).partition("\u00a0")
    return Amount(figure, unit)


def grams(
    title: str, milligrams: Callable[[RowType], float | None], share: str = "", *, summed: bool = False
) -> Column[RowType]:
    """A column of masses, and their sum where it is wanted."""

    def add_up(rows: Sequence[RowType]) -> Shown:
        return mass(sum(milligrams(row) or 0 for row in rows))

    return Column(title, "number", lambda row: mass(milligrams(row)), share, add_up if summed else None)


def as_amount(text: str) -> Amount | str:
    """A quantity as it was written: the figure and its unit, or the text where it is no such thing."""
    for gap in (" ", "\u00a0"):
        figure, parted, unit = text.rpartition(gap)
        digits = figure.lstrip("+−- ").replace("\u202f", "").replace("\u00a0", "").replace(".", "", 1)
        if parted and digits.isdecimal() and not unit[:1].isdecimal():
            return Amount(figure, unit, gap)
    return text
