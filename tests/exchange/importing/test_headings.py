"""Somebody else's headings are guessed, saved, read again, and checked."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from certgen.exchange.importing.grids import Cell, Sheet
from certgen.exchange.importing.headings import MapError, Target, guess_map, map_text, match_own, read_map

if TYPE_CHECKING:
    from pathlib import Path


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


def test_likely_columns_are_guessed() -> None:
    """Titles, other words in use, and units in brackets are known; what is not is left out."""
    guess = guess_map(sheet("Bag log", "Bag no.", "Tree", "Date bagged", "Flower", "Weather", "Initials"))

    assert "bagging" == guess.table
    assert {
        "Bag no.": Target("bag"),
        "Tree": Target("tree"),
        "Date bagged": Target("covered"),
        "Flower": Target("flower"),
        "Weather": None,
        "Initials": Target("recorded_by"),
    } == guess.columns
    assert (
        Target("weight", "kg")
        == guess_map(sheet("Seed lots", "Lot", "Variety", "Weight (kg)", "Packed")).columns["Weight (kg)"]
    )


def test_a_map_is_read_as_it_was_written(tmp_path: Path) -> None:
    """The guess, saved as text, is the same map."""
    guess = guess_map(sheet("Lots: 2026", "Lot", "Variety", "Weight (kg)", "Packed", "yes"))
    (tmp_path / "map.yaml").write_text(map_text([guess]))

    assert {"Lots: 2026": guess} == read_map(tmp_path / "map.yaml")


def test_two_equal_headings_are_refused() -> None:
    """Nobody could say which of the two a map means."""
    with pytest.raises(MapError, match="stands twice"):
        guess_map(sheet("x", "Tree", "Tree"))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("{", "no column map"),
        ("a: 1", "no `sheets:`"),
        ("sheets: {x: {table: bags, columns: {}}}", "no table 'bags'"),
        ("sheets: {x: {table: bagging}}", "needs `table:` and `columns:`"),
        ("sheets: {x: {table: bagging, columns: {A: bagg}}}", "did you mean `bag`"),
        ("sheets: {x: {table: bagging, columns: {A: bag, B: bag}}}", "two columns"),
        ("sheets: {x: {table: bagging, columns: {A: [1]}}}", "no field"),
        ("sheets: {x: {table: bagging, list: tag, columns: {A: bag}}}", "no list of records"),
        ("sheets: {x: {table: bagging, dates: ymd, columns: {A: bag}}}", "dmy or mdy"),
    ],
)
def test_a_wrong_map_says_what_to_mend(tmp_path: Path, text: str, said: str) -> None:
    """Every slip in a map is answered in words."""
    (tmp_path / "map.yaml").write_text(text)

    with pytest.raises(MapError, match=said):
        read_map(tmp_path / "map.yaml")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("a: &a [x, x]\nsheets: {bagging: {table: *a, columns: {}}}\n", "write out what is meant"),
        ("sheets: " + "[" * 200_000, "no column map that can be read"),
        ("sheets:\n" + "- " * 5_000 + "x\n", "deeper in one another"),
        ("sheets: {bagging: {table: bagging, columns: {a: 2026-02-30}}}\n", "no column map that can be read"),
    ],
)
def test_a_map_made_to_fill_a_machine_is_refused(tmp_path: Path, text: str, said: str) -> None:
    """References to references, lists without end and days of no calendar are refused in a sentence."""
    (tmp_path / "map.yaml").write_text(text)

    with pytest.raises(MapError, match=said):
        read_map(tmp_path / "map.yaml")
