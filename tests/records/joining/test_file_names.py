"""A file is one file, however its accents were typed and are stored."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any
from unicodedata import normalize

import pytest

from certgen.examination import Result, examine

if TYPE_CHECKING:
    from pathlib import Path

ON = dt.date(2026, 10, 31)
FILE = "lettres/résultat-août.txt"
_OF_FILES = {"evidence-absent", "evidence-unnamed"}


def examined(seasons: Any, folder: Path, typed: str, *stored: str) -> Result:
    """A season whose sample names a file as `typed`, and whose folder holds those that are `stored`."""
    tables = seasons.one_line()
    tables["screening"] = [{**tables["screening"][0], "evidence": FILE}]
    for form in stored:
        path = folder / "evidence" / normalize(form, FILE)
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(f"Bracken Ford Plant Diagnostics, {form}\n", encoding="utf-8")
    details = {"evidence": [normalize(typed, FILE)]}
    tables["screening"] = [{**tables["screening"][0], "evidence": [normalize(typed, FILE)]}]
    seasons.write_season(folder, details=details, **tables)
    return examine(folder, ON)


@pytest.mark.parametrize("typed", ["NFC", "NFD"])
@pytest.mark.parametrize("stored", ["NFC", "NFD"])
def test_the_file_that_is_there_is_meant(seasons: Any, tmp_path: Path, typed: str, stored: str) -> None:
    """It is neither absent nor unnamed, and the record says it as it is stored, so that it can be opened."""
    result = examined(seasons, tmp_path, typed, stored)
    (named,) = result.season.record("screening", "S1")["evidence"]

    assert set() == {gap.rule for gap in result.gaps} & _OF_FILES
    assert (tmp_path / "evidence" / named).is_file()
    assert [normalize(stored, FILE)] == list(result.season.details.raw["evidence"])


@pytest.mark.parametrize("typed", ["NFC", "NFD"])
def test_of_two_files_the_very_name_is_meant(seasons: Any, tmp_path: Path, typed: str) -> None:
    """Where both are there, the other one stays unnamed."""
    result = examined(seasons, tmp_path, typed, "NFC", "NFD")
    (named,) = result.season.record("screening", "S1")["evidence"]

    assert normalize(typed, FILE) == named
    assert {"evidence-unnamed"} == {gap.rule for gap in result.gaps} & _OF_FILES


def test_another_file_is_another(seasons: Any, tmp_path: Path) -> None:
    """Without its accents a name is not the same."""
    result = examined(seasons, tmp_path, "NFC")

    assert "evidence-absent" in {gap.rule for gap in result.gaps}
