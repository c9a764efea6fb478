"""A file of records comes in as the reader reads it, and what it refuses is told at its line."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from seasons import one_line, write_season

from certgen.cli import run as certgen
from certgen.examination import examine
from certgen.exchange.importing.plan import plan_import
from certgen.exchange.importing.record_files import read_record_file
from certgen.exchange.importing.trial import ImportRefusedError
from certgen.exchange.spreadsheets.rows import records_of
from certgen.standards.season_reading import read_case

ON = date(2026, 11, 25)
VISIT = """# marks of an inspection
visits:
  - visit: "V26-1"
    kind: yearly
    from: 2026-06-16
    inspector: "R. Tamsin: #1"
    walked: ["finding 1: seen; 'all' \\"well\\""]
    exercises:
      - {kind: tags, about: [B1], outcome: agrees}
    findings:
      - finding: V26-1-1
        kind: paper
        about: [L1]
        found: "the sheet of B1: no initials"
        deadline: 2027-01-31
"""


@pytest.fixture
def season(tmp_path) -> Path:
    """A clean season of one line."""
    folder = tmp_path / "season"
    folder.mkdir()
    write_season(folder, **one_line())
    return folder


def written(tmp_path: Path, text: str | bytes, name: str = "visit.yaml") -> Path:
    """A file of records."""
    file = tmp_path / name
    file.write_bytes(text.encode() if isinstance(text, str) else text)
    return file


def test_a_visit_comes_in_whole_and_once(season, tmp_path):
    """Each field as it was written; brought in twice it is there already; no gram gets better or worse."""
    before = examine(season, ON)
    file = written(tmp_path, VISIT)

    assert 0 == certgen(["import", str(season), str(file)])
    after, errors = read_case(season)
    assert () == errors
    (visit,) = records_of(after, "visits")
    assert "R. Tamsin: #1" == visit["inspector"]
    assert ("finding 1: seen; 'all' \"well\"",) == visit["walked"]
    assert "the sheet of B1: no initials" == visit["findings"][0]["found"]
    assert 1 == plan_import(season, (), record_file=file).same
    assert before.lots == examine(season, ON).lots


def test_another_under_the_same_number_is_refused(season, tmp_path):
    """What is there is never overwritten unasked; the fault names the record and the way out."""
    plan_import(season, (), record_file=written(tmp_path, VISIT)).carry_out()
    other = written(tmp_path, VISIT.replace("R. Tamsin", "S. Orlin"), "other.yaml")
    plan = plan_import(season, (), record_file=other)

    assert [True] == ["other.yaml, visits, record 1: " in fault.text() for fault in plan.faults]
    assert "--replace" in plan.faults[0].text()
    assert {} == plan.contents
    replaced = plan_import(season, (), record_file=other, replace=True)
    assert [] == replaced.faults


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (VISIT.replace("2026-06-16", "16 June"), "5"),
        (VISIT.replace("kind: yearly", "kind: sometimes"), "4"),
        (VISIT.replace("outcome: agrees", "outcome: fine"), "9"),
        (VISIT.replace("    inspector", "    walks: [1]\n    inspector"), "6"),
        ("visits: &a\n  - *a\n", "1"),
        ("visits:\n  - visit: V\n   kind: yearly\n", "3"),
        (b"visits:\n  - {visit: V26-1, kind: yearly, from: 2026-01-01, note: \xff}\n", ""),
        ("season: {label: other}\n" + VISIT, ""),
        ("nonsense: [1]\n", "1"),
        ("", ""),
        ("# nothing\n", ""),
        ("[1, 2", ""),
    ],
)
def test_what_is_unsound_is_told_at_its_line(season, tmp_path, capsys, text, says):
    """A word, a day, a field or a sign that no record may have, and a file that holds nothing."""
    files = {file.name: file.read_bytes() for file in season.glob("*.yaml")}

    assert 2 == certgen(["import", str(season), str(written(tmp_path, text))])
    said = capsys.readouterr().err
    assert "Traceback" not in said
    assert not says or f"visit.yaml:{says}" in said
    assert files == {file.name: file.read_bytes() for file in season.glob("*.yaml")}


def test_columns_are_nothing_to_it(season, tmp_path, capsys):
    """Options that speak of columns are refused beside such a file, and a folder or no season says so."""
    file = written(tmp_path, VISIT)

    assert 2 == certgen(["import", str(season), str(file), "--table", "visits"])
    assert "has no columns" in capsys.readouterr().err
    with pytest.raises(ImportRefusedError, match="no season"):
        read_record_file(file, None)
    assert 2 == certgen(["import", str(season), str(tmp_path / "none.yaml")])
    assert 2 == certgen(["import", str(tmp_path / "empty"), str(file)])
