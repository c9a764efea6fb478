"""A member's zip to a folder: nothing leads out of it, nothing grows past what a season can hold.

What the archive says of itself is checked first; what comes out is counted again while it is written,
for an archive may lie about its sizes.
"""

from __future__ import annotations

import stat
import unicodedata
import zipfile
from typing import TYPE_CHECKING, Final

from certgen.exchange.importing.archives import RATIO, RATIO_FROM, HostileFileError
from certgen.records.record_files.files import EVIDENCE
from certgen.records.record_files.limits import FILE_BYTES, FOLDER_ENTRIES, SEASON_BYTES
from certgen.whole_files import PathError, contained_path

if TYPE_CHECKING:
    from pathlib import Path

_PIECE: Final = 1 << 20


def unpack(archive: Path, target: Path) -> None:
    """Write what a member's zip holds below `target`, an empty folder. Raises `HostileFileError`.

    Evidence is laid down by name alone: an examination asks which files there are, not what they hold.
    """
    if archive.stat().st_size > SEASON_BYTES:
        raise HostileFileError(f"the archive is larger than {SEASON_BYTES // 2**20} MB; no season is")
    try:
        with zipfile.ZipFile(archive) as opened:
            entries = opened.infolist()
            _check(entries)
            left = SEASON_BYTES
            for entry in entries:
                left -= _write(opened, entry, target, left)
    except HostileFileError:
        raise
    except (zipfile.BadZipFile, EOFError, NotImplementedError, RuntimeError, ValueError, OSError) as fault:
        raise HostileFileError("this is no zip that can be unpacked; pack the folder once more") from fault


def _check(entries: list[zipfile.ZipInfo]) -> None:
    if len(entries) > FOLDER_ENTRIES:
        raise HostileFileError(
            f"the archive holds {len(entries):,} files; no season has more than {FOLDER_ENTRIES:,}"
        )
    if sum(entry.file_size for entry in entries) > SEASON_BYTES:
        raise HostileFileError("the archive unpacks to more than a season can hold")
    # Some file systems take large and small letters, or two spellings of one letter, for the same name.
    names = [unicodedata.normalize("NFC", entry.filename.rstrip("/")).casefold() for entry in entries]
    if len(set(names)) != len(names):
        raise HostileFileError("the archive holds two files of one name")
    for entry in entries:
        _check_entry(entry)


def _check_entry(entry: zipfile.ZipInfo) -> None:
    name = ascii(entry.filename)
    if entry.orig_filename != entry.filename:
        raise HostileFileError(f"the archive holds {name}, whose name hides another")
    kind = stat.S_IFMT(entry.external_attr >> 16)
    if kind not in (0, stat.S_IFREG, stat.S_IFDIR):
        raise HostileFileError(f"the archive holds {name}, which is a link or a device; pack files only")
    if entry.flag_bits & 1:
        raise HostileFileError("the archive is locked by a password; pack it without one")
    if entry.file_size > RATIO_FROM and entry.file_size > RATIO * max(entry.compress_size, 1):
        raise HostileFileError(
            f"the archive's {name} unpacks to far more than it says; it looks made to fill a machine"
        )


def _write(opened: zipfile.ZipFile, entry: zipfile.ZipInfo, target: Path, left: int) -> int:
    """Write one entry and give the bytes it took."""
    try:
        path = contained_path(target, entry.filename.rstrip("/"))
    except PathError as fault:
        raise HostileFileError(f"the archive holds a file that leads elsewhere: {fault}") from None
    if entry.is_dir():
        path.mkdir(parents=True, exist_ok=True)
        return 0
    path.parent.mkdir(parents=True, exist_ok=True)
    if EVIDENCE in path.relative_to(target).parts[:-1]:
        path.touch()
        return 0
    written = 0
    with opened.open(entry) as source, path.open("xb") as out:
        while piece := source.read(_PIECE):
            written += len(piece)
            if written > min(left, FILE_BYTES, entry.file_size):
                raise HostileFileError(f"the archive's {entry.filename!a} is larger than it says or may be")
            out.write(piece)
    return written
