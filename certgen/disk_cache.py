"""Values kept on disk from run to run: parsed record files, examined members.

An entry lies behind its own checksum and is written whole or not at all. Its name covers everything that the
value was made from, the code among it, so another release never meets it. Whatever doesn't look right is
passed over and made anew: no failure of a cache ever fails a run. The entries lie among the user's caches,
never in a season, and how much they take is bounded.

A checksum shows that an entry is whole, not who wrote it. So only what the user's own runs wrote is believed:
an entry and its folder are the user's, and nobody else may write to either.
"""

from __future__ import annotations

import hashlib
import os
import stat
import sys
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Generic, TypeVar

from certgen.whole_files import make_private, write_entry

if TYPE_CHECKING:
    from collections.abc import Iterable

Value = TypeVar("Value")


def cache_folder() -> Path | None:
    """The user's own folder for certgen's caches, or None where the environment says `CERTGEN_CACHE=off`.

    `CERTGEN_CACHE` may also name another folder.
    """
    chosen = os.environ.get("CERTGEN_CACHE", "")
    if chosen.lower() == "off":
        return None
    if chosen:
        return Path(chosen)
    home = os.environ.get("XDG_CACHE_HOME", "")
    if home and Path(home).is_absolute():
        return Path(home) / "certgen"
    with suppress(RuntimeError):
        if sys.platform == "darwin":
            return Path.home() / "Library" / "Caches" / "certgen"
        if sys.platform == "win32":
            local = os.environ.get("LOCALAPPDATA", "")
            return (Path(local) if local else Path.home() / "AppData" / "Local") / "certgen" / "Cache"
        return Path.home() / ".cache" / "certgen"
    return None


def hash_files(paths: Iterable[Path]) -> str:
    """SHA-256 over the names and bytes of files: stands for the code and the data that an entry goes by."""
    # In an order of their own: where they lie differs from machine to machine.
    files = sorted((path.name.encode(), hashlib.sha256(path.read_bytes()).digest()) for path in paths)
    return hashlib.sha256(b"\0".join(part for file in files for part in file)).hexdigest()


class DiskCache(Generic[Value]):
    """A folder of values of one type, or nothing at all (`folder` None).

    `kind` is the type: a dataclass of plain values. `suffix` tells the entries from
    those of another cache in the same folder. `most_bytes` is what all entries may take, `entry_bytes` what
    one may: a larger one was not written by certgen.
    """

    def __init__(
        self, folder: Path | None, suffix: str, kind: type[Value], *, most_bytes: int, entry_bytes: int
    ) -> None:
        self._folder = folder
        self._suffix = suffix
        self._kind = kind
        self._most_bytes = most_bytes
        self._entry_bytes = entry_bytes

    def load(self, *key: str) -> Value | None:
        """The value that was stored under this key, if a sound one is kept."""
        if self._folder is None or not _is_ours(self._folder):
            return None
        from msgspec import msgpack

        name = _name(key)
        try:
            entry = _read_own(self._folder / f"{name}{self._suffix}", self._entry_bytes)
            seal, _, body = entry.partition(b"\n")
            if seal != _seal(name, body):
                return None
            return msgpack.decode(body, type=self._kind)
        except (OSError, ValueError, RecursionError):
            return None

    def store(self, value: Value, *key: str) -> None:
        """Keep a value, if it can be: on a full disk, or with a text that no file can hold, it isn't."""
        if self._folder is None:
            return
        from msgspec import msgpack

        name = _name(key)
        with suppress(OSError, ValueError, OverflowError):
            make_private(self._folder)
            if not _is_ours(self._folder):
                # What is in it would be another's to read or to change.
                return
            body = msgpack.encode(value)
            write_entry(self._folder / f"{name}{self._suffix}", _seal(name, body) + b"\n" + body)

    def prune(self) -> None:
        """Take the entries out that were written first, until the folder keeps within its bound again."""
        if self._folder is None or not _is_ours(self._folder):
            return
        with suppress(OSError):
            with os.scandir(self._folder) as listing:
                entries = [
                    (entry.stat().st_mtime, entry.stat().st_size, entry.path)
                    for entry in listing
                    if entry.name.endswith((self._suffix, ".part"))
                ]
            total = 0
            for _, size, path in sorted(entries, reverse=True):
                total += size
                if total > self._most_bytes:
                    Path(path).unlink(missing_ok=True)


def _is_ours(folder: Path) -> bool:
    """Whether a folder is the user's, and nobody else's to write to."""
    try:
        return _is_private(folder.stat())
    except OSError:
        return False


def _is_private(status: os.stat_result) -> bool:
    """Whether the user owns something, and others may not write to it; where a system knows owners."""
    if not hasattr(os, "geteuid"):
        return True
    return status.st_uid == os.geteuid() and not status.st_mode & (stat.S_IWGRP | stat.S_IWOTH)


def _read_own(path: Path, most: int) -> bytes:
    """The bytes of an entry that is the user's own. Raises OSError for any other and for a larger one."""
    flags = os.O_RDONLY | getattr(os, "O_BINARY", 0) | getattr(os, "O_NONBLOCK", 0)
    with os.fdopen(os.open(path, flags | getattr(os, "O_NOFOLLOW", 0)), "rb") as stream:
        status = os.fstat(stream.fileno())
        if not stat.S_ISREG(status.st_mode) or not _is_private(status) or status.st_size > most:
            raise PermissionError(path)
        return stream.read(most)


def _name(key: tuple[str, ...]) -> str:
    return hashlib.sha256("\0".join(key).encode("utf-8", "surrogateescape")).hexdigest()


def _seal(name: str, body: bytes) -> bytes:
    return hashlib.sha256(name.encode() + b"\0" + body).hexdigest().encode()
