"""A member's fingerprint changes with its records, and with nothing else."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from certgen.coop.members import cache as module
from certgen.coop.members.access import MemberRefusedError
from certgen.coop.members.cache import fingerprint

COVERS = ("certgen.coop.members.cache",)


@pytest.fixture
def home(tmp_path: Path) -> Path:
    """A member's folder."""
    folder = tmp_path / "a"
    (folder / "evidence").mkdir(parents=True)
    (folder / "season.yaml").write_text("season: 1\n")
    (folder / "evidence" / "letter.txt").write_text("dear all")
    (folder / "evidence" / "packet.pdf").write_text("one")
    return folder


@pytest.mark.parametrize(
    "change",
    [
        lambda home: (home / "season.yaml").write_text("season: 2\n"),
        lambda home: (home / "bags.yaml").write_text(""),
        lambda home: (home / "season.yaml").rename(home / "other.yaml"),
        lambda home: (home / "evidence" / "letter.txt").unlink(),
        lambda home: (home / "link.yaml").symlink_to("season.yaml"),
        lambda home: (home / ".before").mkdir(),
        lambda home: (home / "evidence" / "packet.pdf").write_text("two"),
    ],
)
def test_it_follows_the_records(home: Path, change: Callable[[Path], object]) -> None:
    """Another byte of a record or of a packet, another name, another link: another fingerprint."""
    before = fingerprint(home)
    assert before == fingerprint(home)
    change(home)
    assert before != fingerprint(home)


def test_times_dont_matter(home: Path) -> None:
    """A file that was merely touched is the same file."""
    before = fingerprint(home)
    (home / "season.yaml").touch()
    assert before == fingerprint(home)


def test_what_the_records_said_before_doesnt_matter(home: Path) -> None:
    """A member's history may be large, and is her own."""
    before = fingerprint(home)
    (home / ".history" / "files").mkdir(parents=True)
    (home / ".history" / "files" / "old.yaml").write_text("season: 0\n")
    assert before == fingerprint(home)


def test_a_link_is_never_followed(home: Path, tmp_path: Path) -> None:
    """What lies behind a link is not read; the link's own words are what counts."""
    outside = tmp_path / "secret.yaml"
    outside.write_text("one")
    (home / "link.yaml").symlink_to(outside)
    before = fingerprint(home)
    outside.write_text("another")
    assert before == fingerprint(home)


def test_too_many_files_are_refused_by_number(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A folder that no season could be isn't walked to its end."""
    monkeypatch.setattr(module, "FOLDER_ENTRIES", 10)
    for number in range(20):
        (home / f"{number}.txt").touch()
    with pytest.raises(MemberRefusedError, match="more than 10 files"):
        fingerprint(home)
