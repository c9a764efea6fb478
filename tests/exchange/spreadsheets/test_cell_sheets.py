"""Rows of cells are written as openpyxl writes them."""

from __future__ import annotations

import datetime as dt
import io
import zipfile
from typing import TYPE_CHECKING, Any

import openpyxl
import pytest
from openpyxl.cell import WriteOnlyCell
from openpyxl.comments import Comment
from openpyxl.styles import Font

from certgen.exchange.spreadsheets.cell_sheets import begin_sheet

if TYPE_CHECKING:
    from collections.abc import Callable


def write(begin: Callable[[openpyxl.Workbook, str], Any]) -> dict[str, bytes]:
    """The parts of a workbook with cells of all kinds, its times aside."""
    book = openpyxl.Workbook(write_only=True)
    for name in ("one", "other"):
        sheet = begin(book, name)
        for values in [("heading", None, "<&>"), (), (1, 0.5, dt.date(2026, 4, 3), True, None), ("=1", "")]:
            cells: list[Any] = [None if value is None else WriteOnlyCell(sheet, value) for value in values]
            for cell in filter(None, cells[:1]):
                cell.font = Font(bold=True)
                cell.comment = Comment("a note", "somebody")
            sheet.append(cells)
    out = io.BytesIO()
    book.save(out)
    with zipfile.ZipFile(out) as archive:
        return {name: archive.read(name) for name in archive.namelist() if name != "docProps/core.xml"}


def test_parts_are_those_of_openpyxls_own_sheet() -> None:
    """To the byte: values, looks, notes, rows and cells that are left out."""
    expected = write(lambda book, name: book.create_sheet(name))
    assert 2 == sum(name.startswith("xl/worksheets/sheet") for name in expected)
    assert expected == write(begin_sheet)


def test_a_value_that_is_no_cell_is_refused() -> None:
    """It would have no look."""
    sheet = begin_sheet(openpyxl.Workbook(write_only=True), "one")
    with pytest.raises(AttributeError):
        sheet.append(["plain"])
    sheet.close()
