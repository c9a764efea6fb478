"""A file of somebody's records on its way in: its sheets, and what each of them is.

Between the command and the plan: reads the file, knows our own sheets, applies a saved map, or guesses one.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Final

from certgen.exchange.importing.cell_pieces import list_keys
from certgen.exchange.importing.cells import DateError, decide_order
from certgen.exchange.importing.column_maps import (
    IGNORED,
    OPEN,
    MapError,
    SheetMap,
    Target,
    find_field,
    with_dates,
)
from certgen.exchange.importing.grids import Sheet, read_grids
from certgen.exchange.importing.heading_names import is_known_heading
from certgen.exchange.importing.headings import (
    NOTHING,
    Known,
    guess,
    guess_open_columns,
    match_own,
)
from certgen.exchange.importing.map_files import read_map
from certgen.exchange.importing.questions import Question, leave_open, list_questions, remarks_of
from certgen.exchange.importing.round_forms import read_form
from certgen.exchange.importing.sheet_rows import find_headings, name_columns, say_titles, skip_rows
from certgen.exchange.importing.suggestions import suggest_decimal
from certgen.records.tables import load_tables

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from pathlib import Path

_HIDDEN: Final = "lists"


@dataclass(slots=True)
class Spreadsheet:
    """What a file comes to.

    `mapped`: sheets whose columns are known. `asked`: those that wait for somebody to confirm the guess or to
    answer a question; of those in `confirmed` a saved map says all but what some words mean. `saved` is
    that map as it was read, and `open_columns` are by sheet those that it doesn't tell; of other sheets all
    wait. `season`: our own workbook's sheet of the `season` mapping. `passed_over`: sheets that a map leaves
    out. `notes`: what was skipped. `reasons` stand behind the lines of the map, by sheet and heading.
    """

    mapped: list[tuple[Sheet, SheetMap]] = field(default_factory=list)
    asked: list[tuple[Sheet, SheetMap]] = field(default_factory=list)
    confirmed: set[str] = field(default_factory=set)
    open_columns: dict[str, frozenset[str]] = field(default_factory=dict)
    saved: Mapping[str, SheetMap] = field(default_factory=dict)
    season: Sheet | None = None
    passed_over: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    reasons: dict[tuple[str, str], str] = field(default_factory=dict)
    known: Known = NOTHING

    @property
    def maps(self) -> list[SheetMap]:
        """The map of every sheet, those among them that a saved map has for other files."""
        found = {one.sheet: one for one in (*(sheet_map for _, sheet_map in self.mapped), *self.guessed)}
        kept = [found.pop(name, one) for name, one in self.saved.items()]
        return [*kept, *found.values()]

    @property
    def guessed(self) -> list[SheetMap]:
        """The maps that wait, with a `?` for each question."""
        return [leave_open(sheet_map, self.questions(sheet, sheet_map)) for sheet, sheet_map in self.asked]

    @property
    def remarks(self) -> dict[tuple[str, str], str]:
        """What stands behind the lines of the maps: reasons, and the questions."""
        asked = [one for sheet, sheet_map in self.asked for one in self.questions(sheet, sheet_map)]
        return {**self.reasons, **remarks_of(asked)}

    def questions(self, sheet: Sheet, sheet_map: SheetMap) -> list[Question]:
        """What a sheet asks that its map doesn't answer."""
        return list_questions(sheet, sheet_map, self.known)

    def reguess(self, sheet: Sheet, sheet_map: SheetMap) -> SheetMap:
        """The map with its open columns guessed, once its table is told."""
        first, *others = [self._reguess_part(sheet, part) for part in sheet_map.parts]
        return replace(first, also=tuple(others))

    def _reguess_part(self, sheet: Sheet, part: SheetMap) -> SheetMap:
        if part.table not in load_tables() or not part.open_columns:
            return part
        found = guess_open_columns(sheet, part, self.known)
        self.reasons |= {(part.sheet, name): text for name, text in found.reasons.items()}
        return found.sheet_map


def open_spreadsheet(
    path: Path,
    *,
    map_file: Path | None = None,
    table: str = "",
    dates: str = "",
    encoding: str = "utf-8",
    known: Known = NOTHING,
) -> Spreadsheet:
    """Read a file and tell what its sheets are. Raises `GridError` and `MapError`."""
    sheets, saved = _read_both(path, map_file, encoding)
    return _understand(path.name, sheets, saved, table, dates, known)


def _read_both(
    path: Path, map_file: Path | None, encoding: str
) -> tuple[tuple[Sheet, ...], dict[str, SheetMap]]:
    sheets = read_grids(path, encoding=encoding)
    if not sheets:
        raise MapError(f"{path.name}: holds nothing")
    return sheets, read_map(map_file) if map_file is not None else {}


def _understand(
    name: str, sheets: tuple[Sheet, ...], saved: Mapping[str, SheetMap], table: str, dates: str, known: Known
) -> Spreadsheet:
    """What sheets are, by a saved map or by their headings, and by what other sheets name.

    Raises `MapError`.
    """
    first = _understand_once(name, sheets, saved, table, dates, known)
    if not first.asked:
        return first
    parts = [(sheet, part) for sheet, one in (*first.mapped, *first.asked) for part in one.parts]
    learned = replace(known, named=_list_named(parts), order=_find_order(parts), decimal=_find_decimal(parts))
    return _understand_once(name, sheets, saved, table, dates, learned)


def _list_named(parts: Sequence[tuple[Sheet, SheetMap]]) -> dict[str, list[str]]:
    """The identifiers that the sheets give their own records, by table."""
    found: dict[str, list[str]] = {}
    for sheet, part in parts:
        table = load_tables().get(part.table)
        if table is not None and not part.child and table.key:
            found.setdefault(table.name, []).extend(list_keys(sheet, part, table.key))
    return found


def _find_order(parts: Sequence[tuple[Sheet, SheetMap]]) -> str:
    """The one order of day and month that the sheets leave no doubt about; empty where there is none."""
    found = {part.dates for _, part in parts} & {"dmy", "mdy"}
    for sheet, part in parts:
        for texts in _texts_of(sheet, part, "date"):
            with suppress(DateError):
                found |= {decide_order(texts) or ""}
    found.discard("")
    return found.pop() if len(found) == 1 else ""


def _find_decimal(parts: Sequence[tuple[Sheet, SheetMap]]) -> str:
    """What commas in the sheets' numbers are, where one of them leaves no doubt and none says otherwise."""
    found = {
        suggest_decimal(texts) for sheet, part in parts for texts in _texts_of(sheet, part, "number", "mass")
    }
    found |= {part.decimal for _, part in parts}
    found -= {"", OPEN}
    return found.pop() if len(found) == 1 else ""


def _texts_of(sheet: Sheet, part: SheetMap, *kinds: str) -> Iterator[list[str]]:
    """The texts of each column that is a field of some kind."""
    table = load_tables().get(part.table)
    for index, heading in sheet.headings.items() if table is not None else ():
        target = part.columns.get(str(heading.value).strip())
        declared = find_field(table, part.child, target.field) if table and target is not None else None
        if declared is not None and declared.kind in kinds:
            texts = (row[index].value for row in sheet.rows if index in row)
            yield [text for text in texts if isinstance(text, str)]


def _understand_once(
    name: str, sheets: tuple[Sheet, ...], saved: Mapping[str, SheetMap], table: str, dates: str, known: Known
) -> Spreadsheet:
    spreadsheet = Spreadsheet(known=known, saved=saved)
    for sheet in sheets:
        if saved:
            _take_mapped(spreadsheet, sheet, saved, dates)
        else:
            _take(spreadsheet, sheet, table, dates, alone=len(sheets) == 1)
    if saved and not (spreadsheet.mapped or spreadsheet.asked):
        names = ", ".join(f"'{one[:60]}'" for one in list(saved)[:20])
        raise MapError(f"{name}: the map is for sheets {names}, and the file has none of them")
    return spreadsheet


def open_for_season(
    path: Path, *, season: Path, map_file: Path | None, table: str, dates: str, encoding: str
) -> Spreadsheet:
    """The same for a sheet on its way into a season: its crop's words and its identifiers are known.

    A folder that can't be read yet knows nothing; the plan says what is wrong with it.
    """
    sheets, saved = _read_both(path, map_file, encoding)
    plain = _understand(path.name, sheets, saved, table, dates, NOTHING)
    if not (plain.asked or saved):
        return plain
    known = _read_known(season)
    return plain if known is NOTHING else _understand(path.name, sheets, saved, table, dates, known)


def _read_known(season: Path) -> Known:
    from certgen.standards import load_profile
    from certgen.standards.season_reading import read_case

    if not season.is_dir() or not any(season.rglob("*.y*ml")):
        return NOTHING
    read, _ = read_case(season)
    if read is None:
        return NOTHING
    keys = {name: table.key for name, table in load_tables().items() if table.key}
    identifiers = {name: tuple(read.tables[name][key].tolist()) for name, key in keys.items()}
    return Known(dict(load_profile(read.details.crop).words), identifiers)


def _take_mapped(spreadsheet: Spreadsheet, sheet: Sheet, saved: Mapping[str, SheetMap], dates: str) -> None:
    sheet_map = _find_saved(saved, sheet)
    if sheet_map is None:
        spreadsheet.passed_over.append(sheet.name)
        return
    if sheet_map.table == IGNORED:
        spreadsheet.notes.append(f"sheet '{sheet.name}' is left out, as the map says")
        return
    sheet = _trim(spreadsheet, sheet, find_headings(sheet, sheet_map.headings.__contains__))
    whole = with_dates(_with_new_columns(sheet_map, sheet), dates)
    spreadsheet.open_columns[sheet.name] = whole.open_columns
    full = spreadsheet.reguess(sheet, whole)
    questions = spreadsheet.questions(sheet, full)
    if full == whole and not questions:
        spreadsheet.mapped.append((sheet, full))
        return
    spreadsheet.asked.append((sheet, full))
    if full == whole and all(question.kind == "word" for question in questions):
        spreadsheet.confirmed.add(sheet.name)


def _find_saved(saved: Mapping[str, SheetMap], sheet: Sheet) -> SheetMap | None:
    """The saved map of a sheet's name; or the only one, where its headings fit.

    A CSV file is named anew each month.
    """
    if sheet.name in saved or len(saved) != 1:
        return saved.get(sheet.name)
    only = next(iter(saved.values()))
    below = find_headings(sheet, only.headings.__contains__)
    fits = bool(only.headings) and only.headings <= set(_headings(below))
    return only if fits else None


def _with_new_columns(sheet_map: SheetMap, sheet: Sheet) -> SheetMap:
    """The map with columns that it doesn't name, as open ones."""
    new = [heading for heading in _headings(sheet) if heading not in sheet_map.headings]
    return replace(sheet_map, columns={**sheet_map.columns, **{heading: Target(OPEN) for heading in new}})


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
        return
    sheet = _trim(spreadsheet, sheet, find_headings(sheet, lambda text: is_known_heading(text, table)))
    if not sheet.rows:
        spreadsheet.notes.append(f"sheet '{sheet.name}' holds no rows below its headings")
        return
    found = guess(sheet, table, spreadsheet.known)
    spreadsheet.asked.append((sheet, with_dates(found.sheet_map, dates)))
    spreadsheet.reasons |= {(sheet.name, name): text for name, text in found.reasons.items()}


def _trim(spreadsheet: Spreadsheet, before: Sheet, after: Sheet) -> Sheet:
    """The sheet without what is no record of it, which is said."""
    trimmed, said = skip_rows(after)
    trimmed, more = name_columns(trimmed)
    said += more
    spreadsheet.notes += [*before.notes, *filter(None, [say_titles(before, after)]), *said]
    return trimmed


def _headings(sheet: Sheet) -> list[str]:
    return [str(sheet.headings[index].value).strip() for index in sorted(sheet.headings)]
