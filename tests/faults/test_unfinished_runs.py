"""An import killed half-way, or evidence half added, is finished by whoever looks at the season next."""

from __future__ import annotations

import os
import shutil

import pytest
from killed import kill_at

from certgen import cli
from certgen.exchange.editing.history import HISTORY, read_history
from certgen.records.record_files.files import list_folder
from certgen.standards.season_reading import read_case
from certgen.write_journal import JOURNAL

COVERS = ("certgen.cli.output", "certgen.exchange.importing.plan", "certgen.exchange.editing.filing")
ON = ["--on", "2026-10-31"]
#: Of the renames by which evidence is added, those of the letter and of the record that names it: ahead of
#: them come the record's file as it was and as it will be, and the history's entry.
LETTER, RECORD = 4, 5


def records(season):
    """Every file of a season that isn't hidden, by name."""
    return {
        path.name: path.read_bytes() for path in season.iterdir() if path.is_file() and path.name[0] != "."
    }


def leavings(season):
    """What is hidden in a season's folder, but for its history."""
    return [path.name for path in season.rglob(".*") if path.name != HISTORY]


def add_letter(season, tmp_path):
    """The arguments that add a letter to a sample: a new file and a changed one."""
    (tmp_path / "scan.pdf").write_bytes(b"a scan")
    return ["evidence", str(season), "--add", str(tmp_path / "scan.pdf"), "--to", "screening:S1"]


@pytest.mark.parametrize("step", [1, 2, 3, LETTER, RECORD])
def test_a_check_finishes_what_was_cut_short(season, tmp_path, capsys, step):
    """It says so in a line and checks the whole; the season is as if nothing had happened."""
    arguments = add_letter(season, tmp_path)
    shutil.copytree(season, tmp_path / "whole")
    assert cli.run([*arguments[:1], str(tmp_path / "whole"), *arguments[2:]]) == 0
    before = records(season)

    assert kill_at(step, lambda: cli.run(arguments))
    assert JOURNAL in leavings(season)
    assert (before, step <= LETTER) == (records(season), not (season / "evidence" / "scan.pdf").exists())
    capsys.readouterr()
    code = cli.run(["check", str(season), *ON])
    said = capsys.readouterr().err
    assert f"Writing into {season} was cut short; it is finished now: " in said
    assert ([], 1) == (leavings(season), said.count("\n"))
    assert records(tmp_path / "whole") == records(season)
    assert b"a scan" == (season / "evidence" / "scan.pdf").read_bytes()
    assert code == cli.run(["check", str(tmp_path / "whole"), *ON])
    assert cli.run(arguments) == 0
    assert [1] == [change.number for change in read_history(season).changes]


@pytest.mark.parametrize("step", [1, 3])
def test_an_import_of_many_files_is_finished_by_the_next(season, tmp_path, capsys, step):
    """Killed at its third file it is what the whole import gives, though the command itself is run again."""
    book = tmp_path / "book.xlsx"
    # A workbook has no place for signers, whose entries have fields of their own.
    text = (season / "base.yaml").read_text(encoding="utf-8")
    signers = text[text.index("  known_signers:") : text.index("blocks:")]
    (season / "base.yaml").write_text(text.replace(signers, "\n"), encoding="utf-8")
    assert cli.run(["export", str(season), "--out", str(book), *ON]) == 0
    whole, cut = tmp_path / "whole", tmp_path / "cut"
    assert cli.run(["import", str(whole), str(book)]) == 0
    assert len(records(whole)) > 5

    # Ahead of the records come a copy of each, and the history's entry.
    ahead = len(records(whole)) + 1
    assert kill_at(ahead + step, lambda: cli.run(["import", str(cut), str(book)]))
    assert step - 1 == len(records(cut))
    capsys.readouterr()
    assert cli.run(["import", str(cut), str(book)]) == 0
    said = capsys.readouterr()
    assert "is finished now" in said.err
    assert "Nothing to do." in said.out
    assert (records(whole), []) == (records(cut), leavings(cut))


def test_a_reader_that_may_not_write_calls_nothing_clean(season, tmp_path):
    """What is half done is a reading error that says the way out, and speaks against all that was read."""
    assert kill_at(RECORD, lambda: cli.run(add_letter(season, tmp_path)))
    left = leavings(season)
    found, errors = read_case(season)
    assert [JOURNAL] == [error.file for error in errors]
    assert "some may be new and others old. `certgen check` in the folder" in errors[0].message
    assert found is not None
    assert [JOURNAL] == [one.error.file for one in found.unread]
    assert left == leavings(season)


def test_a_check_that_cannot_finish_says_why_and_ends_with_2(season, tmp_path, capsys):
    """A file changed since, so nobody can tell what was meant: it is named, and nothing is touched."""
    assert kill_at(RECORD, lambda: cli.run(add_letter(season, tmp_path)))
    (season / "base.yaml").write_bytes((season / "base.yaml").read_bytes() + b"# mine\n")
    before = records(season)
    capsys.readouterr()
    assert cli.run(["check", str(season), *ON]) == 2
    said = capsys.readouterr()
    assert "base.yaml changed since" in said.err
    assert JOURNAL in said.out
    assert before == records(season)


@pytest.mark.parametrize("name", ["a pipe", "a link", "a folder", "noise"])
def test_a_strangers_note_makes_a_season_unclean_and_no_more(season, name):
    """Nothing waits for it, follows it or changes a record by it."""
    note = season / JOURNAL
    if name == "a pipe":
        os.mkfifo(note)
    elif name == "a link":
        note.symlink_to("/dev/zero")
    elif name == "a folder":
        note.mkdir()
    else:
        note.write_bytes(b"\xff" * 100)
    before = records(season)
    assert [JOURNAL] == [error.file for error in list_folder(season).errors]
    code = cli.run(["check", str(season), *ON])
    # Noise is a note whose run was killed while it wrote it: nothing had begun.
    assert (code == 2) == (name != "noise")
    assert before == records(season)


def test_the_office_changes_no_members_folder(root, tmp_path, capsys):
    """A member's half-done import is named at that member; the note and the files stay as they are."""
    coop = tmp_path / "coop"
    shutil.copytree(root / "example_coop", coop)
    member = next(path.parent for path in sorted(coop.glob("members/*/*.yaml")))
    (member / JOURNAL).write_bytes(b"")
    before = {path: path.read_bytes() for path in coop.rglob("*") if path.is_file()}
    code = cli.run(
        ["coop", str(coop), "--on", "2026-11-25", "--no-cache", "--format", "json", "--workers", "1"]
    )
    assert code == 2
    assert f"{JOURNAL}: says that files of this folder were being put in place" in capsys.readouterr().out
    assert before == {path: path.read_bytes() for path in coop.rglob("*") if path.is_file()}
