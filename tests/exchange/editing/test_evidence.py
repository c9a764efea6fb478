"""Evidence that is named, missing, unnamed or there twice."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from seasons import TWO_LOTS, read_sound

from certgen.exchange.editing.evidence import list_copies, named_evidence, unnamed_evidence

if TYPE_CHECKING:
    from pathlib import Path

    from certgen.records import Season


@pytest.fixture
def season(tmp_path: Path) -> Season:
    """A season with one piece of evidence named, absent, and one unnamed."""
    (tmp_path / "season.yaml").write_text(TWO_LOTS)
    (tmp_path / "evidence").mkdir()
    (tmp_path / "evidence" / "b.txt").write_text("b")
    (tmp_path / "new.txt").write_text("new")
    return read_sound(tmp_path)


def test_named_and_unnamed(season: Season) -> None:
    """What is named and not there, and what is there and not named."""
    assert [("a.txt", "L1", False)] == [(one.path, one.id, one.there) for one in named_evidence(season)]
    assert ("b.txt",) == unnamed_evidence(season)


def test_the_same_bytes_under_two_names(season: Season) -> None:
    """They are told together; what only has the same length isn't, nor is a file without a byte."""
    papers = {"copy.txt": "b", "other.txt": "c", "empty.txt": "", "empty-2.txt": ""}
    for name, text in papers.items():
        (season.folder / "evidence" / name).write_text(text)
    assert (("b.txt", "copy.txt"),) == list_copies(read_sound(season.folder))
