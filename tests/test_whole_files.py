"""Files appear whole or not at all."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from certgen.whole_files import PathError, contained_path, read_ordinary, write_all, write_entry


def name_files(folder: Path) -> list[str]:
    """The names of all that lies in a folder."""
    return sorted(path.name for path in folder.iterdir())


def test_existing_file_is_kept_when_asked(tmp_path: Path) -> None:
    """Without leave to replace, nothing of the set is written when one file is there."""
    (tmp_path / "b").write_text("old")

    with pytest.raises(FileExistsError):
        write_all({tmp_path / "a": b"new", tmp_path / "b": b"new"}, replace=False)

    assert ["b"] == sorted(path.name for path in tmp_path.iterdir())
    assert "old" == (tmp_path / "b").read_text()


def test_a_failed_rename_puts_everything_back(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When the second of two files cannot be put in place, the first is as it was, and no other is left."""
    (tmp_path / "a").write_text("old")
    real = Path.replace

    def fail_on_b(source: Path, target: Path) -> Path:
        if target.name == "b":
            raise OSError("disk says no")
        return real(source, target)

    monkeypatch.setattr(Path, "replace", fail_on_b)
    with pytest.raises(OSError, match="disk says no"):
        write_all({tmp_path / "a": b"new", tmp_path / "b": b"new"})

    assert {"a": "old"} == {path.name: path.read_text() for path in tmp_path.iterdir()}


def test_what_is_taken_away_is_kept_elsewhere(tmp_path: Path) -> None:
    """Written with the others or there already, with the same bytes; else nothing is done."""
    for name in "abc":
        (tmp_path / name).write_text(name)
    (tmp_path / "kept-b").write_text("b")
    places = {tmp_path / "a": tmp_path / "kept-a", tmp_path / "b": tmp_path / "kept-b"}
    write_all({tmp_path / "kept-a": b"a"}, removed=places)
    assert ["c", "kept-a", "kept-b"] == name_files(tmp_path)

    with pytest.raises(FileExistsError, match="c is kept nowhere else"):
        write_all({tmp_path / "d": b"d"}, removed={tmp_path / "c": tmp_path / "kept-a"})
    assert ["c", "kept-a", "kept-b"] == name_files(tmp_path)


def test_what_was_taken_away_is_put_back_when_another_cant_be(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """All of them or none, whatever is done to each."""
    for name in "ab":
        (tmp_path / name).write_text(name)
    real = Path.unlink

    def fail_on_b(path: Path, missing_ok: bool = False) -> None:
        if path.name == "b":
            raise OSError("disk says no")
        real(path, missing_ok=missing_ok)

    monkeypatch.setattr(Path, "unlink", fail_on_b)
    places = {tmp_path / name: tmp_path / f"kept-{name}" for name in "ab"}
    with pytest.raises(OSError, match="disk says no"):
        write_all({copy: path.read_bytes() for path, copy in places.items()}, removed=places)
    assert {"a": "a", "b": "b"} == {path.name: path.read_text() for path in tmp_path.iterdir()}


def test_permissions_survive(tmp_path: Path) -> None:
    """A replaced file keeps the permissions that its owner gave it."""
    path = tmp_path / "a"
    path.write_text("old")
    path.chmod(0o640)

    write_all({path: b"new"})

    assert (b"new", 0o640) == (path.read_bytes(), path.stat().st_mode & 0o777)


def test_a_new_file_gets_the_mode_and_its_folders(tmp_path: Path) -> None:
    """Folders on the way are made; a key's file is its owner's alone."""
    path = tmp_path / "a" / "b" / "key"

    write_all({path: b"secret"}, mode=0o600)

    assert (b"secret", 0o600) == (path.read_bytes(), path.stat().st_mode & 0o777)
    assert ["key"] == name_files(path.parent)


def test_folders_made_for_nothing_go_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When the disk refuses, a folder that was there stays, and none is left that was made on the way."""
    (tmp_path / "there").mkdir()

    def refuse(_handle: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr("os.fsync", refuse)
    with pytest.raises(OSError, match="No space left"):
        write_all({tmp_path / "there" / "new" / "deep" / "a": b"a"})
    assert [tmp_path / "there"] == sorted(tmp_path.rglob("*"))


def test_a_full_disk_leaves_the_old_file_and_names_the_new(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """When the disk refuses, the old file is still there, no scrap lies beside it, and the error names it."""
    path = tmp_path / "report.pdf"
    write_all({path: b"old"})

    def refuse(_handle: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr("os.fsync", refuse)
    with pytest.raises(OSError, match="No space left") as refused:
        write_all({path: b"new"})

    assert (errno.ENOSPC, str(path)) == (refused.value.errno, refused.value.filename)
    assert (["report.pdf"], b"old") == (name_files(tmp_path), path.read_bytes())


def test_a_link_is_neither_replaced_nor_followed(tmp_path: Path) -> None:
    """It stays, and what it leads to stays as it was."""
    (tmp_path / "elsewhere").write_text("old")
    (tmp_path / "out").symlink_to(tmp_path / "elsewhere")

    with pytest.raises(FileExistsError, match="is a link"):
        write_all({tmp_path / "out": b"new"})

    assert "old" == (tmp_path / "elsewhere").read_text()
    assert (tmp_path / "out").is_symlink()


def test_a_link_to_nothing_counts_as_there(tmp_path: Path) -> None:
    """Without leave to replace, a dangling link is left alone as well."""
    (tmp_path / "out").symlink_to(tmp_path / "nowhere")

    with pytest.raises(FileExistsError):
        write_all({tmp_path / "out": b"new"}, replace=False)

    assert ["out"] == name_files(tmp_path)


def test_a_pipe_is_not_replaced(tmp_path: Path) -> None:
    """A device or a pipe of that name stays: renaming a file over it would take it away."""
    os.mkfifo(tmp_path / "pipe")

    with pytest.raises(FileExistsError, match="is a pipe and stays"):
        write_all({tmp_path / "pipe": b"new"})

    assert ["pipe"] == name_files(tmp_path)
    assert (tmp_path / "pipe").is_fifo()


def test_a_folder_in_the_way_is_refused(tmp_path: Path) -> None:
    """A folder of that name stays with what it holds, and no scrap lies beside it."""
    (tmp_path / "out").mkdir()

    with pytest.raises(OSError, match="out"):
        write_all({tmp_path / "out": b"new"})

    assert ["out"] == name_files(tmp_path)


def test_an_entry_of_a_cache_is_whole_and_private(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Written for its owner alone, without waiting for the disk; a refused rename leaves no scrap."""
    monkeypatch.setattr("os.fsync", lambda _: pytest.fail("nobody waits for a cache"))
    path = tmp_path / "cache" / "entry"

    write_entry(path, b"kept")

    assert (b"kept", 0o600, 0o700) == (
        path.read_bytes(), path.stat().st_mode & 0o777, path.parent.stat().st_mode & 0o777
    )  # fmt: skip
    (tmp_path / "cache" / "folder").mkdir()
    with pytest.raises(OSError, match="folder"):
        write_entry(tmp_path / "cache" / "folder", b"kept")
    assert ["entry", "folder"] == name_files(tmp_path / "cache")


def test_leavings_of_a_killed_run_are_swept(tmp_path: Path) -> None:
    """What a run that was killed left beside the file goes with the next writing; what may be another run's
    work of today stays, and so does what somebody else called alike.
    """
    names = [".a.yaml.abcd_123.part", ".a.yaml.recent01.part", ".a.yaml.mine.part", ".b.yaml.abcd_123.part"]
    for name in names:
        (tmp_path / name).write_bytes(b"half")
        if "recent" not in name:
            os.utime(tmp_path / name, (0, 0))
    (tmp_path / ".a.yaml.linked_1.part").symlink_to(tmp_path / "b")
    os.utime(tmp_path / ".a.yaml.linked_1.part", (0, 0), follow_symlinks=False)
    write_all({tmp_path / "a.yaml": b"whole"})
    assert sorted(["a.yaml", ".a.yaml.linked_1.part", *names[1:]]) == sorted(
        path.name for path in tmp_path.iterdir()
    )


@pytest.mark.parametrize(
    "name", ["../x", "a/../../x", "/etc/x", "", "C:/x", "a\\b", "a\0b", "a\nb", "..", "c:x"]
)
def test_a_name_that_leads_out_is_refused(tmp_path: Path, name: str) -> None:
    """Absolute paths, parent steps, drive letters and control characters never become paths."""
    with pytest.raises(PathError):
        contained_path(tmp_path, name)


def test_a_link_that_leads_out_is_refused(tmp_path: Path) -> None:
    """A folder that is a link to elsewhere does not count as inside."""
    inside = tmp_path / "in"
    inside.mkdir()
    (inside / "link").symlink_to(tmp_path)

    with pytest.raises(PathError):
        contained_path(inside, "link/x")


def test_a_plain_name_is_kept(tmp_path: Path) -> None:
    """Ordinary names, dots and spaces included, stay as they are."""
    assert tmp_path / "lab letters" / "T-17.v2.pdf" == contained_path(tmp_path, "lab letters/T-17.v2.pdf")


def test_an_ordinary_file_is_read_through_a_link(tmp_path: Path) -> None:
    """A person may name a link to a file; up to the limit all of it is read."""
    (tmp_path / "a").write_bytes(b"abc")
    (tmp_path / "link").symlink_to("a")
    assert b"abc" == read_ordinary(tmp_path / "link") == read_ordinary(tmp_path / "a", 3)


@pytest.mark.parametrize(("most", "said"), [(2, "is larger than 2 bytes"), (1 << 20, "is larger than 1 MB")])
def test_a_file_beyond_the_limit_is_refused(tmp_path: Path, most: int, said: str) -> None:
    """The error names the file and the limit."""
    path = tmp_path / "a"
    with path.open("wb") as held:
        held.truncate(most + 1)
    with pytest.raises(OSError, match=said) as refused:
        read_ordinary(path, most)
    assert (errno.EFBIG, str(path)) == (refused.value.errno, refused.value.filename)


def test_a_file_that_does_not_say_its_size_is_refused_all_the_same() -> None:
    """Linux has files that say they are empty and hold more than that."""
    endless = Path("/proc/self/maps")
    if not endless.exists():
        pytest.skip("only Linux has such files")
    with pytest.raises(OSError, match="is larger than 10 bytes"):
        read_ordinary(endless, 10)


def test_no_pipe_device_or_folder_is_opened(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """They are refused by what they are, and nothing waits for them."""
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "link").symlink_to("/dev/zero")
    monkeypatch.setattr("os.open", lambda *_: pytest.fail("nothing is opened"))
    for path, what in (
        (tmp_path / "pipe", "a pipe"), (tmp_path / "link", "a device"), (tmp_path, "a folder")
    ):  # fmt: skip
        with pytest.raises(OSError, match=f"is {what}, not an ordinary file"):
            read_ordinary(path)


def test_a_pipe_that_takes_a_files_place_is_not_waited_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Between the look and the opening somebody may change what bears the name."""
    (tmp_path / "file").write_bytes(b"")
    os.mkfifo(tmp_path / "pipe")
    monkeypatch.setattr(Path, "stat", lambda _path: os.stat(tmp_path / "file"))  # noqa: PTH116 (what is replaced)
    with pytest.raises(OSError, match="is a pipe"):
        read_ordinary(tmp_path / "pipe")


def test_a_file_open_elsewhere_is_told_by_its_own_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the system lets nobody replace what a viewer shows, it is that file that has to be closed; it is
    whole, and what was written beside it is gone.
    """
    report = tmp_path / "report.pdf"
    report.write_bytes(b"old")

    def refuse(self: Path, target: Path) -> None:
        raise PermissionError(errno.EACCES, "Access is denied", str(self), None, str(target))

    monkeypatch.setattr(Path, "replace", refuse)
    with pytest.raises(PermissionError) as refused:
        write_all({report: b"new"})

    assert str(report) == refused.value.filename
    assert "close report.pdf" in str(refused.value.strerror)
    assert {"report.pdf": b"old"} == {path.name: path.read_bytes() for path in tmp_path.iterdir()}


def test_a_place_that_takes_no_file_is_told_by_its_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where nothing is there yet, nothing is open: the system's own words stay."""

    def refuse(self: Path, target: Path) -> None:
        raise PermissionError(errno.EACCES, "Access is denied", str(self), None, str(target))

    monkeypatch.setattr(Path, "replace", refuse)
    with pytest.raises(PermissionError) as refused:
        write_all({tmp_path / "new.pdf": b"new"})

    assert (str(tmp_path / "new.pdf"), "Access is denied") == (refused.value.filename, refused.value.strerror)
