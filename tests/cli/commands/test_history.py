"""What was changed is listed, and taken back when somebody says yes."""

from __future__ import annotations

import io
import json
import re
import sys
from typing import TYPE_CHECKING, Any

import jsonschema_rs
import pytest
from histories import BASE, SECOND, THIRD, TREES, list_files

from certgen import cli
from certgen.exchange.editing.history import (
    HISTORY,
    KEPT_BYTES,
    KEPT_DAYS,
    KEPT_LEAST,
    Author,
    read_history,
    write_change,
)

if TYPE_CHECKING:
    from pathlib import Path

COVERS = (
    "certgen.cli.commands.undo",
    "certgen.cli.writers.history",
    "certgen.exchange.interchange.history",
)
ME = Author("certgen import", "M. Alder")


@pytest.fixture
def season(tmp_path: Path) -> Path:
    """A season with three changes: a record, a field of it, and a letter."""
    (tmp_path / "season.yaml").write_bytes(BASE)
    (tmp_path / "trees.yaml").write_bytes(TREES)
    write_change(tmp_path, {"trees.yaml": TREES + SECOND}, ME)
    write_change(tmp_path, {"trees.yaml": (TREES + SECOND).replace(b"female", b"male")}, ME)
    write_change(tmp_path, {"evidence/a.txt": b"a letter"}, Author("certgen evidence"))
    return tmp_path


def answer(monkeypatch: pytest.MonkeyPatch, text: str, *, terminal: bool = False) -> None:
    """What comes in on standard input."""
    given = io.StringIO(text)
    monkeypatch.setattr(given, "isatty", lambda: terminal)
    monkeypatch.setattr(sys, "stdin", given)


def test_the_list_tells_each_field_with_both_values(season: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The latest first, with when, who and where."""
    assert cli.run(["history", str(season)]) == 0
    said = capsys.readouterr().out
    assert ["3", "2", "1"] == re.findall(r"(?m)^(\d+)  \d+ [A-Z][a-z]+ \d{4}, \d\d:\d\d  certgen", said)
    assert "certgen import, by M. Alder" in said
    assert "Tree T2 changed: sex from “female” to “male”" in said
    assert "Tree T2 added: tree T2; planting P1; sex female" in said
    assert "evidence/a.txt" in said


def test_one_change_is_told_whole(season: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """By its number; another's is refused."""
    many = b"".join(SECOND.replace(b"T2", b"X%d" % number) for number in range(30))
    write_change(season, {"trees.yaml": TREES + many}, ME)
    assert cli.run(["history", str(season)]) == 0
    assert "more records" in capsys.readouterr().out
    assert cli.run(["history", str(season), "4"]) == 0
    told = capsys.readouterr().out
    assert 30 == told.count(" added: ")
    assert "more record" not in told
    assert cli.run(["history", str(season), "9"]) == 2
    assert "no change 9 is kept" in capsys.readouterr().err


def test_a_long_history_is_cut_and_says_so(season: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`--all` lists the rest."""
    for number in range(25):
        write_change(season, {"trees.yaml": TREES + b"# %d\n" % number}, ME)
    assert cli.run(["history", str(season)]) == 0
    assert "and 8 earlier changes; --all lists them" in capsys.readouterr().out
    assert cli.run(["history", str(season), "--all"]) == 0
    assert "earlier" not in capsys.readouterr().out


def test_a_season_without_a_history_says_what_will_be_kept(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nothing is wrong with it."""
    assert cli.run(["history", str(tmp_path)]) == 0
    assert "No change of" in capsys.readouterr().out
    assert [] == list(tmp_path.iterdir())


def test_the_json_is_as_its_schema_says(season: Path, root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """With what is undone, by which, and what can't be read."""
    write_change(season, {"trees.yaml": b"just words"}, ME)
    write_change(season, {"trees.yaml": TREES}, ME, undoes=4)
    (season / HISTORY / "000001.json").write_bytes(b"noise")
    assert cli.run(["history", str(season), "--format", "json"]) == 2
    told: dict[str, Any] = json.loads(capsys.readouterr().out)
    schema = json.loads((root / "schemas" / "output" / "history.json").read_text(encoding="utf-8"))
    assert [] == [error.message for error in jsonschema_rs.iter_errors(schema, told)]
    assert [(5, 4, None), (4, None, 5), (3, None, None), (2, None, None)] == [
        (one["number"], one["undoes"], one["undone_by"]) for one in told["changes"]
    ]
    assert [True, False] == [bool(one["unread"]) for one in told["changes"][1:3]]
    assert ("000001.json" in told["damaged"][0], 1) == (True, len(told["damaged"]))
    assert {"days": KEPT_DAYS, "bytes": KEPT_BYTES, "least": KEPT_LEAST} == told["kept"]
    assert {"field": "sex", "old": "female", "new": "male"} in told["changes"][3]["records"][0]["fields"]


@pytest.mark.parametrize("command", ["history", "undo"])
def test_the_help_says_how_long_changes_are_kept(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    """As it is."""
    assert cli.run([command, "--help"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert f"for {KEPT_DAYS} days and up to {KEPT_BYTES // 2**30} GB" in said
    assert f"the latest {KEPT_LEAST}" in said


def test_undo_takes_yes_from_a_pipe(
    season: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """It says what would become of the records, what was done and the way back."""
    answer(monkeypatch, "yes\n")
    assert cli.run(["undo", str(season), "2"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "Tree T2 changed: sex from “male” to “female”" in said
    assert f"Change 2 is undone. That is change 4; to have it back: certgen undo {season} 4" in said
    assert TREES + SECOND == (season / "trees.yaml").read_bytes()
    answer(monkeypatch, "yes\n")
    assert cli.run(["undo", str(season), "4"]) == 0
    assert (TREES + SECOND).replace(b"female", b"male") == (season / "trees.yaml").read_bytes()
    capsys.readouterr()
    assert cli.run(["history", str(season)]) == 0
    said = capsys.readouterr().out
    assert ("takes change 2 back" in said, "undone by change 5" in said) == (True, True)


@pytest.mark.parametrize(("text", "terminal"), [("", False), ("no\n", False), ("y\n", False), ("n\n", True)])
def test_without_a_yes_nothing_is_undone(
    season: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    text: str,
    terminal: bool,
) -> None:
    """Exit code 2, and it says how."""
    before = list_files(season)
    answer(monkeypatch, text, terminal=terminal)
    assert cli.run(["undo", str(season)]) == 2
    assert "Nothing was changed; answer yes" in capsys.readouterr().err
    assert (before, 3) == (list_files(season), len(read_history(season).changes))


def test_a_terminal_is_asked(
    season: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The letter is taken away; its bytes are kept."""
    answer(monkeypatch, "y\n", terminal=True)
    assert cli.run(["undo", str(season)]) == 0
    assert "evidence/a.txt would be taken away (it is kept)" in capsys.readouterr().out
    assert not (season / "evidence" / "a.txt").exists()


def test_what_helps_an_editor_is_one_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A new season's thirty schema files don't hide which records would go."""
    folder = tmp_path / "2027"
    assert cli.run(["new", str(folder), "--operation", "Dune Fen Seeds"]) == 0
    capsys.readouterr()
    answer(monkeypatch, "no\n", terminal=False)
    assert cli.run(["undo", str(folder)]) == 2
    said = capsys.readouterr().out
    files = len(list((folder / ".schemas").iterdir()))
    assert f"  .schemas/, {files} files for editors, would be as before\n" in said
    assert "  trees.yaml would be taken away (it is kept)\n" in said
    assert ".schemas/trees.json" not in said


def test_a_file_changed_since_is_shown_in_both_versions(
    season: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """On standard error, with what the change had left and what is there."""
    (season / "trees.yaml").write_bytes((TREES + SECOND).replace(b"female", b"hermaphrodite") + b"\x1b[2J#\n")
    assert cli.run(["undo", str(season), "2"]) == 2
    said = capsys.readouterr().err
    assert "trees.yaml was changed again by hand since" in said
    assert "-    sex: male" in said
    assert "+    sex: hermaphrodite" in said
    assert "\x1b" not in said


@pytest.mark.parametrize("path", ["../trees.yaml", "/etc/hosts", f"{HISTORY}/files", "linked/x.yaml"])
def test_an_entry_that_leads_elsewhere_is_refused_in_words(
    season: Path, tmp_path_factory: pytest.TempPathFactory, capsys: pytest.CaptureFixture[str], path: str
) -> None:
    """A history may come with a stranger's folder; it is no fault of certgen."""
    (season / "linked").symlink_to(tmp_path_factory.mktemp("aim"))
    entry = season / HISTORY / "000003.json"
    entry.write_bytes(entry.read_bytes().replace(b"evidence/a.txt", path.encode()))
    assert cli.run(["undo", str(season)]) == 2
    said = capsys.readouterr().err
    assert said.startswith("certgen undo: ")
    assert "failed" not in said


def test_a_number_alone_is_taken_for_a_folder_and_says_so(
    season: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The way out is told."""
    monkeypatch.chdir(season)
    for command in ("undo", "history"):
        assert cli.run([command, "2"]) == 2
        assert "write: . 2" in capsys.readouterr().err
        assert cli.run([command, "nowhere"]) == 2
        assert "there is no folder 'nowhere'" in capsys.readouterr().err


def test_every_command_that_writes_records_leaves_an_entry(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A new season, an import and a letter, each taken back to the byte."""
    season, sheet, letter = tmp_path / "2026", tmp_path / "trees.csv", tmp_path / "letter.txt"
    states: list[dict[str, bytes]] = [{}]
    letter.write_bytes(b"a letter")
    sheet.write_text("tree,planting,row,position,sex\nT7,P1,1,1,female\n", encoding="utf-8")
    for words in (
        ["new", str(season), "--operation", "Larkfold"],
        ["import", str(season), str(sheet), "--table", "trees"],
        ["evidence", str(season), "--add", str(letter), "--to", "trees:T7"],
    ):
        assert cli.run(words) == 0
        states.append(list_files(season))
    commands = [change.command for change in read_history(season).changes]
    assert ["certgen evidence", "certgen import", "certgen new"] == commands
    for state in reversed(states[:-1]):
        answer(monkeypatch, "yes\n")
        assert cli.run(["undo", str(season)]) == 0
        assert state == list_files(season)


def test_an_undo_beside_later_entries_says_that_they_stay(
    season: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """What is merged is said before it is done."""
    write_change(season, {"trees.yaml": (TREES + SECOND).replace(b"female", b"male") + THIRD}, ME)
    answer(monkeypatch, "yes\n")
    assert cli.run(["undo", str(season), "2"]) == 0
    assert "that stays, and only what this change did would go" in " ".join(capsys.readouterr().out.split())
    assert TREES + SECOND + THIRD == (season / "trees.yaml").read_bytes()
