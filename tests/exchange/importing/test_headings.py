"""Somebody else's headings are guessed where there is a reason, and left open where there is none."""

from __future__ import annotations

import pytest
from grids import lay

from certgen.exchange.importing.column_maps import OPEN, MapError, SheetMap, Target
from certgen.exchange.importing.grids import Cell, Sheet
from certgen.exchange.importing.heading_names import is_known_heading, part_unit
from certgen.exchange.importing.headings import NOTHING, Known, guess, match_own

COVERS = (
    "certgen.exchange.importing.column_evidence",
    "certgen.exchange.importing.heading_names",
    "certgen.exchange.importing.heading_words",
)


def sheet(name: str, *headings: str) -> Sheet:
    """A sheet with headings and one row."""
    cells = {i: Cell(heading, f"A{i}") for i, heading in enumerate(headings)}
    return Sheet(name, cells, ({0: Cell("1", "A2")},))


def test_own_sheets_are_known() -> None:
    """Our own names and headings need no map, in any order; anything foreign among them does."""
    own = match_own(sheet("bagging", "tree", "bag", "tag.date"))

    assert own is not None
    assert ("bagging", Target("tag.date")) == (own.table, own.columns["tag.date"])
    assert match_own(sheet("bagging", "tree", "Remarks")) is None
    assert match_own(sheet("March", "tree", "bag")) is None
    assert match_own(sheet("bagging.checks", "in bag", "date", "condition")) is not None


def map_of(given: Sheet, table: str = "") -> SheetMap:
    """What is guessed of a sheet by itself."""
    return guess(given, table, NOTHING).sheet_map


def test_likely_columns_are_guessed() -> None:
    """Titles, other words in use, and units in brackets are known; what is not is left out."""
    made = map_of(sheet("Bag log", "Bag no.", "Tree", "Date bagged", "Flower", "Weather", "Initials"))

    assert "bagging" == made.table
    assert {
        "Bag no.": Target("bag"),
        "Tree": Target("tree"),
        "Date bagged": Target("covered"),
        "Flower": Target("flower"),
        "Weather": None,
        "Initials": Target("recorded_by"),
    } == made.columns
    assert (
        Target("weight", "kg")
        == map_of(sheet("Seed lots", "Lot", "Variety", "Weight (kg)", "Packed")).columns["Weight (kg)"]
    )


def test_two_equal_headings_are_refused() -> None:
    """Nobody could say which of the two a map means."""
    with pytest.raises(MapError, match="stands twice"):
        map_of(sheet("x", "Tree", "Tree"))


def filled(name: str, headings: list[str], *rows: list[object]) -> Sheet:
    """A sheet with rows."""
    letters = "ABCDEFGH"
    heads = {i: Cell(heading, f"{letters[i]}1") for i, heading in enumerate(headings)}
    placed = tuple(
        {i: Cell(value, f"{letters[i]}{number}") for i, value in enumerate(row) if value is not None}
        for number, row in enumerate(rows, 2)
    )
    return Sheet(name, heads, placed)


@pytest.mark.parametrize(
    ("heading", "table", "harmful"),
    [
        ("Result came", "screening", "collected"),
        ("Lab letter", "screening", "reagent_lot"),
        ("Who", "movements", "recorded_by"),
    ],
)
def test_a_guess_without_a_reason_is_none(heading: str, table: str, harmful: str) -> None:
    """Headings that only look a little like a field's name were taken for it once; they are no more."""
    target = map_of(sheet("x", heading), table).columns[heading]

    assert harmful != (target.field if target else "")


def test_a_sheet_of_sales_is_no_sheet_of_tests() -> None:
    """Its name says what it is; a sheet that neither its name nor its headings tell stays open."""
    sales = filled("sales", ["Lot", "Grams", "Who"], ["L1", 20, "Sallow"])

    assert "movements" == map_of(sales).table
    assert Target("weight", "grams") == map_of(sales).columns["Grams"]
    assert OPEN == map_of(filled("jottings", ["call the laboratory"], ["done"])).table


def test_cells_speak_against_a_heading() -> None:
    """A column called `covered` that holds words is no column of days, and the reason says so."""
    found = guess(filled("bags", ["Bag", "Covered"], ["B1", "well"], ["B2", "badly"]), "bagging", Known())

    assert found.sheet_map.columns["Covered"] is None
    assert "0 of 2 cells hold dates ('well')" in found.reasons["Covered"]


def test_cells_tell_prefixes_digits_and_ranges() -> None:
    """What all begin with goes, noughts are filled in as the season has them, a range is one."""
    known = Known(identifiers={"trees": ("01", "02", "03", "04")})
    found = guess(
        filled("picked", ["Harvest", "Trees"], ["H1", "tree 1-3"], ["H2", "tree 4"]), "harvests", known
    )

    assert Target("trees", drop_prefix="tree ", digits=2, ranges=True) == found.sheet_map.columns["Trees"]
    assert "all begin with 'tree '; '1-3' is a range; the season's have 2 digits" in found.reasons["Trees"]


def test_numbers_with_a_dash_are_no_ranges() -> None:
    """Where most are written like 26-064, that is how they are numbered."""
    found = guess(filled("bags", ["Bag", "Tree"], ["26-064", "T1"], ["26-065", "T1"]), "bagging", Known())

    assert Target("bag") == found.sheet_map.columns["Bag"]


@pytest.mark.parametrize(
    ("heading", "parted"),
    [
        ("wet g", ("wet", "g")),
        ("dry (g)", ("dry", "g")),
        ("Weight, kg", ("weight", "kg")),
        ("Temp [°F]", ("temp", "°F")),
        ("Temp C", ("temp", "C")),
        ("Grams", ("weight", "grams")),
        ("Bags", ("bags", "")),
        ("", ("", "")),
    ],
)
def test_a_unit_in_a_heading_is_seen(heading: str, parted: tuple[str, str]) -> None:
    """In brackets, behind a comma, or as the last word."""
    assert parted == part_unit(heading)


def test_headings_are_known_by_table() -> None:
    """A heading that is known of one table need not be known of another."""
    assert is_known_heading("wet g")
    assert is_known_heading("Bag no", "bagging")
    assert not is_known_heading("Bag no", "blocks")


def test_a_pencilled_remark_does_not_unmake_a_column() -> None:
    """Of a few days and a `?` the days tell what the column is; nothing but `?` tells nothing."""
    days = guess(lay(["Bag", "bagged on"], ["B1", "?"], ["B2", "3/4/26 ?"]), "bagging", Known())
    none = guess(lay(["Bag", "bagged on"], ["B1", "?"]), "bagging", Known())

    assert Target("covered") == days.sheet_map.columns["bagged on"]
    assert "all its cells but 1 hold dates" in days.reasons["bagged on"]
    assert none.sheet_map.columns["bagged on"] is None


def test_a_number_alone_is_the_records_own() -> None:
    """A column called No names the records of its sheet."""
    assert Target("tree") == guess(lay(["No", "Sex"], [1, "H"]), "trees", Known()).sheet_map.columns["No"]


def test_cells_that_name_several_trees_are_a_list_of_them() -> None:
    """A heading for one tree, and a cell that holds a range: the field for several is taken."""
    given = lay(["Sample", "Tree"], ["S1", "tree 1"], ["S2", "tree 2"], ["S3", "tree 3-9"])

    found = guess(given, "screening", Known())

    assert Target("trees", drop_prefix="tree ", ranges=True) == found.sheet_map.columns["Tree"]
    assert "some cells name several" in found.reasons["Tree"]
