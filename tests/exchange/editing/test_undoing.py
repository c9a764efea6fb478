"""A change taken back: to the byte where nothing came after it, and never over what somebody did since."""

from __future__ import annotations

import tempfile
from pathlib import Path

import pytest
from histories import BASE, SECOND, THIRD, TREES, list_files
from hypothesis import given, settings
from hypothesis import strategies as st

from certgen.exchange.editing.history import (
    HISTORY,
    Author,
    ChangedMeanwhileError,
    read_history,
    write_change,
)
from certgen.exchange.editing.undoing import UndoRefusedError, plan_undo

ME = Author("desk", "M. Alder")
AGAIN = Author("undo", "M. Alder")


@pytest.fixture
def season(tmp_path: Path) -> Path:
    """A season's folder with two record files."""
    (tmp_path / "season.yaml").write_bytes(BASE)
    (tmp_path / "trees.yaml").write_bytes(TREES)
    return tmp_path


def write(season: Path, **files: bytes | None) -> int:
    """Writes record files by their first names; gives the change's number."""
    change = write_change(season, {f"{name}.yaml": data for name, data in files.items()}, ME)
    assert change is not None
    return change.number


def undo(season: Path, number: int | None = None) -> int:
    """Takes a change back; gives the number of the change that did."""
    done = plan_undo(season, number).carry_out(AGAIN)
    assert done is not None
    return done.number


def test_undoing_again_and_again_goes_further_back(season: Path) -> None:
    """The latest that stands is meant, never the undoing itself."""
    states = [list_files(season)]
    for more in (SECOND, SECOND + THIRD, THIRD):
        write(season, trees=TREES + more)
        states.append(list_files(season))
    for state in reversed(states[:-1]):
        undo(season)
        assert state == list_files(season)
    with pytest.raises(UndoRefusedError, match="there is no change that could be undone"):
        plan_undo(season)


def test_an_undoing_can_be_taken_back(season: Path) -> None:
    """And that too; each says what it took back, and what is undone says by which."""
    write(season, trees=TREES + SECOND)
    assert 3 == undo(season, undo(season, 1))
    assert TREES + SECOND == (season / "trees.yaml").read_bytes()
    history = read_history(season)
    assert [2, 1, 0] == [change.undoes for change in history.changes]
    assert {2: 3} == history.undone()
    assert 4 == undo(season)
    assert TREES == (season / "trees.yaml").read_bytes()
    with pytest.raises(UndoRefusedError, match=r"change 1 is undone already, by change 4\. To have it back"):
        plan_undo(season, 1)


def test_files_that_came_go_and_come_again(season: Path) -> None:
    """A letter with its record, a table's new file; empty folders may stay."""
    before = list_files(season)
    write_change(
        season, {"evidence/letters/a.pdf": b"%PDF", "trees.yaml": TREES + SECOND, "x.yaml": b"tests:\n"}, ME
    )
    after = list_files(season)
    back = undo(season)
    assert before == list_files(season)
    undo(season, back)
    assert after == list_files(season)


def test_later_entries_stay_when_an_earlier_one_is_undone(season: Path) -> None:
    """An earlier tree was wrong: the one after it stays, and the file is as if the other had never been."""
    write(season, trees=TREES + SECOND)
    write(season, trees=TREES + SECOND + THIRD)
    planned = plan_undo(season, 1)
    assert (("trees.yaml",), ["removed"]) == (planned.merged, [one.what for one in planned.records])
    planned.carry_out(AGAIN)
    assert TREES + THIRD == (season / "trees.yaml").read_bytes()


def test_any_of_many_entries_can_be_undone_in_any_order(season: Path) -> None:
    """Records that end alike aren't taken for one another."""
    records = [b"  - tree: X%d\n    planting: P1\n    sex: male\n" % number for number in range(12)]
    for number in range(12):
        write(season, trees=TREES + b"".join(records[: number + 1]))
    for number in (5, 1, 9, 12, 3):
        undo(season, number)
        records[number - 1] = b""
        assert TREES + b"".join(records) == (season / "trees.yaml").read_bytes()


def test_a_field_is_put_back_beside_a_later_one(season: Path) -> None:
    """Two fields of one record, changed one after the other."""
    first = TREES.replace(b"hermaphrodite", b"female")
    write(season, trees=first)
    write(season, trees=first.replace(b"P1", b"P2"))
    undo(season, 1)
    assert TREES.replace(b"P1", b"P2") == (season / "trees.yaml").read_bytes()


def test_what_was_typed_by_hand_elsewhere_stays(season: Path) -> None:
    """A remark above and a record below."""
    write(season, trees=TREES + SECOND)
    (season / "trees.yaml").write_bytes(b"# mine\n" + TREES + SECOND + THIRD)
    undo(season)
    assert b"# mine\n" + TREES + THIRD == (season / "trees.yaml").read_bytes()


def test_a_field_changed_again_by_hand_is_refused_with_both_versions(season: Path) -> None:
    """Nothing is written."""
    write(season, trees=TREES.replace(b"hermaphrodite", b"female"))
    there = TREES.replace(b"hermaphrodite", b"male")
    (season / "trees.yaml").write_bytes(there)
    with pytest.raises(UndoRefusedError, match=r"trees\.yaml was changed again by hand since") as refused:
        plan_undo(season)
    (versions,) = refused.value.versions
    assert (TREES.replace(b"hermaphrodite", b"female"), there, ()) == versions[1:]
    assert there == (season / "trees.yaml").read_bytes()


def test_a_record_that_a_later_change_worked_on_is_refused_by_its_number(season: Path) -> None:
    """A field added to the record that would go: the later one is to be undone first."""
    write(season, trees=TREES + SECOND)
    write(season, trees=TREES + SECOND + b"    note: leans\n")
    with pytest.raises(UndoRefusedError, match="by change 2; undo that first") as refused:
        plan_undo(season, 1)
    assert (2,) == refused.value.versions[0].later
    undo(season, 2)
    undo(season, 1)
    assert TREES == (season / "trees.yaml").read_bytes()


def test_a_removed_record_comes_back_before_a_later_one(season: Path) -> None:
    """It stood at the end, and another stands there by now."""
    (season / "trees.yaml").write_bytes(TREES + SECOND)
    write(season, trees=TREES)
    write(season, trees=TREES + THIRD)
    undo(season, 1)
    assert TREES + SECOND + THIRD == (season / "trees.yaml").read_bytes()


def test_evidence_that_was_exchanged_by_hand_is_refused(season: Path) -> None:
    """Nothing of it can be merged."""
    write_change(season, {"evidence/a.jpg": b"old"}, ME)
    (season / "evidence" / "a.jpg").write_bytes(b"new")
    with pytest.raises(UndoRefusedError) as refused:
        plan_undo(season)
    assert (None, b"new") == refused.value.versions[0][1:3]


def test_what_is_done_already_is_said(season: Path) -> None:
    """Somebody put it back by hand."""
    write(season, trees=TREES + SECOND)
    (season / "trees.yaml").write_bytes(TREES)
    with pytest.raises(UndoRefusedError, match="nothing is left of change 1"):
        plan_undo(season)


def test_a_private_file_comes_back_private(season: Path) -> None:
    """Nobody else reads it then, either."""
    (season / "trees.yaml").chmod(0o600)
    write(season, trees=None)
    undo(season)
    assert (TREES, 0o600) == (
        (season / "trees.yaml").read_bytes(),
        (season / "trees.yaml").stat().st_mode & 0o777,
    )


def test_a_number_that_is_not_kept_is_refused(season: Path) -> None:
    """With those that are."""
    with pytest.raises(UndoRefusedError, match="no change 7 is kept; none is"):
        plan_undo(season, 7)
    write(season, trees=TREES + SECOND)
    with pytest.raises(UndoRefusedError, match="no change 7 is kept; those from 1 to 1 are"):
        plan_undo(season, 7)


def test_what_is_kept_no_longer_is_said(season: Path) -> None:
    """The file stays as it is."""
    write(season, trees=TREES + SECOND)
    for path in (season / HISTORY / "files").iterdir():
        path.unlink()
    with pytest.raises(UndoRefusedError, match=r"what trees\.yaml held before change 1 isn't kept any more"):
        plan_undo(season)


def test_a_file_changed_after_it_was_shown_is_left_alone(season: Path) -> None:
    """What a person agreed to is what is done."""
    write(season, trees=TREES + SECOND)
    planned = plan_undo(season)
    (season / "trees.yaml").write_bytes(BASE)
    with pytest.raises(ChangedMeanwhileError):
        planned.carry_out(AGAIN)
    assert BASE == (season / "trees.yaml").read_bytes()


@pytest.mark.parametrize(
    "path", ["../outside.yaml", "/etc/x.yaml", f"{HISTORY}/000001.json", "linked/x.yaml"]
)
def test_a_strangers_entry_leads_nowhere_else(
    season: Path, tmp_path_factory: pytest.TempPathFactory, path: str
) -> None:
    """A history that came with a folder names only files of that folder."""
    write(season, trees=TREES + SECOND)
    (season / "linked").symlink_to(tmp_path_factory.mktemp("aim"))
    entry = season / HISTORY / "000001.json"
    entry.write_bytes(entry.read_bytes().replace(b'"trees.yaml"', f'"{path}"'.encode()))
    with pytest.raises((ValueError, OSError)):
        plan_undo(season)


FILES = ("trees.yaml", "season.yaml", "evidence/a.txt")
#: A file by its place in FILES and its new content, or a number to undo counted from the last.
STEPS = st.lists(
    st.one_of(
        st.tuples(
            st.sampled_from(FILES),
            st.sampled_from(
                [None, TREES, TREES + SECOND, TREES + SECOND + THIRD, TREES + THIRD, BASE, b"", b"\xff"]
            ),
        ),
        st.integers(0, 5),
    ),
    max_size=10,
)


@settings(max_examples=60)
@given(STEPS)
def test_any_sequence_of_writes_and_undos_gives_back_every_state(
    steps: list[tuple[str, bytes | None] | int],
) -> None:
    """All taken back one by one, undoings among them, each state is there again to the byte."""
    with tempfile.TemporaryDirectory() as name:
        season = Path(name)
        (season / "trees.yaml").write_bytes(TREES)
        states = [list_files(season)]
        for step in steps:
            if isinstance(step, tuple):
                changed = write_change(season, dict([step]), ME)
            else:
                changed = undo_if_possible(season, len(states) - 1 - step)
            if changed is not None:
                assert len(states) == changed.number
                states.append(list_files(season))
        for number in range(len(states) - 1, 0, -1):
            plan_undo(season, number).carry_out(AGAIN)
            assert states[number - 1] == list_files(season)


def undo_if_possible(season: Path, number: int) -> object:
    """Takes a change back; None where it is refused, and then nothing is other than before."""
    before = list_files(season)
    try:
        return plan_undo(season, number).carry_out(AGAIN)
    except UndoRefusedError:
        assert before == list_files(season)
        return None
