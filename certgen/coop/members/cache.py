"""Members examined before, kept under what their records were: a second run examines only what changed.

An entry goes by one figure of all that a member's records are.
"""

from __future__ import annotations

import hashlib
import os
import stat
from dataclasses import replace
from functools import cache
from itertools import chain, islice
from pathlib import Path
from typing import TYPE_CHECKING, Final

from certgen.coop.members.access import MemberRefusedError
from certgen.coop.members.facts import MemberSummary
from certgen.disk_cache import DiskCache, cache_folder, hash_files
from certgen.exchange.editing.history import HISTORY
from certgen.records.record_files.limits import FILE_BYTES, FOLDER_ENTRIES, SEASON_BYTES
from certgen.records.supplied import ATTACHED_BYTES
from certgen.resources import schemas_dir

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import date

_ENTRY_BYTES: Final = 8 * 1024 * 1024
#: Room for some ten thousand members: a co-op with thousands must not push out its own.
_MOST_BYTES: Final = 1024 * 1024 * 1024


def default_folder() -> Path | None:
    """Examined members among the user's caches; None where the environment turns caches off."""
    home = cache_folder()
    return None if home is None else home / "coop"


@cache
def edition() -> str:
    """Stands for the code, the standards and the schemas that an examination goes by: the same wherever
    certgen is installed.
    """
    package = Path(__file__).parents[2]
    files = chain(package.rglob("*.py"), package.rglob("*.yaml"), schemas_dir().glob("*.json"))
    return hash_files(path for path in files if "examples" not in path.parts)


class SummaryCache:
    """A folder of examined members as of a day, or nothing at all (`folder` None)."""

    def __init__(self, folder: Path | None, on: date) -> None:
        self._summaries = DiskCache(
            folder, ".member", MemberSummary, most_bytes=_MOST_BYTES, entry_bytes=_ENTRY_BYTES
        )
        self._on = on.isoformat()

    def load(self, member: str, fingerprint: str, source: str) -> MemberSummary | None:
        """The summary of the records with that fingerprint, under the member's own key; None if not kept.

        `source` tells apart readings of the same bytes: a season's folder within them.
        """
        kept = self._summaries.load(edition(), self._on, source, fingerprint)
        return None if kept is None else replace(kept, member=member)

    def store(self, summary: MemberSummary, source: str) -> None:
        """Keep an examined member, unless a fault of certgen or of the machine is part of its summary."""
        if summary.state in {"read", "unreadable"} and not summary.crashed:
            self._summaries.store(summary, edition(), self._on, source, summary.fingerprint)

    def prune(self) -> None:
        """Keep the folder within its bound."""
        self._summaries.prune()


_PIECE = 1 << 20
#: Bytes of each end of a paper or photo that tell it from others.
_END: Final = 1 << 16


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
        elif stat.S_ISREG(status.st_mode) and path.lower().endswith(".pdf"):
            # A supplier's packet decides what a lot is worth, to the last byte.
            if status.st_size <= ATTACHED_BYTES:
                _add_bytes(seal, entry.path)
        elif stat.S_ISREG(status.st_mode) and path.endswith((".yaml", ".yml")):
            budget -= status.st_size
            if budget < 0:
                raise MemberRefusedError("the folder holds more records than a season can")
            if status.st_size <= FILE_BYTES:
                _add_bytes(seal, entry.path)
        elif stat.S_ISREG(status.st_mode):
            seal.update(digest_file(entry.path, status.st_size).encode("ascii"))


def _walk(home: Path) -> Iterator[tuple[str, os.DirEntry[str]]]:
    """Everything below a folder in a fixed order, without following links; what its records said before
    isn't part of them.
    """
    waiting = [""]
    while waiting:
        below = waiting.pop()
        with os.scandir(home / below) as listed:
            entries = sorted(islice(listed, FOLDER_ENTRIES + 1), key=lambda entry: entry.name)
        for entry in entries:
            path = f"{below}/{entry.name}" if below else entry.name
            if entry.name == HISTORY:
                continue
            yield path, entry
            if entry.is_dir(follow_symlinks=False):
                waiting.append(path)


def _add_bytes(seal: hashlib._Hash, path: Path | str) -> None:
    inner = hashlib.sha256()
    with open(path, "rb") as stream:  # noqa: PTH123 (a path of the walk; thousands of Path objects cost time)
        while piece := stream.read(_PIECE):
            inner.update(piece)
    seal.update(inner.digest())


def digest_file(path: Path | str, size: int) -> str:
    """A figure that files of the same bytes share: SHA-256 of the size and of both ends, all of a file up to
    128 KiB. So thousands of photos are told apart without being read whole.
    """
    seal = hashlib.sha256(f"{size}\0".encode("ascii"))
    with open(path, "rb") as stream:  # noqa: PTH123 (as above)
        seal.update(stream.read(_END))
        if size > _END:
            stream.seek(max(_END, size - _END))
            seal.update(stream.read(_END))
    return seal.hexdigest()
