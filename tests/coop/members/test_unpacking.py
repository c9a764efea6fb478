"""A member's zip: nothing leads out of it, nothing fills the machine."""

from __future__ import annotations

import stat
import struct
import zipfile
from pathlib import Path

import pytest

from certgen.coop.members import access as unpacking
from certgen.coop.members.access import unpack
from certgen.exchange.importing.archives import HostileFileError

COVERS = ("certgen.coop.members.access", "certgen.exchange.importing.archives")


def pack(path: Path, files: dict[str, bytes], mode: int = stat.S_IFREG) -> Path:
    """A zip with these files."""
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in files.items():
            entry = zipfile.ZipInfo(name, (2026, 1, 1, 0, 0, 0))
            entry.external_attr = (mode | 0o644) << 16
            entry.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(entry, data)
    return path


@pytest.fixture
def target(tmp_path: Path) -> Path:
    """Where a zip is unpacked to."""
    folder = tmp_path / "target"
    folder.mkdir()
    return folder


def test_records_come_out_and_evidence_as_far_as_it_counts(tmp_path: Path, target: Path) -> None:
    """Record files have their bytes. Of evidence it counts whether anything is in it; a packet is read."""
    files = {
        "s/season.yaml": b"season: {}\n",
        "s/evidence/letter.txt": b"a letter",
        "s/evidence/empty.txt": b"",
        "s/evidence/packets/supplier.pdf": b"%PDF-1.7 and more",
    }
    unpack(pack(tmp_path / "a.zip", files), target)
    found = {
        path.relative_to(target).as_posix(): path.read_bytes() for path in target.rglob("*") if path.is_file()
    }
    assert {**files, "s/evidence/letter.txt": b"a"} == found


def test_evidence_larger_than_a_packet_may_be_is_not_read(
    tmp_path: Path, target: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is there, and that is all that is asked of it."""
    monkeypatch.setattr(unpacking, "ATTACHED_BYTES", 4)
    unpack(pack(tmp_path / "a.zip", {"evidence/big.pdf": b"%PDF-1.7"}), target)
    assert b"%" == (target / "evidence/big.pdf").read_bytes()


@pytest.mark.parametrize(
    "name", ["../out.yaml", "a/../../out.yaml", "/out.yaml", "C:/out.yaml", "a\\..\\out.yaml", "a\x01.yaml"]
)
def test_names_that_lead_elsewhere_are_refused(tmp_path: Path, target: Path, name: str) -> None:
    """Whatever the name tries, nothing appears outside the target and the file is named."""
    with pytest.raises(HostileFileError):
        unpack(pack(tmp_path / "a.zip", {name: b"x"}), target)
    assert {"a.zip", "target"} == {path.name for path in tmp_path.iterdir()}


def test_links_are_refused(tmp_path: Path, target: Path) -> None:
    """An entry that would become a link is refused by name."""
    with pytest.raises(HostileFileError, match=r"link.yaml.*which is a link"):
        unpack(pack(tmp_path / "a.zip", {"link.yaml": b"/etc/passwd"}, stat.S_IFLNK), target)
    assert [] == list(target.iterdir())


def test_two_files_of_one_name_are_refused(tmp_path: Path, target: Path) -> None:
    """Two names that a file system may take for one: which would be read?"""
    with pytest.raises(HostileFileError, match="two files of one name"):
        unpack(pack(tmp_path / "a.zip", {"a.yaml": b"1", "A.yaml": b"2"}), target)


def test_a_bomb_is_refused(tmp_path: Path, target: Path) -> None:
    """A file that unpacks to hundreds of times its size is refused before a byte is written."""
    with pytest.raises(HostileFileError, match="made to fill a machine"):
        unpack(pack(tmp_path / "a.zip", {"a.yaml": bytes(8 * 1024 * 1024)}), target)
    assert [] == list(target.iterdir())


def test_an_archive_that_lies_about_sizes_is_stopped(tmp_path: Path, target: Path) -> None:
    """Sizes in the directory that are smaller than what comes out don't get past."""
    path = pack(tmp_path / "a.zip", {"a.yaml": bytes(300_000)})
    data = path.read_bytes()
    assert 2 == data.count(struct.pack("<I", 300_000))
    path.write_bytes(data.replace(struct.pack("<I", 300_000), struct.pack("<I", 10)))
    with pytest.raises(HostileFileError):
        unpack(path, target)


def test_too_many_files_are_refused(tmp_path: Path, target: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """More files than any season has are refused by their number, none unpacked."""
    monkeypatch.setattr(unpacking, "FOLDER_ENTRIES", 20)
    with pytest.raises(HostileFileError, match="holds 21 files"):
        unpack(pack(tmp_path / "a.zip", {f"{number}.yaml": b"" for number in range(21)}), target)
    assert [] == list(target.iterdir())


@pytest.mark.parametrize("data", [b"", b"PK\x03\x04", b"no zip at all", bytes(1000)])
def test_what_is_no_zip_is_refused_in_words(tmp_path: Path, target: Path, data: bytes) -> None:
    """Anything else gives the one error there is."""
    path = tmp_path / "a.zip"
    path.write_bytes(data)
    with pytest.raises(HostileFileError, match="no zip"):
        unpack(path, target)


def test_a_members_history_stays_in_the_archive(
    tmp_path: Path, target: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Neither laid down nor counted, wherever the season lies in it."""
    monkeypatch.setattr(unpacking, "FOLDER_ENTRIES", 2)
    kept = {f"2026/.history/{number:06}.json": b"{}" for number in range(5)}
    files = {"2026/season.yaml": b"season:\n", ".history/../../x.yaml": b"x"}
    unpack(pack(tmp_path / "a.zip", {**files, **kept, ".history/files/a.yaml": b"x"}), target)
    assert ["2026/season.yaml"] == [
        path.relative_to(target).as_posix() for path in target.rglob("*") if path.is_file()
    ]
