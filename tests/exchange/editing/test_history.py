"""Every change is told, and what stood there before is kept whole."""

from __future__ import annotations

import errno
import gzip
import os
import re
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import pytest
from histories import BASE, SECOND, THIRD, TREES, list_files
from killed import kill_at

from certgen.exchange.editing import history
from certgen.exchange.editing.history import (
    HISTORY,
    Author,
    ChangedMeanwhileError,
    HistoryError,
    prune,
    read_history,
    read_kept,
    write_change,
)
from certgen.manifest import digest_records
from certgen.records import read_season
from certgen.whole_files import PathError
from certgen.write_journal import digest, hold_folder, mend

if TYPE_CHECKING:
    from pathlib import Path

ME = Author("import", "M. Alder")
NOON = datetime(2026, 5, 4, 12, 0, tzinfo=UTC)


@pytest.fixture
def season(tmp_path: Path) -> Path:
    """A season's folder that nothing of certgen's has written into yet."""
    folder = tmp_path / "2026"
    folder.mkdir()
    (folder / "season.yaml").write_bytes(BASE)
    (folder / "trees.yaml").write_bytes(TREES)
    return folder


def write(season: Path, at: datetime = NOON, /, **files: bytes | None) -> None:
    """Writes record files by their first names."""
    write_change(season, {f"{name}.yaml": data for name, data in files.items()}, ME, at=at)


def test_an_entry_says_when_who_where_and_what(season: Path) -> None:
    """And what stood there is kept whole, as an ordinary packed file under its own name."""
    write(season, trees=TREES + SECOND, stock=b"movements: []\n")
    (change,) = read_history(season).changes
    assert (1, NOON, "import", "M. Alder", 0) == (
        change.number, change.at, change.command, change.person, change.undoes
    )  # fmt: skip
    files = {file.path: (file.old, file.new) for file in change.files}
    assert {
        "stock.yaml": ("", digest(b"movements: []\n")),
        "trees.yaml": (digest(TREES), digest(TREES + SECOND)),
    } == files
    assert [("trees", "T2", "added")] == [(one.table, one.record, one.what) for one in change.records]
    assert TREES == read_kept(season, "trees.yaml", digest(TREES))
    (kept,) = (season / HISTORY / "files").glob(f"trees.yaml.{digest(TREES)[:32]}.gz")
    assert TREES == gzip.decompress(kept.read_bytes())


def test_what_changes_nothing_leaves_no_entry(season: Path) -> None:
    """Nothing is written, and no folder is made."""
    assert write_change(season, {"trees.yaml": TREES, "gone.yaml": None}, ME) is None
    assert not (season / HISTORY).exists()


def test_a_file_that_goes_is_kept_as_it_was(season: Path) -> None:
    """Evidence too, whatever it is."""
    write_change(season, {"evidence/scan.pdf": b"a scan"}, ME)
    write_change(season, {"evidence/scan.pdf": None, "trees.yaml": None}, ME)
    assert {"season.yaml": BASE} == list_files(season)
    for name, data in (("scan.pdf", b"a scan"), ("trees.yaml", TREES)):
        assert data == (season / HISTORY / "files" / f"{name}.{digest(data)[:32]}").read_bytes()


def test_a_file_changed_since_it_was_read_is_left_alone(season: Path) -> None:
    """The one that asks gets what is there, to merge it or to show it."""
    (season / "trees.yaml").write_bytes(TREES + THIRD)
    read = {"trees.yaml": digest(TREES), "new.yaml": ""}
    with pytest.raises(ChangedMeanwhileError, match=r"trees\.yaml was changed meanwhile") as refused:
        write_change(season, {"trees.yaml": TREES + SECOND, "new.yaml": b"x"}, ME, read=read)
    assert ("trees.yaml", TREES + THIRD) == (refused.value.file, refused.value.there)
    assert {"season.yaml": BASE, "trees.yaml": TREES + THIRD} == list_files(season)
    assert () == read_history(season).changes


def test_work_by_hand_between_two_changes_is_kept_and_named(season: Path) -> None:
    """What somebody typed isn't lost when the next command writes over it."""
    write(season, trees=TREES + SECOND)
    (season / "trees.yaml").write_bytes(TREES + SECOND + b"# mine\n")
    write(season, trees=TREES)
    last, first = read_history(season).changes
    assert ((), ("trees.yaml",)) == (first.edited, last.edited)
    assert TREES + SECOND + b"# mine\n" == read_kept(season, "trees.yaml", last.files[0].old)


@pytest.mark.parametrize(
    "name", ["../x.yaml", "/x.yaml", f"{HISTORY}/x", f"{HISTORY.upper()}/x", "a\\b", "a\u202eb", "a\nb"]
)
def test_names_that_are_no_file_of_a_season_are_refused(season: Path, name: str) -> None:
    """Neither the history itself nor anything outside the folder."""
    with pytest.raises((PathError, HistoryError)):
        write_change(season, {name: b"x"}, ME)
    assert not (season / HISTORY).exists()


def test_nothing_is_written_through_a_link(season: Path, tmp_path: Path) -> None:
    """Neither to a linked file, nor below a linked folder, nor where the history's folder is a link."""
    (tmp_path / "aim").mkdir()
    (season / "linked").symlink_to(tmp_path / "aim")
    (season / "also.yaml").symlink_to(season / "trees.yaml")
    with pytest.raises((PathError, HistoryError)):
        write_change(season, {"linked/x.yaml": b"x"}, ME)
    with pytest.raises(FileExistsError, match="a link"):
        write_change(season, {"also.yaml": b"x"}, ME)
    (season / HISTORY).symlink_to(tmp_path / "aim")
    with pytest.raises(HistoryError, match="is a link"):
        write(season, trees=BASE)
    assert [] == list((tmp_path / "aim").iterdir())
    assert TREES == (season / "trees.yaml").read_bytes()


def test_a_private_file_is_kept_privately(season: Path) -> None:
    """Nobody reads in the history what he can't read in the season."""
    (season / "trees.yaml").chmod(0o600)
    write(season, trees=BASE)
    write(season, season=TREES)
    modes = {path.name.split(".")[0]: path.stat().st_mode & 0o777 for path in (season / HISTORY).rglob("*.*")}
    assert {"trees": 0o600, "season": 0o644, "000001": 0o600, "000002": 0o644} == modes


STEPS = 7


@pytest.mark.parametrize(
    ("call", "step"), [*(("replace", at) for at in range(1, STEPS + 1)), ("unlink", 1), ("unlink", 2)]
)
def test_a_killed_change_is_there_whole_with_its_entry_or_not_at_all(
    season: Path, call: str, step: int
) -> None:
    """Whenever the plug is pulled; what stood there is in its place or kept."""
    write_change(season, {"evidence/a.txt": b"a"}, ME)
    before = list_files(season)
    contents = {"trees.yaml": TREES + SECOND, "evidence/a.txt": None, "stock.yaml": b"movements:\n"}
    assert kill_at(step, lambda: write_change(season, contents, ME), call=call)

    mend(season, lambda path: path.suffix == ".yaml")
    after = {"season.yaml": BASE, "stock.yaml": b"movements:\n", "trees.yaml": TREES + SECOND}
    changes = read_history(season).changes
    assert (list_files(season), len(changes)) in [(before, 1), (after, 2)]
    assert [] == list(season.rglob("*.part"))
    if len(changes) == 2:
        assert [b"a", TREES] == [
            read_kept(season, file.path, file.old) for file in changes[0].files if file.old
        ]


def test_a_full_disk_changes_nothing(season: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever had been written beside is taken away, and the file is named."""
    before = list_files(season)
    done: list[int] = []

    def fail(handle: int) -> None:
        done.append(handle)
        if len(done) == 3:
            raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", fail)
    with pytest.raises(OSError, match="No space left"):
        write(season, trees=TREES + SECOND)
    assert before == list_files(season)
    assert () == read_history(season).changes


def test_another_run_is_waited_for(season: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two that read the same files can't both write what they made of them."""
    monkeypatch.setattr("certgen.write_journal._PATIENCE", 0.2)
    with hold_folder(season), pytest.raises(OSError, match="another certgen command is writing"):
        write(season, trees=TREES + SECOND)
    assert TREES == (season / "trees.yaml").read_bytes()


def test_what_is_kept_is_no_part_of_the_records(season: Path) -> None:
    """A season reads and counts in its manifest as if it had no history."""
    write(season, trees=TREES + SECOND)
    write(season, trees=TREES)
    write(season, land=BASE)
    write(season, land=None)
    read, errors = read_season(season)
    assert ((), ["season.yaml", "trees.yaml"]) == (errors, sorted(read.sources) if read else [])
    assert read is not None
    digest_before = digest_records(read)
    for path in sorted((season / HISTORY).rglob("*"), reverse=True):
        path.rmdir() if path.is_dir() else path.unlink()
    bare, _ = read_season(season)
    assert bare is not None
    assert digest_before == digest_records(bare)


@pytest.mark.parametrize(
    "harm",
    [
        b"",
        b"{",
        b"[]",
        b'{"number": 1}',
        b"\xff",
        b"[" * 100_000,
        b'{"number":1,"at":"2026-01-01T00:00:00","command":"","person":"","files":[]}',
    ],
)
def test_a_damaged_entry_is_named_and_the_others_stand(season: Path, harm: bytes) -> None:
    """And nothing is let go while nobody knows what it needs."""
    write(season, trees=TREES + SECOND)
    write(season, trees=TREES)
    (season / HISTORY / "000001.json").write_bytes(harm)
    found = read_history(season)
    assert ([2], 1) == ([change.number for change in found.changes], len(found.damaged))
    assert "000001.json" in found.damaged[0]
    held = sorted((season / HISTORY / "files").iterdir())
    prune(season, NOON + timedelta(days=10_000))
    assert held == sorted((season / HISTORY / "files").iterdir())
    write(season, trees=TREES + THIRD)
    assert [3, 2] == [change.number for change in read_history(season).changes]


def test_a_kept_file_that_was_tampered_with_counts_as_gone(season: Path) -> None:
    """Its digest says so; written again it is whole."""
    write(season, trees=TREES + SECOND)
    (kept,) = (season / HISTORY / "files").glob(f"*{digest(TREES)[:32]}.gz")
    for harm in (b"", b"noise", gzip.compress(b"other"), gzip.compress(b"\0" * 10_000_000)):
        kept.write_bytes(harm)
        assert read_kept(season, "trees.yaml", digest(TREES)) is None
    write(season, trees=TREES)
    assert TREES == read_kept(season, "trees.yaml", digest(TREES))


def test_old_changes_are_let_go_and_the_latest_stay(season: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """By age, with the files that no other change needs; a clock gone wrong takes not all."""
    monkeypatch.setattr(history, "KEPT_LEAST", 2)
    for number in range(1, 6):
        write(season, NOON + timedelta(days=number), trees=TREES + b"# %d\n" % number)
    prune(season, NOON + timedelta(days=history.KEPT_DAYS + 3, hours=1))
    assert [5, 4] == [change.number for change in read_history(season).changes]
    assert read_kept(season, "trees.yaml", digest(TREES + b"# 3\n")) is not None
    assert read_kept(season, "trees.yaml", digest(TREES + b"# 2\n")) is None
    prune(season, NOON + timedelta(days=100_000))
    assert [5, 4] == [change.number for change in read_history(season).changes]


def test_a_history_too_large_loses_its_oldest(season: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Room counts each kept file once."""
    monkeypatch.setattr(history, "KEPT_LEAST", 1)
    monkeypatch.setattr(history, "KEPT_BYTES", 2_500)
    for number in range(1, 5):
        write_change(season, {"evidence/a.bin": bytes([number]) * 1_000}, ME)
    prune(season, NOON)
    assert [4, 3] == [change.number for change in read_history(season).changes]
    assert read_kept(season, "evidence/a.bin", digest(b"\1" * 1_000)) is None


def test_every_so_often_the_history_prunes_itself(season: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nobody has to ask for it."""
    monkeypatch.setattr(history, "KEPT_LEAST", 1)
    for number in range(1, 21):
        write(season, NOON + timedelta(days=1_000 * (number == 20)), trees=TREES + b"# %d\n" % number)
    assert [20] == [change.number for change in read_history(season).changes]


def test_an_import_of_very_many_fields_counts_the_rest(season: Path) -> None:
    """An entry stays readable."""
    many = b"".join(SECOND.replace(b"T2", b"X%d" % number) for number in range(2_000))
    write(season, trees=TREES + many)
    (change,) = read_history(season).changes
    assert 2_000 == len(change.records) + change.untold
    assert change.untold > 0


def test_nothing_writes_records_past_the_history(root: Path) -> None:
    """Files are put down by the history, or where a person or a member's archive wants them."""
    found = {
        path.relative_to(root / "certgen").as_posix()
        for path in (root / "certgen").rglob("*.py")
        if re.search(r"\bwrite_all\b", path.read_text(encoding="utf-8"))
    }
    history = "exchange/editing/history.py"
    assert {"whole_files.py", "output_places/places.py", "coop/members/access.py", history} == found
