from __future__ import annotations

import os
import socket
from collections.abc import Callable
from pathlib import Path

import pytest

from certgen.records.places import ReadingError
from certgen.records.record_files import files
from certgen.records.record_files.files import find_evidence, list_folder, read_bytes

TREE = "trees:\n- {tree: T1, planting: P1, sex: male}\n"


def test_record_files_in_sorted_order(write: Callable) -> None:
    """YAML files at any depth; nothing of evidence/, out/, hidden names or other kinds."""
    folder = write(
        {
            "trees/b.yaml": "",
            "trees/a.yml": "",
            "a.yaml": "",
            "a.yaml~": "",
            "a.txt": "",
            ".a.yaml": "",
            ".git/a.yaml": "",
            "out/a.yaml": "",
            "evidence/a.yaml": "",
            "evidence/.hidden": "",
            "evidence/letters/b.txt": "",
            "bagging/out/c.yaml": "",
        }
    )
    listing = list_folder(folder)
    assert ["a.yaml", "bagging/out/c.yaml", "season.yaml", "trees/a.yml", "trees/b.yaml"] == listing.records
    assert ["a.yaml", "letters/b.txt"] == listing.evidence
    assert [] == listing.errors


@pytest.mark.parametrize(
    ("name", "meant"), [("trees.yaml.txt", "trees.yaml"), ("a/T.YAML", "T.yaml"), ("b.yml.TXT", "b.yaml")]
)
def test_a_name_that_misses_narrowly(name: str, meant: str, write: Callable) -> None:
    """What a plain-text editor makes of the name is told, for the records in it would be missed silently."""
    listing = list_folder(write({name: TREE}))
    assert ["season.yaml"] == listing.records
    assert [f"{name}: isn't read under this name; rename it to '{meant}'"] == [
        error.text() for error in listing.errors
    ]


def test_a_folder_with_a_record_files_name(write: Callable) -> None:
    """A folder named x.yaml is refused by name, and what it holds is not read."""
    listing = list_folder(write({"x.yaml/a.yaml": TREE}))
    assert ["season.yaml"] == listing.records
    assert ["x.yaml: is a folder with a record file's name; rename the folder"] == [
        error.text() for error in listing.errors
    ]


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes have names on POSIX only")
def test_a_pipe_is_not_waited_for(write: Callable) -> None:
    """A pipe or socket named like a record file is refused without being opened."""
    folder = write({})
    os.mkfifo(folder / "a.yaml")
    with socket.socket(socket.AF_UNIX) as listening:
        listening.bind(os.path.relpath(folder / "b.yaml"))
        listing = list_folder(folder)
    assert ["season.yaml"] == listing.records
    assert [
        "a.yaml: is not an ordinary file; records stand in files",
        "b.yaml: is not an ordinary file; records stand in files",
    ] == [error.text() for error in listing.errors]


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes have names on POSIX only")
def test_a_file_that_became_a_pipe_meanwhile(write: Callable) -> None:
    """Between listing and reading a file may change its nature; nothing hangs."""
    folder = write({})
    os.mkfifo(folder / "a.yaml")
    found = read_bytes(folder, "a.yaml")
    assert ReadingError("a.yaml", None, None, "is not an ordinary file; records stand in files") == found


def test_an_unreadable_file_is_named(write: Callable, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file without permission is an error of its own. Permissions don't bind root, hence the stand-in."""

    def refuse(path: str, flags: int) -> int:
        raise PermissionError(13, "Permission denied", path, flags)

    folder = write({"a.yaml": TREE})
    monkeypatch.setattr(files.os, "open", refuse)
    found = read_bytes(folder, "a.yaml")
    assert ReadingError("a.yaml", None, None, "can't be read: permission denied") == found


def test_a_folder_that_cannot_be_opened(write: Callable, monkeypatch: pytest.MonkeyPatch) -> None:
    """A folder without permission is named; its neighbours are listed."""
    folder = write({"trees/a.yaml": TREE})
    scan = os.scandir

    def refuse(path: Path) -> object:
        if path.name == "trees":
            raise PermissionError(13, "Permission denied", str(path))
        return scan(path)

    monkeypatch.setattr(files.os, "scandir", refuse)
    listing = list_folder(folder)
    assert ["season.yaml"] == listing.records
    assert ["trees: this folder can't be opened: permission denied"] == [
        error.text() for error in listing.errors
    ]


def test_a_file_that_is_gone(write: Callable) -> None:
    """A file deleted between listing and reading is named."""
    found = read_bytes(write({}), "a.yaml")
    assert ReadingError("a.yaml", None, None, "can't be read: no such file or directory") == found


@pytest.fixture
def waits(monkeypatch: pytest.MonkeyPatch) -> list[Callable[[], object]]:
    """What happens while a reading waits, a wait each; without end the last again. Nothing is waited for."""
    happens: list[Callable[[], object]] = []

    def wait(seconds: float) -> None:
        assert seconds > 0
        (happens.pop(0) if len(happens) > 1 else happens[0])()

    monkeypatch.setattr(files, "MOMENT", 3600.0)
    monkeypatch.setattr(files.time, "sleep", wait)
    return happens


def test_a_file_that_is_still_being_written(write: Callable, waits: list[Callable[[], object]]) -> None:
    """It is read once more, until it has come to rest; one that changed long ago isn't waited for."""
    folder = write({"a.yaml": "trees:\n", "b.yaml": TREE})
    os.utime(folder / "b.yaml", (0, 0))
    assert TREE.encode() == read_bytes(folder, "b.yaml")

    def write_on() -> None:
        (folder / "a.yaml").write_text(TREE)
        os.utime(folder / "a.yaml")

    waits += [write_on, lambda: None]
    assert TREE.encode() == read_bytes(folder, "a.yaml")


def test_a_file_that_never_comes_to_rest(write: Callable, waits: list[Callable[[], object]]) -> None:
    """It is named, and the reading ends."""
    folder = write({"a.yaml": TREE})
    waits.append(lambda: (folder / "a.yaml").write_text((folder / "a.yaml").read_text() + "#"))
    message = "keeps changing while it is being read; run again when nothing writes to it"
    assert ReadingError("a.yaml", None, None, message) == read_bytes(folder, "a.yaml")


def test_links_stay_inside(write: Callable, tmp_path: Path) -> None:
    """A link to a file of the same season is read; one that leads out, or nowhere, or round is refused."""
    folder = write({"a.yaml": TREE, "evidence/x.txt": "x"})
    (tmp_path / "outside.yaml").write_text(TREE)
    (folder / "inside.yaml").symlink_to("a.yaml")
    (folder / "outside.yaml").symlink_to(tmp_path / "outside.yaml")
    (folder / "nowhere.yaml").symlink_to("gone.yaml")
    (folder / "round.yaml").symlink_to("round.yaml")
    (folder / "evidence/out.txt").symlink_to(tmp_path / "outside.yaml")
    (folder / "dir").symlink_to(tmp_path)
    listing = list_folder(folder)
    assert ["a.yaml", "inside.yaml", "season.yaml"] == listing.records
    assert ["x.txt"] == listing.evidence
    assert ["evidence/out.txt", "nowhere.yaml", "outside.yaml", "round.yaml"] == sorted(
        error.file for error in listing.errors
    )
    assert {"is a link that leads out of the season's folder; copy the file in"} == {
        error.message for error in listing.errors
    }


@pytest.mark.parametrize("name", ["a\nb.yaml", "a\x1b[31m.yaml", "a\u2028.yaml"])
def test_names_that_cannot_be_shown(name: str, write: Callable) -> None:
    """A name with control signs is refused, and told in escapes that a terminal doesn't obey."""
    folder = write({})
    (folder / name).write_text(TREE)
    listing = list_folder(folder)
    assert ["season.yaml"] == listing.records
    assert [ascii(name)[1:-1]] == [error.file for error in listing.errors]
    assert listing.errors[0].text().isprintable()


@pytest.mark.skipif(os.name != "posix", reason="names are bytes on POSIX only")
def test_a_name_that_is_no_utf8(write: Callable) -> None:
    """A file's name in another encoding is refused and can still be printed."""
    folder = write({})
    try:
        Path(os.fsdecode(os.fsencode(folder) + b"/a\xff.yaml")).write_text(TREE)
    except OSError:
        pytest.skip("this file system takes UTF-8 names only")
    (error,) = list_folder(folder).errors
    assert "a\\udcff.yaml" == error.file
    assert error.text().encode("utf-8")


def test_bounds(write: Callable, monkeypatch: pytest.MonkeyPatch) -> None:
    """Files over the bound, and seasons of too many files, are refused with the bound."""
    folder = write({"a.yaml": "x" * 200, "b.yaml": "", "c.yaml": ""})
    assert b"x" * 200 == read_bytes(folder, "a.yaml")
    over = read_bytes(folder, "a.yaml", budget=199)
    assert ReadingError("a.yaml", None, None, "is 200 bytes long; at most 199 are read here") == over
    monkeypatch.setattr(files, "FOLDER_ENTRIES", 2)
    (error,) = list_folder(folder).errors
    assert "the folder holds more than 2 files" in error.message


@pytest.mark.parametrize(
    "path",
    ["../season.yaml", "/etc/passwd", "..", ".", "", "letters", "a\x00b", "gone.txt", "x" * 5000, "out.txt",
     "\\x"],
)  # fmt: skip
def test_evidence_outside_its_folder_is_not_found(path: str, write: Callable, tmp_path: Path) -> None:
    """No path leads out of evidence/: not by dots, not absolutely, not by a link."""
    folder = write({"evidence/letters/a.txt": "x"})
    (tmp_path / "outside.txt").write_text("x")
    (folder / "evidence/out.txt").symlink_to(tmp_path / "outside.txt")
    assert find_evidence(folder, path) is None


def test_evidence_is_found(write: Callable) -> None:
    """A path below evidence/ gives the file."""
    folder = write({"evidence/letters/a.txt": "x"})
    found = find_evidence(folder, "letters/a.txt")
    assert found is not None
    assert "x" == found.read_text()
