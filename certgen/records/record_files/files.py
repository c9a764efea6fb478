"""Which files of a folder are record files, and their bytes, with every refusal named.

A season's folder may come from a stranger. Links that lead out of it, pipes, folders that bear a
record file's name, and more than a season can hold are refused by name; everything else is read.
"""

from __future__ import annotations

import os
import re
import stat
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from certgen.records.places import ReadingError
from certgen.records.record_files.limits import FILE_BYTES, FOLDER_ENTRIES, SEASON_BYTES
from certgen.write_journal import JOURNAL, say_unfinished

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

EVIDENCE = "evidence"
#: What a command writes beside the records.
_NOT_RECORDS = frozenset({"out"})
_RECORDS = (".yaml", ".yml")
_NOT_ORDINARY = "is not an ordinary file; records stand in files"
#: What an editor for plain text, or a system that writes endings in capitals, makes of a record file's name.
_NEARLY_RECORDS = re.compile(r"\.ya?ml(\.txt)?$", re.IGNORECASE)
#: Signs in a file's name that a terminal would obey or that no report can show; lone surrogates stand for
#: bytes that aren't UTF-8.
_UNSHOWABLE = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff]")


@dataclass(slots=True)
class FolderContents:
    """What a season's folder holds: record and evidence files, POSIX paths, sorted; and what was refused."""

    records: list[str] = field(default_factory=list)
    evidence: list[str] = field(default_factory=list)
    #: Evidence files without a byte in them, which show nothing.
    empty: list[str] = field(default_factory=list)
    errors: list[ReadingError] = field(default_factory=list)

    def refuse(self, path: str, why: str) -> None:
        """Takes down why a file or folder isn't read."""
        self.errors.append(ReadingError(path, None, None, why))


def list_folder(folder: Path) -> FolderContents:
    """List a season's record files and evidence files without reading any."""
    found = FolderContents()
    if os.path.lexists(folder / JOURNAL):
        found.refuse(JOURNAL, say_unfinished())
    for number, (path, entry) in enumerate(_walk(folder, found), start=1):
        if number > FOLDER_ENTRIES:
            found.refuse(
                path, f"the folder holds more than {FOLDER_ENTRIES:,} files; that is no season's records"
            )
            break
        _add_file(found, folder, path, entry)
    found.records.sort()
    found.evidence.sort()
    found.empty.sort()
    return found


def lay_over(found: FolderContents, contents: Mapping[str, bytes]) -> FolderContents:
    """The listing as it would be if these files, by their path below the folder, held these bytes."""
    listing = FolderContents(
        sorted({*found.records, *(path for path in contents if _is_record_file(path))}), errors=found.errors
    )
    papers = {
        path.removeprefix(f"{EVIDENCE}/"): len(data)
        for path, data in contents.items()
        if path.startswith(f"{EVIDENCE}/")
    }
    listing.evidence = sorted({*found.evidence, *papers})
    empty = {name for name, size in papers.items() if not size}
    listing.empty = sorted(empty | {name for name in found.empty if name not in papers})
    return listing


def _is_record_file(path: str) -> bool:
    return path.endswith(_RECORDS) and not path.startswith(f"{EVIDENCE}/")


def _add_file(found: FolderContents, folder: Path, path: str, entry: os.DirEntry[str]) -> None:
    is_evidence, named_as_records = path.startswith(f"{EVIDENCE}/"), path.endswith(_RECORDS)
    try:
        if entry.is_symlink() and not _stays_inside(Path(entry.path), folder):
            if named_as_records or is_evidence:
                found.refuse(path, "is a link that leads out of the season's folder; copy the file in")
            return
        status = entry.stat()
    except OSError as fault:
        if named_as_records:
            found.refuse(path, f"can't be read: {_reason(fault)}")
        return
    regular = stat.S_ISREG(status.st_mode)
    if is_evidence:
        if regular:
            _add_evidence(found, path.removeprefix(f"{EVIDENCE}/"), status.st_size)
    elif named_as_records:
        if regular:
            found.records.append(path)
        else:
            found.refuse(path, _NOT_ORDINARY)
    elif nearly := _NEARLY_RECORDS.search(path):
        meant = f"{path[: nearly.start()]}.yaml".rsplit("/", 1)[-1]
        found.refuse(path, f"isn't read under this name; rename it to '{meant}'")


def _add_evidence(found: FolderContents, name: str, size: int) -> None:
    found.evidence.append(name)
    if not size:
        found.empty.append(name)


def _walk(folder: Path, found: FolderContents) -> Iterator[tuple[str, os.DirEntry[str]]]:
    """Every file below a folder with its POSIX path; folders and names that can't be read are refused."""
    waiting = [""]
    while waiting:
        below = waiting.pop()
        try:
            with os.scandir(folder / below) as listed:
                entries = sorted(listed, key=lambda entry: entry.name)
        except OSError as fault:
            found.refuse(below or ".", f"this folder can't be opened: {_reason(fault)}")
            continue
        for entry in entries:
            path = f"{below}/{entry.name}" if below else entry.name
            if entry.name.startswith("."):
                continue
            if _UNSHOWABLE.search(entry.name):
                found.refuse(
                    ascii(path)[1:-1], "has a name with signs that can't be shown; rename it, then it is read"
                )
            elif not entry.is_dir(follow_symlinks=False):
                yield path, entry
            elif path.endswith(_RECORDS) and not path.startswith(f"{EVIDENCE}/"):
                found.refuse(path, "is a folder with a record file's name; rename the folder")
            elif path not in _NOT_RECORDS:
                waiting.append(path)


def _stays_inside(link: Path, folder: Path) -> bool:
    try:
        return link.resolve(strict=True).is_relative_to(folder.resolve())
    except (OSError, RuntimeError):
        return False


#: A file changed less than this many seconds ago may still be being written.
MOMENT = 0.05
_TRIES = 8


def read_bytes(folder: Path, file: str, budget: int = SEASON_BYTES) -> bytes | ReadingError:
    """A record file's bytes, or why not. `budget` is what the season may still hold, in bytes.

    A file written within the last moment may be half written: it is read again until it has come to rest.
    """
    for _ in range(_TRIES):
        try:
            # Without waiting: what was an ordinary file when it was listed may be a pipe by now.
            with open(folder / file, "rb", opener=_open_at_once) as stream:
                status = os.fstat(stream.fileno())
                if not stat.S_ISREG(status.st_mode):
                    return ReadingError(file, None, None, _NOT_ORDINARY)
                if too_long := refuse_length(file, status.st_size, budget):
                    return too_long
                data = stream.read(min(FILE_BYTES, budget) + 1)
            if abs(time.time() - status.st_mtime) < MOMENT:
                time.sleep(MOMENT / 2)
            after = os.stat(folder / file)  # noqa: PTH116 (as quick as it can be, once a file)
        except OSError as fault:
            return ReadingError(file, None, None, f"can't be read: {_reason(fault)}")
        if len(data) == after.st_size and after.st_mtime_ns == status.st_mtime_ns:
            return data
    return ReadingError(
        file, None, None, "keeps changing while it is being read; run again when nothing writes to it"
    )


def refuse_length(file: str, size: int, budget: int) -> ReadingError | None:
    """The error of a file that holds more bytes than one file, or what is left of a season, may hold."""
    limit = min(FILE_BYTES, budget)
    if size <= limit:
        return None
    return ReadingError(file, None, None, f"is {size:,} bytes long; at most {limit:,} are read here")


def _open_at_once(path: str, flags: int) -> int:
    return os.open(path, flags | getattr(os, "O_NONBLOCK", 0))


def _reason(fault: OSError) -> str:
    return (fault.strerror or type(fault).__name__).lower()


def find_evidence(folder: Path, path: str) -> Path | None:
    """The evidence file of that name, or None if there is none; never a file outside `evidence/`."""
    home = (folder / EVIDENCE).resolve()
    if path.startswith(("/", "\\")) or "\x00" in path:
        return None
    try:
        found = (home / path).resolve(strict=True)
    except (OSError, RuntimeError, ValueError):
        return None
    return found if found.is_relative_to(home) and found.is_file() else None
