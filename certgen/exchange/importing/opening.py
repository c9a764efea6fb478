"""A file of somebody's records on its way in: its sheets, and what each of them is.

Between the command and the plan: reads the file, knows our own sheets, applies a saved map, or guesses one.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from certgen.exchange.importing.grids import Sheet, read_grids
from certgen.exchange.importing.headings import MapError, SheetMap, guess_map, match_own, read_map, with_dates
from certgen.exchange.importing.round_forms import read_form

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

_HIDDEN = "lists"


@dataclass(slots=True)
class Spreadsheet:
    """`mapped`: sheets whose columns are known. `guessed`: those that wait for somebody to confirm the guess.

    `season`: our own workbook's sheet of the `season` mapping. `passed_over`: sheets that a map does not
    name.
    """

    mapped: list[tuple[Sheet, SheetMap]] = field(default_factory=list)
    guessed: list[SheetMap] = field(default_factory=list)
    season: Sheet | None = None
    passed_over: list[str] = field(default_factory=list)


def open_spreadsheet(
    path: Path, *, map_file: Path | None = None, table: str = "", dates: str = "", encoding: str = "utf-8"
) -> Spreadsheet:
    """Read a file and tell what its sheets are. Raises `GridError` and `MapError`."""
    sheets = read_grids(path, encoding=encoding)
    if not sheets:
        raise MapError(f"{path.name}: holds nothing")
    saved = read_map(map_file) if map_file is not None else {}
    spreadsheet = Spreadsheet()
    for sheet in sheets:
        if saved:
            _take_mapped(spreadsheet, sheet, saved, dates)
        else:
            _take(spreadsheet, sheet, table, dates, alone=len(sheets) == 1)
    if saved and not spreadsheet.mapped:
        names = ", ".join(f"'{name}'" for name in saved)
        raise MapError(f"{path.name}: the map is for sheets {names}, and the file has none of them")
    return spreadsheet


def _take_mapped(spreadsheet: Spreadsheet, sheet: Sheet, saved: Mapping[str, SheetMap], dates: str) -> None:
    sheet_map = saved.get(sheet.name)
    if sheet_map is None and len(saved) == 1 and sheet.name not in saved:
        # A CSV file is named anew each month; its one map still fits if its headings do.
        only = next(iter(saved.values()))
        headings = {str(cell.value).strip() for cell in sheet.headings.values()}
        sheet_map = only if headings == set(only.columns) else None
    if sheet_map is None:
        spreadsheet.passed_over.append(sheet.name)
    else:
        spreadsheet.mapped.append((sheet, with_dates(sheet_map, dates)))


def _take(spreadsheet: Spreadsheet, sheet: Sheet, table: str, dates: str, *, alone: bool) -> None:
    if sheet.name == "season" and _headings(sheet)[:2] == ["field", "value"]:
        spreadsheet.season = sheet
        return
    if sheet.name == _HIDDEN and not alone:
        return
    form = read_form(sheet) if not table else None
    if form is not None:
        spreadsheet.mapped += [(part, with_dates(sheet_map, dates)) for part, sheet_map in form]
        return
    own = match_own(sheet if not table else Sheet(table, sheet.headings, sheet.rows))
    if own is not None:
        spreadsheet.mapped.append((sheet, with_dates(own, dates)))
    elif sheet.rows:
        spreadsheet.guessed.append(with_dates(guess_map(sheet, table or None), dates))


def _headings(sheet: Sheet) -> list[str]:
    return [str(sheet.headings[index].value).strip() for index in sorted(sheet.headings)]
