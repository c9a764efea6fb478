"""What somebody's editor did between two recorded changes is told as such, and never as a command's."""

from __future__ import annotations

import pytest

from certgen.exchange.editing.hand_edits import list_hand_edits, tell_hand_edit
from certgen.exchange.editing.history import Author, read_history, write_change

TREES = "trees:\n  - {tree: '01', row: '1'}\n"


@pytest.fixture
def folder(tmp_path):
    """A folder that certgen has written three times, twice the trees and the bags between."""
    for name, text in (("trees", TREES), ("bags", "bagging: []\n"), ("trees", TREES.replace("'1'", "'2'"))):
        write(tmp_path, name, text)
    return tmp_path


def write(folder, name, text):
    """A change of one file."""
    write_change(folder, {f"{name}.yaml": text.encode()}, Author("certgen import"))


def edits(folder):
    """Each as its file and the changes around it."""
    return [
        (one.path, one.after, one.before, one.sure) for one in list_hand_edits(folder, read_history(folder))
    ]


def test_where_nobody_was_nothing_is_told(folder):
    """A change of another file in between is nobody's hand."""
    assert [] == edits(folder)


def test_a_hand_before_a_change_and_one_since_are_told_apart(folder):
    """With what each did to the records, though the change in between touched the same file."""
    (folder / "trees.yaml").write_text(TREES.replace("'1'", "'3'"), encoding="utf-8")
    write(folder, "trees", TREES.replace("'1'", "'4'"))
    (folder / "trees.yaml").write_text(TREES.replace("'1'", "'5'"), encoding="utf-8")

    found = list_hand_edits(folder, read_history(folder))
    told = [tell_hand_edit(folder, one)[0].fields[0] for one in found]

    assert [("trees.yaml", 4, 0, True), ("trees.yaml", 3, 4, True)] == edits(folder)
    assert [("row", "4", "5"), ("row", "2", "3")] == [(one.field, one.old, one.new) for one in told]


def test_a_file_that_was_taken_away_and_one_put_back_are_told(folder):
    """By whoever did it, it was no command."""
    (folder / "trees.yaml").unlink()

    assert [("trees.yaml", 3, 0, True)] == edits(folder)
    assert ["removed"] == [
        one.what for one in tell_hand_edit(folder, list_hand_edits(folder, read_history(folder))[0])
    ]


def test_what_lies_around_a_missing_entry_is_no_hand_s_for_sure(folder):
    """The change that can't be read may have done it."""
    write(folder, "trees", TREES.replace("'1'", "'3'"))
    write(folder, "trees", TREES.replace("'1'", "'4'"))
    (folder / ".history" / "000004.json").write_text("{}", encoding="utf-8")

    assert [("trees.yaml", 3, 5, False)] == edits(folder)


@pytest.mark.parametrize("text", ["trees: [\n", "\x00", "- 1\n"])
def test_a_file_that_holds_no_records_any_more_is_told_without_them(folder, text):
    """No fault keeps the rest of the history from being shown."""
    (folder / "trees.yaml").write_text(text, encoding="utf-8")

    (found,) = list_hand_edits(folder, read_history(folder))

    assert () == tell_hand_edit(folder, found)


def test_what_is_not_kept_any_more_is_told_without_its_records(folder):
    """Whoever emptied the folder of kept files."""
    (folder / "trees.yaml").write_text(TREES, encoding="utf-8")
    for path in (folder / ".history" / "files").iterdir():
        path.unlink()

    (found,) = list_hand_edits(folder, read_history(folder))

    assert () == tell_hand_edit(folder, found)
