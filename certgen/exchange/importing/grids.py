"""Spreadsheet files as plain grids of cells that know their address.

CSV and XLSX become the same thing here, so that nothing further on asks what kind of file it was.
"""

from __future__ import annotations

import contextlib
import csv
import datetime as dt
import errno
import io
import pickle
import zipfile
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import islice
from string import ascii_uppercase
from typing import TYPE_CHECKING, Any, Final, NamedTuple, overload

from certgen.exchange.importing.archives import FILE_BYTES, HostileFileError, check_workbook
from certgen.exchange.importing.sheet_markup import PLAIN, Markup, read_markup
from certgen.exchange.spreadsheets.rows import BLANKS, restore, unescape_controls
from certgen.records.record_files.parsing import pause_collector
from certgen.whole_files import read_ordinary

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping
    from pathlib import Path

ROWS = 250_000
COLUMNS = 400
_NAMED = 5
LAST_ROW = 1_048_576  # of a sheet, ECMA-376
CELL_CHARACTERS = 32_767  # what a spreadsheet cell holds


class GridError(ValueError):
    """A file that cannot be read as a spreadsheet; the message says what to do."""


class Cell(NamedTuple):
    """One cell: its value as the file has it, its address (`C17`), whether it is per cent or a formula."""

    value: str | int | float | bool | dt.date | dt.datetime | dt.time | dt.timedelta | None
    address: str
    percent: bool = False
    formula: bool = False

    @property
    def empty(self) -> bool:
        """Whether there is nothing in the cell but blanks."""
        return self.value is None or (isinstance(self.value, str) and not self.value.strip(BLANKS))


@dataclass(frozen=True, slots=True)
class Sheet:
    """One sheet: `headings` are its first filled row by column index, then the rows that hold anything.

    `notes` say what was made of it: hidden rows that are read, results of formulas that were taken.
    """

    name: str
    headings: dict[int, Cell]
    rows: Sequence[dict[int, Cell]]
    notes: tuple[str, ...] = ()

    def __reduce__(self) -> tuple[Any, ...]:
        """For another process the rows are packed, and stay so until somebody there asks for one."""
        return Sheet, (self.name, self.headings, PackedRows.of(self.rows), self.notes)


class PackedRows(Sequence[dict[int, Cell]]):
    """The rows of a sheet on their way through processes that look at none of them."""

    def __init__(self, packed: bytes) -> None:
        self._packed = packed
        self._rows: tuple[dict[int, Cell], ...] | None = None

    def __reduce__(self) -> tuple[Any, ...]:
        return PackedRows, (self._packed,)

    @classmethod
    def of(cls, rows: Sequence[dict[int, Cell]]) -> PackedRows:
        """Rows packed column-wise: cell by cell they would take ten times as long."""
        if isinstance(rows, PackedRows):
            return rows
        cells = [cell for row in rows for cell in row.values()]
        parts = [list(part) for part in zip(*cells, strict=True)]
        return cls(pickle.dumps(([list(row) for row in rows], parts)))

    def _unpack(self) -> tuple[dict[int, Cell], ...]:
        if self._rows is None:
            indexes, parts = pickle.loads(self._packed)  # noqa: S301 (packed by a process of ours)
            cells = map(Cell, *parts) if parts else iter(())
            self._rows = tuple(dict(zip(row, islice(cells, len(row)), strict=True)) for row in indexes)
        return self._rows

    def __len__(self) -> int:
        return len(self._unpack())

    def __iter__(self) -> Iterator[dict[int, Cell]]:
        return iter(self._unpack())

    @overload
    def __getitem__(self, at: int) -> dict[int, Cell]: ...
    @overload
    def __getitem__(self, at: slice) -> tuple[dict[int, Cell], ...]: ...
    def __getitem__(self, at: int | slice) -> dict[int, Cell] | tuple[dict[int, Cell], ...]:
        return self._unpack()[at]


#: What a file of LibreOffice's own form begins with, whatever it is called.
_OPEN_DOCUMENT: Final = b"mimetypeapplication/vnd.oasis.opendocument"


def read_grids(path: Path, *, encoding: str = "utf-8") -> tuple[Sheet, ...]:
    """Every sheet of a .csv, .tsv or .xlsx file that holds anything. Raises `GridError`."""
    try:
        data = read_ordinary(path, FILE_BYTES)
    except OSError as fault:
        if fault.errno == errno.EFBIG:
            raise GridError(
                f"{path.name}: larger than {FILE_BYTES // 2**20} MB; split it by table"
            ) from fault
        raise GridError(f"{path}: cannot be read ({fault.strerror})") from fault
    suffix = path.suffix.lower()
    if suffix in {".csv", ".tsv", ".txt"}:
        return _some(_read_csv(data, path, encoding))
    if suffix in {".xls", ".xlsm", ".xlsb", ".ods", ".fods", ".numbers"} or _OPEN_DOCUMENT in data[:100]:
        kind = f"files of kind {suffix}" if suffix not in {".xlsx", ".xltx"} else "OpenDocument files (.ods)"
        raise GridError(f"{path.name}: save it as .xlsx or .csv first; {kind} are not opened")
    if suffix in {".xlsx", ".xltx"} or data[:2] == b"PK":
        return _read_xlsx(data, path)
    raise GridError(f"{path.name}: neither a .csv nor an .xlsx file")


def _some(sheet: Sheet | None) -> tuple[Sheet, ...]:
    return () if sheet is None else (sheet,)


def _read_csv(data: bytes, path: Path, encoding: str) -> Sheet | None:
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        encoding = "utf-16"
    try:
        text = data.decode("utf-8-sig" if encoding.lower() in {"utf-8", "utf8"} else encoding)
    except (UnicodeDecodeError, LookupError) as fault:
        where = f" (byte {fault.start + 1:,})" if isinstance(fault, UnicodeDecodeError) else ""
        raise GridError(
            f"{path.name}: its letters are not {encoding}{where}; save it as CSV UTF-8, or name its encoding "
            "with --encoding, often cp1252"
        ) from fault
    if "\0" in text:
        raise GridError(f"{path.name}: holds bytes that no CSV file has; save it as CSV UTF-8")
    csv.field_size_limit(CELL_CHARACTERS * 4)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=_delimiter(text), strict=True)
    rows: list[dict[int, Cell]] = []
    try:
        for number, values in enumerate(reader, 1):
            if number > ROWS or len(values) > COLUMNS:
                raise GridError(f"{path.name}: more than {ROWS:,} rows or {COLUMNS} columns; split it")
            rows.append(
                {
                    i: Cell(restore(v), f"{letters(i)}{number}")
                    for i, v in enumerate(values)
                    if v.strip(BLANKS)
                }
            )
    except csv.Error as fault:
        raise GridError(
            f"{path.name}: row {reader.line_num}: {fault}; check the quotation marks there"
        ) from fault
    return _sheet(path.stem, rows)


def _delimiter(text: str) -> str:
    """The sign that parts the headings: the commonest of comma, semicolon and tab outside quotation marks."""
    quoted, counts = False, {",": 0, ";": 0, "\t": 0}
    for sign in text[:20_000]:
        if sign == '"':
            quoted = not quoted
        elif not quoted and sign in counts:
            counts[sign] += 1
        elif not quoted and sign in "\r\n" and any(counts.values()):
            break
    best = max(counts, key=lambda sign: counts[sign])
    return best if counts[best] else ","


def _read_xlsx(data: bytes, path: Path) -> tuple[Sheet, ...]:
    import warnings

    import openpyxl

    try:
        check_workbook(data)
        # Of some damaged styles openpyxl tells on standard output.
        with warnings.catch_warnings(), contextlib.redirect_stdout(io.StringIO()), pause_collector():
            # What openpyxl leaves out of charts and styles is nothing we read.
            warnings.simplefilter("ignore")
            book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, keep_links=False)
            with zipfile.ZipFile(io.BytesIO(data)) as archive:
                markup = {name: _markup(archive, book[name]) for name in book.sheetnames}
            sheets = [
                sheet
                for name in book.sheetnames
                if (sheet := _read_sheet(book[name], path, markup[name])) is not None
            ]
    except HostileFileError as fault:
        raise GridError(f"{path.name}: {fault}") from fault
    except GridError:
        raise
    except Exception as fault:  # a damaged workbook raises whatever the library happens to trip over
        raise GridError(
            f"{path.name}: the workbook is damaged ({type(fault).__name__}); save it once more"
        ) from fault
    return tuple(sheets)


def _markup(archive: zipfile.ZipFile, worksheet: Any) -> Markup:  # openpyxl has two kinds, one interface
    part = str(getattr(worksheet, "_worksheet_path", "")).lstrip("/")
    return read_markup(archive, part) if part else PLAIN


def _read_sheet(
    worksheet: Any, path: Path, markup: Markup
) -> Sheet | None:  # openpyxl has two kinds, one interface
    if not hasattr(worksheet, "reset_dimensions"):
        return None  # a chart sheet has no cells
    rows = list(_read_rows(worksheet, f"{path.name}: sheet '{worksheet.title}'"))
    _fill_merged(rows, markup)
    sheet = _sheet(worksheet.title, rows)
    return None if sheet is None else replace(sheet, notes=_tell_hidden(worksheet, rows, markup))


def _read_rows(worksheet: Any, where: str) -> Iterator[dict[int, Cell]]:
    """The rows of a worksheet that hold anything."""
    from openpyxl.cell.read_only import EMPTY_CELL

    worksheet.reset_dimensions()
    shared: dict[str, str] = {}
    skipped: Any = None
    cells = worksheet.iter_rows(max_row=LAST_ROW + 1, max_col=COLUMNS + 1)
    for number, values in enumerate(cells, 1):
        if number > LAST_ROW:
            raise GridError(f"{where} has rows that no spreadsheet can have")
        if values is skipped:
            continue
        filled = [cell for cell in values if cell is not EMPTY_CELL]
        if not filled:
            # All rows that the file leaves out are one and the same; there may be a million.
            skipped = values
            continue
        if number > ROWS and any(cell.value is not None for cell in filled):
            raise GridError(f"{where} has more than {ROWS:,} rows; split it")
        if row := _read_cells(filled, number, where, shared):
            yield row


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


def _tell_hidden(worksheet: Any, rows: Sequence[Mapping[int, Cell]], markup: Markup) -> tuple[str, ...]:
    """What is hidden in the workbook and is read all the same."""
    name = f"sheet '{worksheet.title}'"
    said = []
    if worksheet.sheet_state != "visible":
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


def _read_cells(filled: Iterable[Any], number: int, where: str, shared: dict[str, str]) -> dict[int, Cell]:
    """The cells of a row that hold anything, by column. Equal texts are one object, held in `shared`."""
    row = {}
    for cell in filled:
        value = cell.value
        is_text = isinstance(value, str)
        if value is None or (is_text and not value.strip(BLANKS)):
            continue
        index = cell.column - 1
        if index >= COLUMNS:
            raise GridError(f"{where} has more than {COLUMNS} columns; split it")
        address = f"{letters(index)}{number}"
        if is_text and cell.data_type not in {"f", "e"}:
            row[index] = Cell(_share(value, shared), address)
        else:
            row[index] = _cell(cell, value, address)
    return row


def _share(text: str, shared: dict[str, str]) -> str:
    known = shared.get(text)
    if known is None:
        known = shared[text] = unescape_controls(text)
    return known


def _cell(cell: Any, value: Any, address: str) -> Cell:
    kind = cell.data_type
    if kind in {"f", "e"} or not isinstance(value, int | float | bool | dt.date | dt.time | dt.timedelta):
        return Cell(str(value), address, formula=True)
    percent = kind == "n" and "%" in (cell.number_format or "")
    return Cell(value, address, percent=percent)


def _sheet(name: str, rows: list[dict[int, Cell]]) -> Sheet | None:
    first = next((i for i, row in enumerate(rows) if row), None)
    if first is None:
        return None
    return Sheet(name, rows[first], tuple(row for row in rows[first + 1 :] if row))


@cache
def letters(index: int) -> str:
    """A column's letters: 0 is A, 25 is Z, 26 is AA."""
    text = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        text = chr(65 + rest) + text
    return text
