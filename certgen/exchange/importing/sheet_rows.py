"""Which rows of somebody's sheet are records: the headings under titles, no totals, no blank rows.

Whatever is passed over is said, with its cells, so that nothing goes missing in silence.
"""

from __future__ import annotations

import re
from collections.abc import Collection
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from certgen.exchange.importing.grids import Cell, Sheet
from certgen.records.nouns import noun

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

Row = dict[int, Cell]

#: Headings are looked for in so many filled rows.
_TITLES: Final = 30
#: So many cells are named, the others counted.
_NAMED: Final = 3
_TOTAL: Final = re.compile(
    r"((grand|overall|running)[ -])?(sub[ -]?)?totals?|sums?( of .{1,40})?|average|mean|in all|altogether"
    r"|total (of |for |in )?[a-z ]{1,40}"
)


def find_headings(sheet: Sheet, known: Callable[[str], bool]) -> Sheet:
    """The sheet with its headings where they stand: in the row with the most headings that are known.

    Where no row has two of them, the first row stays; a single column may have a single one. Of two rows with
    equally many the upper is taken, and rows below the first are looked at only among the first thirty.
    """
    rows = [sheet.headings, *sheet.rows[: _TITLES - 1]]
    scores = [_count_known(row, known) for row in rows]
    best = max(scores)
    widest = max((len(row) for row in sheet.rows), default=0)
    if best < min(2, max(widest, 1)):
        return _below_titles(sheet, rows)
    at = scores.index(best)
    return sheet if at == 0 else Sheet(sheet.name, rows[at], sheet.rows[at:])


def _below_titles(sheet: Sheet, rows: Sequence[Row]) -> Sheet:
    """Passes over rows of a single text cell, where what follows is wider: titles."""
    at = 0
    while at + 1 < len(rows) and len(rows[at]) == 1 and len(rows[at + 1]) > 1:
        at += 1
    if at and all(isinstance(cell.value, str) for cell in rows[at].values()):
        return Sheet(sheet.name, rows[at], sheet.rows[at:])
    return sheet


def _count_known(row: Row, known: Callable[[str], bool]) -> int:
    """How many cells of a row are headings that are known; 0 for a row that holds a day or a number."""
    texts = [cell.value for cell in row.values()]
    if not all(isinstance(text, str) for text in texts):
        return 0
    words = [text.strip() for text in texts if isinstance(text, str)]
    return len({word for word in words if known(word)})


def say_titles(before: Sheet, after: Sheet) -> str:
    """What was passed over above the headings, in a sentence; empty where nothing was."""
    if before.headings is after.headings:
        return ""
    first = next(iter(before.headings.values()))
    return (
        f"sheet '{before.name}': the headings stand in row {row_number(after.headings)}; what is above them "
        f"was taken for titles ({first.address}: '{str(first.value)[:60]}')"
    )


def skip_rows(sheet: Sheet) -> tuple[Sheet, list[str]]:
    """The sheet without totals, headings that are said again, and blank rows; and what was skipped."""
    heads = {index: _folded(cell) for index, cell in sheet.headings.items()}
    kept: list[Row] = []
    totals: list[Cell] = []
    again: list[Cell] = []
    for row in sheet.rows:
        first = row[min(row)]
        if is_total(row):
            totals.append(first)
        elif len(row) > 1 and all(heads.get(index) == _folded(cell) for index, cell in row.items()):
            again.append(first)
        else:
            kept.append(row)
    said = [
        f"sheet '{sheet.name}': {what} skipped ({name_cells(cells)})"
        for what, cells in (("totals", totals), ("headings that stand again", again))
        if cells
    ]
    blank = _count_blank(sheet)
    if blank:
        said.append(f"sheet '{sheet.name}': {blank:,} {noun('blank row', blank)} skipped")
    return Sheet(sheet.name, sheet.headings, tuple(kept)), said


def name_columns(sheet: Sheet) -> tuple[Sheet, list[str]]:
    """The sheet with its columns told apart, and what was done: of headings that stand twice the second is
    named `g (2)`; what stands below no heading is left out by its cells."""
    taken: set[str] = set()
    headings: dict[int, Cell] = {}
    said = []
    for index in sorted(sheet.headings):
        cell = sheet.headings[index]
        text = name = str(cell.value).strip()
        number = 2
        while name in taken:
            name, number = f"{text} ({number})", number + 1
        if name != text:
            said.append(
                f"sheet '{sheet.name}': the heading '{text[:60]}' stands again in {cell.address}; that "
                f"column is called '{name[:70]}'"
            )
        taken.add(name)
        headings[index] = cell if name == text else cell._replace(value=name)
    stray = [
        cell for row in sheet.rows for index, cell in row.items() if index not in headings and not cell.empty
    ]
    if stray:
        shown = ", ".join(f"'{' '.join(str(cell.value).split())[:30]}'" for cell in stray[:_NAMED])
        said.append(
            f"sheet '{sheet.name}': {len(stray):,} {noun('cell', len(stray))} below no heading "
            f"left out ({name_cells(stray)}: {shown})"
        )
    return replace(sheet, headings=headings), said


def is_total(row: Mapping[int, Cell]) -> bool:
    """Whether a row sums up others: it begins with a word for that, or holds nothing but formulas."""
    first = row[min(row)]
    if isinstance(first.value, str) and _TOTAL.fullmatch(_folded(first).rstrip(" :.")) is not None:
        return all(cell.formula or not isinstance(cell.value, str) for cell in row.values() if cell != first)
    return all(cell.formula and str(cell.value).startswith("=") for cell in row.values())


def _count_blank(sheet: Sheet) -> int:
    """Blank rows between the headings and the last row."""
    if not sheet.rows:
        return 0
    return max(0, row_number(sheet.rows[-1]) - row_number(sheet.headings) - len(sheet.rows))


def name_cells(cells: Collection[Cell]) -> str:
    """The first cells by their addresses, the others counted: `C4, C5, C9 and 35 more`."""
    shown = ", ".join(cell.address for cell in list(cells)[:_NAMED])
    return shown if len(cells) <= _NAMED else f"{shown} and {len(cells) - _NAMED:,} more"


def row_number(row: Mapping[int, Cell]) -> int:
    """The number of a row, as its cells' addresses have it."""
    return int(re.sub(r"[^0-9]", "", next(iter(row.values())).address) or 0)


def _folded(cell: Cell) -> str:
    return " ".join(str(cell.value).split()).casefold()
