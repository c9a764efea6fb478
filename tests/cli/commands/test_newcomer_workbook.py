"""A newcomer with a messy workbook: from nothing to a verified report, and not a line of YAML typed."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

from messy_workbook import write_workbook
from printed import plain
from typed_answers import sit_and_type

from certgen import cli
from certgen.exchange.spreadsheets.rows import records_of
from certgen.standards.season_reading import read_case

if TYPE_CHECKING:
    from pathlib import Path

    import pytest

COVERS = ("certgen.cli.column_questions", "certgen.cli.commands.import_")
ON = ("--on", "2026-11-20")
#: What she types besides Enter: what no workbook shows.
ANSWERS = (
    ("`status`", "organic"),
    ("'ja', 9 cells", "set"),
    ("which outcome", "set"),
    ("Column 'Who'", "buyer"),
    ("Column 'bag'", "bag use"),
    ("Column 'ribbon'", "fruit marked"),
)
QUESTIONS, KEYS = 36, 100


def test_a_messy_workbook_becomes_a_verified_report(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Eight commands. September's workbook is asked about once, on a terminal; October's by the map alone; a
    cell that says otherwise is a conflict with both values whole; a letter is laid to its samples; and what
    is printed says what the records can show and no more.
    """
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))

    def call(*typed: str) -> tuple[int, str, str]:
        code = cli.run(typed)
        shown = capsys.readouterr()
        assert "Traceback" not in shown.err
        return code, plain(shown.out), plain(shown.err)

    operation = ("--operation", "Two Streams Seed Garden", "--from", "2026-01-01")
    assert 0 == call("new", "mine", *operation)[0]

    write_workbook(tmp_path / "september.xlsx")
    command = [sys.executable, "-m", "certgen", "import", "mine", "september.xlsx", "--save-map", "mine.map"]
    sitting = sit_and_type(command, tmp_path, ANSWERS)

    assert 0 == sitting.code, sitting.shown
    assert (True, True) == (len(sitting.questions) <= QUESTIONS, sitting.keys <= KEYS), sitting.questions
    for said in (
        "sheet 'Our trees': the headings stand in row 3; what is above them was taken for titles",
        "sheet 'Our trees': totals skipped (A18)",
        "sheet 'Our trees': headings that stand again skipped (A11)",
        "sheet 'Bags': hidden rows are read like the others (8)",
        "sheet 'Jottings' is hidden in the workbook",
        "moon: not taken over",
        "the same rows tell of harvests, in rows that have 'picking'",
        "12 records of trees added",
        "7 records of harvests added",
    ):
        assert said in sitting.shown

    write_workbook(tmp_path / "october.xlsx", later=True)
    code, out, err = call("import", "mine", "october.xlsx", "--map", "mine.map", "--preview")
    assert (0, True) == (code, "bagging 08\n  outcome: left empty -> 'set'\n" in out), err
    code, out, err = call("import", "mine", "october.xlsx", "--map", "mine.map")
    assert (0, True) == (code, "1 record of lots added" in out), err
    assert "sheet 'Bags': not taken over: 'moon'" in err
    code, out, _ = call("import", "mine", "october.xlsx", "--map", "mine.map")
    assert (0, True) == (code, "Nothing to do." in out)

    write_workbook(tmp_path / "corrected.xlsx", later=True, corrected=True)
    code, out, err = call("import", "mine", "corrected.xlsx", "--map", "mine.map")
    assert (2, "") == (code, out)
    assert "with `party` 'Ashlock Nursery', and here it is 'Ashlock Nursery & Sons'" in err
    code, out, _ = call("import", "mine", "corrected.xlsx", "--map", "mine.map", "--replace")
    assert (0, True) == (code, "  party: 'Ashlock Nursery' -> 'Ashlock Nursery & Sons'" in out)

    _compare_records(tmp_path / "mine")

    (tmp_path / "scan.pdf").write_bytes(b"%PDF-1.4\n% the letter\n")
    code, out, err = call("evidence", "mine", "--add", "scan.pdf", "--to", "screening:S1..S9")
    assert (0, "") == (code, err), out

    code, out, err = call("check", "mine", *ON)
    assert (1, "") == (code, err)
    assert "52 records read." in out
    for lot in ("CB-26-1  rejected", "CB-26-2  rejected", "CB-26-3  unproven"):
        assert lot in out
    assert "Bag 06 on tree 6 was found torn on 10 March 2026" in out

    typed = ("--short", "--registers", "none", "--out", "packet.pdf")
    code, out, err = call("report", "mine", *typed, *ON)
    assert (1, True) == (code, "Lots: 1 unproven, 2 rejected." in out), err
    code, out, err = call("verify", "packet.pdf", "--against", "mine")
    assert (0, "") == (code, err)
    assert out.endswith("This packet's pages follow from the records inside it.\n")


def _compare_records(folder: Path) -> None:
    """What her cells have become: words, commas, ranges, noughts, dashes, cut and merged cells."""
    season, errors = read_case(folder)
    assert [] == [error.text() for error in errors]
    assert season is not None
    records = {table: records_of(season, table) for table in ("blocks", "trees", "screening", "bagging")}
    seed = {table: records_of(season, table) for table in ("harvests", "batches", "lots", "movements")}

    assert ["organic"] == [one["status"] for one in records["blocks"]]
    assert ("unknown", "1", "3") == tuple(records["trees"][2][name] for name in ("sex", "row", "position"))
    assert ("9", "10", "11", "12") == records["screening"][8]["trees"]
    assert [f"{number:02d}" for number in range(1, 11)] == [one["bag"] for one in records["bagging"]]
    assert "torn" == records["bagging"][5]["checks"][0]["condition"]
    assert {"hermaphrodite", "female"} == {one["flower"] for one in records["bagging"]}
    assert ("1", "2", "3") == seed["batches"][0]["harvests"]
    assert ["X26-1", "X26-2", "X26-3"] == [one["batch"] for one in seed["batches"]]
    assert ["24.5 g", "24 g", "32 g"] == [one["dry_weight"] for one in seed["batches"]]
    assert [("X26-1", "20 g"), ("X26-2", "3.5 g")] == [
        (one["batch"], one["weight"]) for one in seed["lots"][0]["sources"]
    ]
    assert ["Callow Bell"] * 3 == [one["variety"] for one in seed["lots"]]
    assert "M-2026-09-12-CB-26-2" == seed["movements"][1]["movement"]
    assert ["10 grams", "5.5 grams", "2 grams"] == [one["weight"] for one in seed["movements"]]
