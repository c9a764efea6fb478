"""Spreadsheet files as plain grids of cells that know their address.

CSV and XLSX become the same thing here, so that nothing further on asks what kind of file it was.
"""

from __future__ import annotations

import csv
import datetime as dt
import errno
import io
import pickle
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from itertools import islice
from typing import TYPE_CHECKING, Any, Final, NamedTuple, overload

from certgen.collector import pause_collector
from certgen.exchange.importing.archives import FILE_BYTES
from certgen.exchange.spreadsheets.rows import BLANKS, restore
from certgen.whole_files import read_ordinary

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

ROWS = 250_000
COLUMNS = 400
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
        with pause_collector():
            cells = [cell for row in rows for cell in row.values()]
            parts = [list(part) for part in zip(*cells, strict=True)]
            return cls(pickle.dumps(([list(row) for row in rows], parts)))

    def _unpack(self) -> tuple[dict[int, Cell], ...]:
        if self._rows is None:
            with pause_collector():
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
        from certgen.exchange.importing.workbooks import read_workbook

        return read_workbook(data, path)
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
    return begin_sheet(path.stem, rows)


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


def begin_sheet(name: str, rows: list[dict[int, Cell]]) -> Sheet | None:
    """A sheet of these rows, the first filled one its headings; None if none is filled."""
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
