"""Sheets are read cell by cell, and hostile files are not opened."""

from __future__ import annotations

import datetime as dt
import io
import pickle
import struct
import zipfile
from typing import TYPE_CHECKING

import openpyxl
import pytest

from certgen.exchange.importing.grids import Cell, GridError, Sheet, letters, read_grids

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path


def workbook(tmp_path: Path, rows: list[list[object]], name: str = "x.xlsx") -> Path:
    """A workbook with one sheet."""
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    path = tmp_path / name
    book.save(path)
    return path


def rebuilt(path: Path, edit: Callable[[str, bytes], bytes], extra: dict[str, bytes] | None = None) -> Path:
    """The workbook with its parts edited and others put in."""
    old = path.read_bytes()
    with (
        zipfile.ZipFile(io.BytesIO(old)) as source,
        zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as target,
    ):
        for name in source.namelist():
            target.writestr(name, edit(name, source.read(name)))
        for name, data in (extra or {}).items():
            target.writestr(name, data)
    return path


def test_text_stays_text_and_cells_know_their_address(tmp_path: Path) -> None:
    """A workbook's text cell `010` is `010`; the heading row is the first filled one."""
    (sheet,) = read_grids(workbook(tmp_path, [[None], ["tree", "sex"], ["010", "female"], [None, "x"]]))

    assert ["tree", "sex"] == [cell.value for cell in sheet.headings.values()]
    assert [("010", "A3"), ("female", "B3"), ("x", "B4")] == [
        (cell.value, cell.address) for row in sheet.rows for cell in row.values()
    ]


@pytest.mark.parametrize("sign", [",", ";", "\t"])
def test_csv_delimiters_are_seen(tmp_path: Path, sign: str) -> None:
    """Comma, semicolon and tab, as programs of different countries write them, with and without a mark."""
    path = tmp_path / "x.csv"
    path.write_bytes(b"\xef\xbb\xbf" + f'tree{sign}note\r\n010{sign}"a, b; c"\r\n'.encode())

    (sheet,) = read_grids(path)

    assert ["010", "a, b; c"] == [cell.value for cell in sheet.rows[0].values()]


def test_another_encoding_is_told_or_refused(tmp_path: Path) -> None:
    """Letters that are not UTF-8 are refused by name of the option that helps, and read with it."""
    path = tmp_path / "x.csv"
    path.write_bytes("note\nañejo\n".encode("cp1252"))

    with pytest.raises(GridError, match="--encoding"):
        read_grids(path)
    assert "añejo" == read_grids(path, encoding="cp1252")[0].rows[0][0].value


def test_formulas_are_marked(tmp_path: Path) -> None:
    """A formula is no value."""
    (sheet,) = read_grids(workbook(tmp_path, [["tree"], ["=1+1"]]))

    assert [True] == [cell.formula for cell in sheet.rows[0].values()]


@pytest.mark.parametrize(
    ("part", "said"),
    [
        ("xl/vbaProject.bin", "macros"),
        ("xl/externalLinks/externalLink1.xml", "links to other workbooks"),
        ("xl/connections.xml", "fetches data"),
        ("xl/embeddings/oleObject1.bin", "other files or controls"),
        ("../evil.xml", "leads elsewhere"),
    ],
)
def test_hostile_parts_are_refused(tmp_path: Path, part: str, said: str) -> None:
    """Macros, links and files inside are reasons not to open a workbook."""
    path = rebuilt(workbook(tmp_path, [["tree"], ["1"]]), lambda _, data: data, {part: b"<x/>"})

    with pytest.raises(GridError, match=said):
        read_grids(path)


def test_multiplying_entities_are_refused(tmp_path: Path) -> None:
    """A document type in a part is what no spreadsheet program writes."""

    def edit(name: str, data: bytes) -> bytes:
        bomb = b'<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa">]>'
        return (
            data.replace(b"<worksheet", bomb + b"<worksheet", 1)
            if name.startswith("xl/worksheets/")
            else data
        )

    with pytest.raises(GridError, match="definitions"):
        read_grids(rebuilt(workbook(tmp_path, [["tree"], ["1"]]), edit))


def test_bombs_are_refused_before_they_unpack(tmp_path: Path) -> None:
    """A part that unpacks to hundreds of times its size is not unpacked."""
    path = rebuilt(
        workbook(tmp_path, [["tree"], ["1"]]), lambda _, data: data, {"xl/media/x.xml": b" " * 8_000_000}
    )

    with pytest.raises(GridError, match="fill a machine"):
        read_grids(path)


def test_a_lie_about_size_is_an_error_and_no_crash(tmp_path: Path) -> None:
    """A part whose header gives another size than it has ends in words."""
    path = workbook(tmp_path, [["tree"], ["1"]])
    data = bytearray(path.read_bytes())
    at = data.rfind(b"PK\x01\x02")
    data[at + 24 : at + 28] = struct.pack("<I", 7)
    path.write_bytes(data)

    with pytest.raises(GridError):
        read_grids(path)


@pytest.mark.parametrize(
    ("name", "data", "said"),
    [
        ("x.xlsx", b"PK nonsense", "no workbook"),
        ("x.xlsx", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1rest", "password"),
        ("x.xls", b"old", "save it as"),
        ("x.doc", b"text", "neither"),
        ("x.csv", b'a,b\n"open', "quotation"),
        ("x.csv", b"a\0b", "no CSV file"),
    ],
)
def test_other_files_say_what_to_do(tmp_path: Path, name: str, data: bytes, said: str) -> None:
    """Whatever the file is, the answer is words."""
    (tmp_path / name).write_bytes(data)

    with pytest.raises(GridError, match=said):
        read_grids(tmp_path / name)


def test_column_letters() -> None:
    """As spreadsheets count: Z is followed by AA."""
    assert ["A", "Z", "AA", "AZ", "BA", "NTP"] == [letters(i) for i in (0, 25, 26, 51, 52, 9999)]


@pytest.mark.parametrize(
    ("last", "told"), [(1_048_576, ""), (999_999_999, "rows that no spreadsheet can have")]
)
def test_rows_far_down_cost_nothing(tmp_path: Path, last: int, told: str) -> None:
    """A format that reaches the sheet's end, which holds nothing, is passed over; no file gets further."""
    book = openpyxl.Workbook()
    book.active.append(["bag"])
    book.active.append(["B1"])
    path = tmp_path / "bagging.xlsx"
    book.save(path)
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    sheet = "xl/worksheets/sheet1.xml"
    parts[sheet] = parts[sheet].replace(b"</sheetData>", f'<row r="{last}"/></sheetData>'.encode())
    with zipfile.ZipFile(path, "w") as archive:
        for name, data in parts.items():
            archive.writestr(name, data)

    if told:
        with pytest.raises(GridError, match=told):
            read_grids(path)
    else:
        (grid,) = read_grids(path)
        assert [{0: Cell("B1", "A2")}] == list(grid.rows)


def test_a_sheet_reaches_another_process_unchanged() -> None:
    """Packed on the way, and packed still where nobody looked at its rows."""
    day = dt.date(2026, 4, 3)
    rows = (
        {0: Cell("a", "A2"), 3: Cell(0.5, "D2", percent=True)},
        {1: Cell(day, "B4")},
        {0: Cell("=B1", "A5", formula=True)},
    )
    for sheet in (Sheet("S", {0: Cell("h", "A1")}, rows, ("hidden",)), Sheet("S", {}, ())):
        there = pickle.loads(pickle.dumps(pickle.loads(pickle.dumps(sheet))))
        assert (sheet.name, sheet.headings, sheet.notes) == (there.name, there.headings, there.notes)
        assert (list(sheet.rows), len(sheet.rows)) == (list(there.rows), len(there.rows))
        assert sheet.rows[:1] == there.rows[:1]


@pytest.mark.parametrize(
    ("name", "kind"),
    [("x.ods", "of kind .ods"), ("x.xlsx", r"OpenDocument files"), ("x.bin", "of kind .bin")],
)
def test_libreoffices_own_form_is_no_damaged_workbook(tmp_path: Path, name: str, kind: str) -> None:
    """It says what to save it as, whatever the file is called."""
    path = tmp_path / name
    with zipfile.ZipFile(path, "w") as book:
        book.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        book.writestr("content.xml", "<office:document-content/>")

    with pytest.raises(GridError, match=rf"save it as \.xlsx or \.csv first; .*{kind}"):
        read_grids(path)
