"""Merged cells hold for all their rows; hidden rows, columns and sheets are read, and that is said."""

from __future__ import annotations

import io
import zipfile
from typing import TYPE_CHECKING

import openpyxl

from certgen.exchange.importing.grids import read_grids
from certgen.exchange.importing.sheet_markup import PLAIN, read_markup

if TYPE_CHECKING:
    from pathlib import Path


def test_a_merged_cell_holds_for_all_its_rows(tmp_path: Path) -> None:
    """Down a column; a title over several columns stays one cell, and blank rows stay blank."""
    book = openpyxl.Workbook()
    sheet = book.active
    for row in (["Lots of the year", None], ["Lot", "Variety"], ["L1", "CB"], ["L2", None], [], ["L3", None]):
        sheet.append(row)
    sheet.merge_cells("A1:B1")
    sheet.merge_cells("B3:B7")
    book.save(tmp_path / "book.xlsx")

    (read,) = read_grids(tmp_path / "book.xlsx")

    assert {0: "A1"} == {at: cell.address for at, cell in read.headings.items()}
    assert [["Lot", "Variety"], ["L1", "CB"], ["L2", "CB"], ["L3", "CB"]] == [
        [row[at].value for at in sorted(row)] for row in read.rows
    ]
    assert "B3" == read.rows[-1][1].address


def test_what_is_hidden_is_read_and_said(tmp_path: Path) -> None:
    """A filter hides rows without anybody meaning to leave them out."""
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Bags"
    for row in (["Bag", "Tree", "Row"], ["B1", "T1", 1], ["B2", "T1", 2]):
        sheet.append(row)
    sheet.row_dimensions[3].hidden = True
    sheet.column_dimensions["C"].hidden = True
    other = book.create_sheet("Old")
    other.append(["Bag"])
    other.sheet_state = "hidden"
    book.save(tmp_path / "book.xlsx")

    bags, old = read_grids(tmp_path / "book.xlsx")

    assert (
        "sheet 'Bags': hidden rows are read like the others (3)",
        "sheet 'Bags': hidden columns are read like the others (C)",
    ) == bags.notes
    assert ("sheet 'Old' is hidden in the workbook; it is read like the others",) == old.notes
    assert 2 == len(bags.rows)


def test_errors_of_formulas_are_no_values(tmp_path: Path) -> None:
    """`#REF!` is not a text that somebody wrote."""
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append(["Bag", "Note"])
    sheet.append(["B1", "#REF!"])
    book.save(tmp_path / "book.xlsx")

    (read,) = read_grids(tmp_path / "book.xlsx")

    assert ("#REF!", True) == (read.rows[0][1].value, read.rows[0][1].formula)


def test_markup_of_strangers_stays_bounded() -> None:
    """Places that lie over one another, elements without end, a part that isn't there."""
    kept = io.BytesIO()
    with zipfile.ZipFile(kept, "w") as archive:
        merged = b'<mergeCell ref="A1:A9"/><x:mergeCell ref="A5:A20"/><mergeCell ref="B1:C1"/>'
        archive.writestr("a.xml", merged + b"<row " * 50_000 + b'<row r="7" hidden="1">')
    with zipfile.ZipFile(kept) as archive:
        found = read_markup(archive, "a.xml")
        missing = read_markup(archive, "b.xml")

    assert ({0: ((1, 9),)}, (7,)) == (dict(found.merged), found.rows)
    assert PLAIN == missing
