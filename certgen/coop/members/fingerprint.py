"""What a member's records are, in one figure: the same figure, and nothing needs to be examined again.

It covers the bytes of every record file and the name and size of everything else below the member's
folder, links as links. Evidence is known by name: an examination asks no more of it.
"""

from __future__ import annotations

import hashlib
import os
import stat
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING

from certgen.coop.members.access import MemberRefusedError
from certgen.records.record_files.limits import FILE_BYTES, FOLDER_ENTRIES, SEASON_BYTES

if TYPE_CHECKING:
    from collections.abc import Iterator

_PIECE = 1 << 20


def fingerprint(home: Path) -> str:
    """SHA-256 over a folder's records and names, or a file's bytes. Raises `MemberRefusedError`.

    A folder with more entries, or more bytes of records, than any season has is refused here, before
    anything of it is read in.
    """
    seal = hashlib.sha256()
    try:
        if home.is_dir():
            _add_folder(seal, home)
        else:
            size = home.stat().st_size
            if size > SEASON_BYTES:
                raise MemberRefusedError(f"the file is larger than {SEASON_BYTES // 2**20} MB; no season is")
            seal.update(b"file\0")
            _add_bytes(seal, home)
    except OSError as fault:
        raise MemberRefusedError(f"it can't be read: {(fault.strerror or str(fault)).lower()}") from None
    return seal.hexdigest()


def _add_folder(seal: hashlib._Hash, home: Path) -> None:
    budget = SEASON_BYTES
    for number, (path, entry) in enumerate(_walk(home), start=1):
        if number > FOLDER_ENTRIES:
            raise MemberRefusedError(
                f"the folder holds more than {FOLDER_ENTRIES:,} files; that is no season's records"
            )
        status = entry.stat(follow_symlinks=False)
        header = f"{path}\0{stat.S_IFMT(status.st_mode)}\0{status.st_size}\0"
        seal.update(header.encode("utf-8", "surrogateescape"))
        if stat.S_ISLNK(status.st_mode):
            seal.update(os.fsencode(Path(entry.path).readlink()) + b"\0")
        elif stat.S_ISREG(status.st_mode) and path.endswith((".yaml", ".yml")):
            budget -= status.st_size
            if budget < 0:
                raise MemberRefusedError("the folder holds more records than a season can")
            if status.st_size <= FILE_BYTES:
                _add_bytes(seal, entry.path)


def _walk(home: Path) -> Iterator[tuple[str, os.DirEntry[str]]]:
    """Everything below a folder in a fixed order, without following links."""
    waiting = [""]
    while waiting:
        below = waiting.pop()
        with os.scandir(home / below) as listed:
            entries = sorted(islice(listed, FOLDER_ENTRIES + 1), key=lambda entry: entry.name)
        for entry in entries:
            path = f"{below}/{entry.name}" if below else entry.name
            yield path, entry
            if entry.is_dir(follow_symlinks=False):
                waiting.append(path)


def _add_bytes(seal: hashlib._Hash, path: Path | str) -> None:
    inner = hashlib.sha256()
    with open(path, "rb") as stream:  # noqa: PTH123 (a path of the walk; thousands of Path objects cost time)
        while piece := stream.read(_PIECE):
            inner.update(piece)
    seal.update(inner.digest())
