"""The workbook helps whoever fills it in."""

from __future__ import annotations

import datetime as dt
import io
from typing import TYPE_CHECKING

import openpyxl
import pytest

from certgen.exchange.spreadsheets.rows import faces
from certgen.exchange.spreadsheets.workbook import build_workbook
from certgen.records.tables import load_tables
from certgen.standards import load_profile
from certgen.standards.season_reading import read_case

if TYPE_CHECKING:
    from pathlib import Path

PAPAYA = load_profile("papaya")
WORDS = PAPAYA.words


@pytest.fixture(scope="module")
def empty() -> openpyxl.Workbook:
    """An empty workbook for a new season."""
    return openpyxl.load_workbook(io.BytesIO(build_workbook(None, PAPAYA)))


def test_one_sheet_a_table_and_a_list(empty: openpyxl.Workbook) -> None:
    """Every table has its sheet, and so has every list inside its records; the words' own sheet is hidden."""
    assert ["season", *(face.name for face in faces()), "lists"] == empty.sheetnames
    assert "hidden" == empty["lists"].sheet_state
    assert set(load_tables()) < set(empty.sheetnames)


def test_headings_stay_in_sight_and_are_explained(empty: openpyxl.Workbook) -> None:
    """The first row and column are frozen; each heading bears a note."""
    for face in faces():
        sheet = empty[face.name]
        assert "B2" == sheet.freeze_panes
        assert list(face.fields) == [cell.value for cell in sheet[1]]
        assert all(cell.comment and cell.comment.text for cell in sheet[1])


def test_every_enumerated_field_offers_its_words(empty: openpyxl.Workbook) -> None:
    """Whatever has a list of words, the crop's included, or takes yes and no, has a list to pick from."""
    for face in faces():
        sheet = empty[face.name]
        offered = {
            str(part).split(":")[0][:-1]: choice.formula1
            for choice in sheet.data_validations.dataValidation
            for part in choice.sqref.ranges
        }
        for index, field in enumerate(face.fields.values(), 1):
            allowed = ("yes", "no") if field.kind == "yes_no" else WORDS.get(field.words, ()) or field.enum
            if not allowed:
                continue
            where = offered[openpyxl.utils.get_column_letter(index)]
            cells = empty["lists"][where.partition("!")[2].replace("$", "")]
            assert list(allowed) == [row[0].value for row in cells]


def test_values_stand_as_people_type_them(tmp_path: Path) -> None:
    """Dates are dates, weights bear their units, text that looks like a number or a formula is text."""
    (tmp_path / "season.yaml").write_text(
        "season: {operation: {name: X}, label: '1', from: 2026-01-01, to: 2026-12-31,\n"
        "  crop: papaya, standards: [us-nop]}\n"
        "harvests:\n  - {harvest: '007', date: 2026-05-04, fruits: 3, weight: 2.10 kg,\n"
        "     status: organic, note: =1+1}\n"
    )
    season, _ = read_case(tmp_path)
    sheet = openpyxl.load_workbook(io.BytesIO(build_workbook(season, PAPAYA)))["harvests"]
    row = dict(zip((cell.value for cell in sheet[1]), sheet[2], strict=True))

    assert ("007", dt.datetime.fromisoformat("2026-05-04"), 3, "2.10 kg", "=1+1") == tuple(
        row[name].value for name in ("harvest", "date", "fruits", "weight", "note")
    )
    assert ("@", "s", True) == (row["harvest"].number_format, row["note"].data_type, row["note"].quotePrefix)
