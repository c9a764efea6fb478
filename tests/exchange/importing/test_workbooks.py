"""A workbook's cells are those that openpyxl gives, whoever wrote it and however its parts are laid out."""

from __future__ import annotations

import datetime as dt
import io
import warnings
import zipfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl.cell import WriteOnlyCell

from certgen.exchange.importing.grids import Cell, GridError, letters
from certgen.exchange.importing.workbooks import read_workbook
from certgen.exchange.spreadsheets.rows import BLANKS, escape_controls, unescape_controls

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

PATH = Path("book.xlsx")
NAMESPACE = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
#: A value and the form it is shown in.
SHOWN = st.one_of(
    st.tuples(st.text(max_size=8).map(escape_controls), st.just("General")),
    st.tuples(st.sampled_from(["B-1", "=A1", "#N/A", " ", "0.1"]), st.sampled_from(["@", "0%"])),
    st.tuples(st.integers(-(10**9), 10**9), st.sampled_from(["General", "0%", "@"])),
    st.tuples(st.floats(-1e9, 1e9), st.sampled_from(["General", "0.00%", "yyyy-mm-dd"])),
    st.tuples(st.booleans(), st.just("General")),
    st.tuples(st.dates(dt.date(1900, 3, 1), dt.date(2199, 12, 31)), st.just("yyyy-mm-dd")),
    st.tuples(st.times().map(lambda time: time.replace(microsecond=0)), st.just("h:mm:ss")),
    st.tuples(st.timedeltas(dt.timedelta(0), dt.timedelta(99)), st.just("[h]:mm:ss")),
    st.tuples(st.none(), st.sampled_from(["General", "0%"])),
)
ROWS = st.lists(st.lists(SHOWN, max_size=4), max_size=5)


def write(rows: Iterable[Sequence[tuple[Any, str]]], *, plainly: bool) -> bytes:
    """A workbook with its texts in one list; or, `plainly`, each in its cell."""
    book = openpyxl.Workbook(write_only=plainly)
    sheet = book.create_sheet("S")
    for row in rows:
        cells = []
        for value, form in row:
            cell = WriteOnlyCell(sheet, value)
            cell.number_format = form
            cells.append(cell)
        if plainly:
            sheet.append(cells)
            continue
        sheet.append([value for value, _ in row])
        for column, (_, form) in enumerate(row, 1):
            sheet.cell(max(sheet.max_row, 1), column).number_format = form
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def asked_of_openpyxl(data: bytes) -> list[dict[int, Cell]]:
    """The filled rows of the sheet, each cell as openpyxl itself gives it."""
    rows = []
    with warnings.catch_warnings():
        # Of a number that is shown as a day and is none it says so.
        warnings.simplefilter("ignore")
        found = list(openpyxl.load_workbook(io.BytesIO(data), read_only=True)["S"].rows)
    for number, cells in enumerate(found, 1):
        row = {}
        for index, cell in enumerate(cells):
            value: Any = cell.value
            if value is None or (isinstance(value, str) and not value.strip(BLANKS)):
                continue
            formula = cell.data_type in {"f", "e"}
            if isinstance(value, str) and not formula:
                value = unescape_controls(value)
            percent = cell.data_type == "n" and "%" in cell.number_format
            row[index] = Cell(value, f"{letters(index)}{number}", percent, formula)
        if row:
            rows.append(row)
    return rows


@given(ROWS, st.booleans())
@settings(max_examples=50)
def test_cells_are_those_of_openpyxl(rows: list[list[tuple[Any, str]]], plainly: bool) -> None:
    """Value, type, per cent and formula of each, where it stands."""
    data = write([*rows, *rows], plainly=plainly)
    sheets = read_workbook(data, PATH)
    found = [row for sheet in sheets for row in (sheet.headings, *sheet.rows)]
    expected = asked_of_openpyxl(data)
    assert expected == found
    assert [[type(cell.value) for cell in row.values()] for row in expected] == [
        [type(cell.value) for cell in row.values()] for row in found
    ]


def read_rows(rows: str, parts: Mapping[str, str] | None = None) -> list[dict[str, object]]:
    """What stands at each address of a sheet whose rows are written out, formulas in brackets."""
    with zipfile.ZipFile(io.BytesIO(write([[("x", "0%")]], plainly=True))) as old:
        content = {name: old.read(name) for name in old.namelist()}
    sheet = f'<worksheet xmlns="{NAMESPACE}"><sheetData>{rows}</sheetData></worksheet>'
    content |= {"xl/worksheets/sheet1.xml": sheet.encode()}
    content |= {name: text.encode() for name, text in (parts or {}).items()}
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as new:
        for name, data in content.items():
            new.writestr(name, data)
    return [
        {cell.address: [cell.value] if cell.formula else cell.value for cell in row.values()}
        for sheet in read_workbook(out.getvalue(), PATH)
        for row in (sheet.headings, *sheet.rows)
    ]


def test_texts_of_several_looks_are_whole() -> None:
    """With what is read aloud beside them left out, as openpyxl leaves it; blanks are nothing."""
    rich = "<is><r><t>be</t></r><r><rPr><b/></rPr><t>gun</t></r><rPh sb='0' eb='1'><t>x</t></rPh></is>"
    cells = f'<c r="A1" t="inlineStr">{rich}</c><c r="B1" t="inlineStr"><is><t/></is></c>'
    cells += '<c r="C1" t="inlineStr"/><c r="D1" s="1"/><c r="E1"><v/></c><c r="F1" t="str"><v>a</v></c>'
    assert [{"A1": "begun", "F1": "a"}] == read_rows(f'<row r="1">{cells}</row>')


def test_formulas_are_told_with_what_they_say() -> None:
    """One that is shared by several cells in each of them, and an error as one."""
    cells = '<c r="A1"><f t="shared" ref="A1:B1" si="0">A9+1</f><v>1</v></c>'
    cells += '<c r="B1"><f t="shared" si="0"/><v>2</v></c><c r="C1" t="e"><v>#N/A</v></c>'
    cells += '<c r="D1"><f>1</f></c>'
    expected = {"A1": ["=A9+1"], "B1": ["=B9+1"], "C1": ["#N/A"], "D1": ["=1"]}
    assert [expected] == read_rows(f'<row r="1">{cells}</row>')


def test_cells_without_an_address_follow_the_last_one() -> None:
    """Rows too; and a cell that stands too far left is put in its place."""
    rows = "<row><c><v>1</v></c><c r='C1'><v>2</v></c><c/><c><v>3</v></c><c r='B1'><v>4</v></c></row>"
    rows += "<row r='7'/><row><c r='b8'><v>5</v></c></row>"
    assert [{"A1": 1, "B1": 4, "C1": 2, "E1": 3}, {"B8": 5}] == read_rows(rows)


@pytest.mark.parametrize(
    ("rows", "told"),
    [
        (
            '<row r="2"><c r="A2"><v>1</v></c></row><row r="2"><c r="B2"><v>1</v></c></row>',
            "rows out of order",
        ),
        ('<row r="1"><c r="OK1"><v>1</v></c></row>', "more than 400 columns"),
        ('<row r="1"><c r="ZZ1"><v>1</v></c></row>', "more than 400 columns"),
        ('<row r="250001"><c r="A250001"><v>1</v></c></row>', "more than 250,000 rows"),
        ('<row r="1"><c r="?1"><v>1</v></c></row>', "the workbook is damaged"),
    ],
)
def test_a_sheet_that_is_none_is_refused(rows: str, told: str) -> None:
    """No row and no cell is passed over in silence."""
    with pytest.raises(GridError, match=told):
        read_rows(rows)
