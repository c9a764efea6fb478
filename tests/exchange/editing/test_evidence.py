"""Evidence that is named, missing, unnamed or new."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from certgen.exchange.editing.evidence import EvidenceError, add_evidence, named_evidence, unnamed_evidence
from certgen.records import Season, read_season

if TYPE_CHECKING:
    from pathlib import Path

TEXT = """season: {operation: {name: X}, label: '1', from: 2026-01-01, to: 2026-12-31,
  crop: papaya, standards: [us-nop]}
lots:
  - lot: L1   # mine
    variety: V
    packed: 2026-05-04
    weight: 3 g
    status: organic
    evidence: a.txt   # the letter
  - lot: L2
    variety: V
    packed: 2026-05-04
    weight: 3 g
    status: organic
"""


@pytest.fixture
def season(tmp_path: Path) -> Season:
    """A season with one piece of evidence named, absent, and one unnamed."""
    (tmp_path / "season.yaml").write_text(TEXT)
    (tmp_path / "evidence").mkdir()
    (tmp_path / "evidence" / "b.txt").write_text("b")
    (tmp_path / "new.txt").write_text("new")
    return reread(tmp_path)


def reread(folder: Path) -> Season:
    """The season as it is now."""
    season, errors = read_season(folder)
    assert [] == [error.text() for error in errors]
    assert season is not None
    return season


def test_named_and_unnamed(season: Season) -> None:
    """What is named and not there, and what is there and not named."""
    assert [("a.txt", "L1", False)] == [(one.path, one.id, one.there) for one in named_evidence(season)]
    assert ("b.txt",) == unnamed_evidence(season)


def test_adding_names_the_file_and_keeps_the_rest(season: Season) -> None:
    """A first file, and a second beside a first; comments stay."""
    folder = season.folder
    added = add_evidence(season, folder / "new.txt", "lots", "L2", to="letters/new.txt")
    add_evidence(reread(folder), folder / "new.txt", "lots", "L1")

    assert (
        "11507a0e2f5e69d5dfa40a62a1bd7b6ee57e6bcd85c67c9b8431b36fff21c437" == added.sha256
    )  # sha256sum of "new"
    expected = TEXT.replace("evidence: a.txt   # the letter", "evidence: [a.txt, new.txt]   # the letter")
    assert expected + "    evidence: letters/new.txt\n" == (folder / "season.yaml").read_text()
    assert "new" == (folder / "evidence/letters/new.txt").read_text()


@pytest.mark.parametrize("to", ["../x", "/x", "a/../../x", "C:/x"])
def test_paths_that_lead_out_are_refused(season: Season, to: str) -> None:
    """Nothing is copied out of the evidence folder."""
    with pytest.raises(EvidenceError, match="cannot take it"):
        add_evidence(season, season.folder / "new.txt", "lots", "L2", to=to)


def test_another_file_of_the_name_is_kept(season: Season) -> None:
    """Evidence is never overwritten; the same bytes again are."""
    with pytest.raises(EvidenceError, match="is another file"):
        add_evidence(season, season.folder / "new.txt", "lots", "L2", to="b.txt")
    assert "b" == (season.folder / "evidence/b.txt").read_text()


def test_a_file_that_is_named_and_missing_is_laid_down(season: Season) -> None:
    """The record names it already and stays as it is; the same again changes nothing."""
    for _ in range(2):
        added = add_evidence(season, season.folder / "new.txt", "lots", "L1", to="a.txt")
        assert ("a.txt", "season.yaml") == (added.path, added.file)
        assert ("new", TEXT) == (
            (season.folder / "evidence/a.txt").read_text(), (season.folder / "season.yaml").read_text()
        )  # fmt: skip


def test_an_unknown_record_is_refused(season: Season) -> None:
    """By its number."""
    with pytest.raises(EvidenceError, match="bears the identifier L9"):
        add_evidence(season, season.folder / "new.txt", "lots", "L9")


def test_a_record_file_changed_meanwhile_is_left_alone(season: Season) -> None:
    """Somebody else is editing: nothing is written."""
    (season.folder / "season.yaml").write_text(TEXT + "# more\n")

    with pytest.raises(EvidenceError, match="changed meanwhile"):
        add_evidence(season, season.folder / "new.txt", "lots", "L2")
    assert not (season.folder / "evidence/new.txt").exists()
