"""Workbooks (.xlsx) as grids: openpyxl takes them apart, and equal cells only once.

Where it reads a sheet as a stream, openpyxl looks through one without a dimension twice, such as it writes
itself, and makes a tree of objects of each text that stands in its cell. A sheet of 20,000 bags holds 300,000
cells and a tenth as many texts.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import io
import warnings
from dataclasses import replace
from string import ascii_uppercase, digits
from typing import IO, TYPE_CHECKING, Any, Final, NamedTuple

from openpyxl.reader.excel import ExcelReader
from openpyxl.styles.numbers import BUILTIN_FORMATS, BUILTIN_FORMATS_MAX_SIZE
from openpyxl.styles.stylesheet import apply_stylesheet
from openpyxl.worksheet._reader import INLINE_STRING, VALUE_TAG, WorkSheetParser
from openpyxl.xml.constants import SHEET_MAIN_NS

from certgen.collector import pause_collector
from certgen.exchange.importing.archives import HostileFileError, check_workbook
from certgen.exchange.importing.grids import COLUMNS, ROWS, Cell, GridError, Sheet, begin_sheet, letters
from certgen.exchange.importing.sheet_markup import Markup, read_markup
from certgen.exchange.spreadsheets.rows import BLANKS, unescape_controls

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence
    from pathlib import Path

_NAMED: Final = 5
LAST_ROW: Final = 1_048_576  # of a sheet, ECMA-376
#: So many different cells are kept, each once: days, words, common numbers.
_KEPT: Final = 50_000
_VALUES: Final = (int, float, bool, dt.date, dt.time, dt.timedelta)
_TEXT: Final = f"{{{SHEET_MAIN_NS}}}t"


def read_workbook(data: bytes, path: Path) -> tuple[Sheet, ...]:
    """Every sheet of a workbook that holds anything. Raises `GridError`."""
    try:
        check_workbook(data)
        # Of some damaged styles openpyxl tells on standard output.
        with warnings.catch_warnings(), contextlib.redirect_stdout(io.StringIO()), pause_collector():
            # What openpyxl leaves out of charts and styles is nothing we read.
            warnings.simplefilter("ignore")
            reader, parts = _open(data)
            with reader.archive:
                sheets = [_read_sheet(reader, part, path) for part in parts]
    except HostileFileError as fault:
        raise GridError(f"{path.name}: {fault}") from fault
    except GridError:
        raise
    except Exception as fault:  # a damaged workbook raises whatever the library happens to trip over
        raise GridError(
            f"{path.name}: the workbook is damaged ({type(fault).__name__}); save it once more"
        ) from fault
    return tuple(sheet for sheet in sheets if sheet is not None)


class _Part(NamedTuple):
    """A sheet of the workbook: its name, whether it is shown, and its part of the archive."""

    title: str
    is_shown: bool
    name: str


def _open(data: bytes) -> tuple[ExcelReader, list[_Part]]:
    """A workbook, its texts and styles read, and its sheets, not read yet; a chart sheet has no cells."""
    reader = ExcelReader(io.BytesIO(data), read_only=True, keep_links=False)
    reader.read_manifest()
    reader.read_strings()
    reader.read_workbook()
    apply_stylesheet(reader.archive, reader.wb)
    return reader, [
        _Part(sheet.name, sheet.state == "visible", rel.target)
        for sheet, rel in reader.parser.find_sheets()
        if rel.target in reader.valid_files and "chartsheet" not in rel.Type
    ]


def _read_sheet(reader: ExcelReader, part: _Part, path: Path) -> Sheet | None:
    markup = read_markup(reader.archive, part.name)
    rows = list(_read_rows(reader, part, f"{path.name}: sheet '{part.title}'"))
    _fill_merged(rows, markup)
    sheet = begin_sheet(part.title, rows)
    return None if sheet is None else replace(sheet, notes=_tell_hidden(part, rows, markup))


class _Found(NamedTuple):
    """What a cell holds, and whether it is per cent or a formula."""

    value: Any
    percent: bool = False
    formula: bool = False


class _Parser(WorkSheetParser):
    """Gives of each cell that holds anything its column, from 0, and what it holds; None of the others.

    A cell with nothing but its value, a date among them, is known by its kind, its style and its text:
    openpyxl reads the first of its like. A text without a look of its own stands in its cell as it is. All
    others, formulas and texts of several looks, are read by openpyxl one by one.
    """

    def __init__(self, source: IO[bytes], reader: ExcelReader) -> None:
        book: Any = reader.wb
        super().__init__(
            source,
            reader.shared_strings,
            epoch=book.epoch,
            date_formats=book._date_formats,  # noqa: SLF001 (as openpyxl gives them to its parser)
            timedelta_formats=book._timedelta_formats,  # noqa: SLF001
        )
        self._percents = _list_percents(book)
        self._columns = {letters(index): index for index in range(COLUMNS)}
        self._texts: dict[str, _Found] = {}
        self._known: dict[tuple[str, str | None, str | None], _Found | None] = {}

    def parse_cell(self, element: Any) -> tuple[int, _Found] | None:  # type: ignore[override]  # rows only list what it gives
        """A cell's column, from 0, and what it holds; None if that is nothing."""
        index = self._columns.get(element.get("r", "").rstrip(digits))
        if index is None or len(element) > 1:
            return self._parse_other(element)
        self.col_counter = index + 1
        if not len(element):
            return None
        inner, kind = element[0], element.get("t", "n")
        if kind != "inlineStr" and inner.tag == VALUE_TAG:
            found = self._take_value(element, (kind, element.get("s"), inner.text))
        elif kind == "inlineStr" and inner.tag == INLINE_STRING and len(inner) == 1 and inner[0].tag == _TEXT:
            found = self._take_text(inner[0].text or "")
        else:
            return self._parse_other(element)
        return None if found is None else (index, found)

    def _take_value(self, element: Any, key: tuple[str, str | None, str | None]) -> _Found | None:
        """What a cell with nothing but its value holds: the same as others of its kind, style and text."""
        if key in self._known:
            return self._known[key]
        parsed = self._parse_other(element)
        found = None if parsed is None else parsed[1]
        if len(self._known) < _KEPT:
            self._known[key] = found
        return found

    def _parse_other(self, element: Any) -> tuple[int, _Found] | None:
        """The same, as openpyxl reads it."""
        cell = super().parse_cell(element)
        value, kind = cell["value"], cell["data_type"]
        found: _Found | None
        if isinstance(value, str) and kind not in {"f", "e"}:
            found = self._take_text(value)
        elif value is None:
            found = None
        elif kind in {"f", "e"} or not isinstance(value, _VALUES):
            found = _Found(str(value), formula=True)
        else:
            found = _Found(value, percent=kind == "n" and cell["style_id"] in self._percents)
        return None if found is None else (cell["column"] - 1, found)

    def _take_text(self, text: str) -> _Found | None:
        """Equal texts are one object; blanks are none."""
        known = self._texts.get(text)
        if known is None and text.strip(BLANKS):
            known = self._texts[text] = _Found(unescape_controls(text))
        return known


def _list_percents(book: Any) -> frozenset[int]:  # openpyxl keeps a workbook's styles to itself
    """The numbers of the styles that show a number as per cent."""
    own = book._number_formats  # noqa: SLF001
    return frozenset(
        at
        for at, style in enumerate(book._cell_styles)  # noqa: SLF001
        if "%"
        in (
            own[style.numFmtId - BUILTIN_FORMATS_MAX_SIZE]
            if style.numFmtId >= BUILTIN_FORMATS_MAX_SIZE
            else BUILTIN_FORMATS.get(style.numFmtId, "")
        )
    )


def _read_rows(reader: ExcelReader, part: _Part, where: str) -> Iterator[dict[int, Cell]]:
    """The rows of a sheet that hold anything."""
    last = 0
    with reader.archive.open(part.name) as source:
        for number, cells in _Parser(source, reader).parse():
            if number > LAST_ROW:
                raise GridError(f"{where} has rows that no spreadsheet can have")
            filled: list[Any] = [cell for cell in cells if cell is not None]
            if not filled:
                continue
            if number <= last:
                raise GridError(f"{where} has its rows out of order (row {number:,}); save it once more")
            if number > ROWS:
                raise GridError(f"{where} has more than {ROWS:,} rows; split it")
            last = number
            yield _address(filled, number, where)


def _address(filled: list[tuple[int, _Found]], number: int, where: str) -> dict[int, Cell]:
    """The cells of a row from left to right, by column."""
    row: dict[int, Cell] = {}
    last = -1
    for index, (value, percent, formula) in filled:
        if index <= last:
            # No sound file has that; of two cells in one place the later one counts.
            return _address(sorted(dict(filled).items()), number, where)
        last = index
        row[index] = Cell(value, f"{letters(index)}{number}", percent, formula)
    if last >= COLUMNS:
        raise GridError(f"{where} has more than {COLUMNS} columns; split it")
    return row


def _fill_merged(rows: Sequence[dict[int, Cell]], markup: Markup) -> None:
    """Gives each filled row below the first of a merged cell what that cell holds."""
    for column, places in markup.merged.items():
        above = iter(places)
        first, last = next(above, (0, 0))
        held: Cell | None = None
        for row in rows:
            number = _row_number(row)
            while number > last > 0:
                (first, last), held = next(above, (0, 0)), None
            if number >= first > 0:
                held = row.get(column, held) if number == first else held
                if held is not None:
                    row.setdefault(column, held)


def _row_number(row: Mapping[int, Cell]) -> int:
    return int(next(iter(row.values())).address.lstrip(ascii_uppercase))


def _tell_hidden(part: _Part, rows: Sequence[Mapping[int, Cell]], markup: Markup) -> tuple[str, ...]:
    """What is hidden in the workbook and is read all the same."""
    name = f"sheet '{part.title}'"
    said = []
    if not part.is_shown:
        said.append(f"{name} is hidden in the workbook; it is read like the others")
    filled = {_row_number(row) for row in rows}
    hidden = [number for number in markup.rows if number in filled]
    if hidden:
        said.append(f"{name}: hidden rows are read like the others ({_some_of(map(str, hidden))})")
    used = {index for row in rows for index in row}
    columns = [letters(index) for index in markup.columns if index in used]
    if columns:
        said.append(f"{name}: hidden columns are read like the others ({_some_of(columns)})")
    return tuple(said)


def _some_of(names: Iterable[str]) -> str:
    listed = list(names)
    more = f" and {len(listed) - _NAMED:,} more" if len(listed) > _NAMED else ""
    return ", ".join(listed[:_NAMED]) + more
