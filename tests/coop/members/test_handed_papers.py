"""What is kept of a member's papers and measures: enough to know them again at another."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from certgen.coop.members.handed_papers import list_evidence, list_measured, samples_by_report
from certgen.coop.members.summary import summarise
from certgen.examination import Result, examine
from tests.coop.conftest import ON, season_text


@pytest.fixture
def result(tmp_path: Path) -> Callable[..., Result]:
    """Examines a member's season with these changes and files of evidence."""

    def make(changes: dict[str, str] | None = None, files: dict[str, bytes] | None = None) -> Result:
        (tmp_path / "season.yaml").write_text(season_text("A", changes))
        for name, data in {"letters/BF-A-2201.txt": b"S1 and t2: negative", **(files or {})}.items():
            path = tmp_path / "evidence" / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(data)
        return examine(tmp_path, ON)

    return make


def test_a_letters_text_is_held_against_its_samples(result: Callable[..., Result]) -> None:
    """It names S1 by its number and S2 by its mark T2, and of S3 neither."""
    (letter,) = list_evidence(result())
    assert ("BF-A-2201", 1) == (letter.report, letter.unnamed)


def test_what_isnt_text_isnt_read(result: Callable[..., Result]) -> None:
    """Of a scan nobody here can say what it names."""
    changes = {"letters/BF-A-2201.txt": "letters/scan.jpg"}
    (letter,) = list_evidence(result(changes, {"letters/scan.jpg": b"\xff\xd8 a scan of it"}))
    assert letter.unnamed is None


def test_one_file_is_known_again_by_its_bytes(result: Callable[..., Result]) -> None:
    """Whatever it is called; and what rests on the record is kept."""
    bag = {"  - bag: B1\n": "  - bag: B1\n    evidence: [one.jpg, two.jpg]\n"}
    photo = b"\xff\xd8 the same photo"
    evidence = list_evidence(result(bag, {"one.jpg": photo, "two.jpg": photo}))
    found = [one for one in evidence if one.table == "bagging"]
    assert 1 == len({one.digest for one in found})
    assert [("A-1",), ("A-1",)] == [one.lots for one in found]


def test_what_is_measured_bears_no_number(result: Callable[..., Result]) -> None:
    """Another name for a tree, bag or lot changes none of it; another weight changes its table."""
    one = {each.table: each for each in list_measured(result())}
    renamed = {each.table: each for each in list_measured(result({"T1": "U1", "B1": "C1", "A-1": "Z-1"}))}
    assert one == renamed
    heavier = {each.table: each for each in list_measured(result({"dry_weight: 8 g": "dry_weight: 9 g"}))}
    assert ["batches"] == [table for table in one if one[table] != heavier[table]]


def test_samples_stand_by_their_report(result: Callable[..., Result]) -> None:
    """Each with its mark."""
    assert {"BF-A-2201": {"S1": "T1", "S2": "T2", "S3": "T3"}} == samples_by_report(result())


def test_places_of_what_others_may_name_are_kept(result: Callable[..., Result]) -> None:
    """File and line of lots, movements, plantings, runs and samples."""
    kept = summarise("A", "", result())
    lines = season_text("A").splitlines()
    for name in ("lots/A-1", "movements/M1", "plantings/P1", "batches/X2", "screening/S3"):
        file, line = kept.places[name]
        assert ("season.yaml", True) == (file, lines[line - 1].endswith(name.partition("/")[2]))
