"""Values kept on disk from run to run: parsed record files, examined members.

An entry lies behind its own checksum and is written whole or not at all. Its name covers everything that the
value was made from, the code among it, so another release never meets it. Whatever doesn't look right is
passed over and made anew: no failure of a cache ever fails a run. The entries lie among the user's caches,
never in a season, and how much they take is bounded.
"""

from __future__ import annotations

import hashlib
import os
import sys
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Generic, TypeVar

from certgen.whole_files import write_entry

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
    digest = hashlib.sha256()
    for path in sorted(paths):
        digest.update(path.name.encode() + b"\0" + path.read_bytes() + b"\0")
    return digest.hexdigest()


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
        if self._folder is None:
            return None
        from msgspec import msgpack

        name = _name(key)
        path = self._folder / f"{name}{self._suffix}"
        try:
            if path.stat().st_size > self._entry_bytes:
                return None
            seal, _, body = path.read_bytes().partition(b"\n")
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
            body = msgpack.encode(value)
            write_entry(self._folder / f"{name}{self._suffix}", _seal(name, body) + b"\n" + body)

    def prune(self) -> None:
        """Take the entries out that were written first, until the folder keeps within its bound again."""
        if self._folder is None:
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


def _name(key: tuple[str, ...]) -> str:
    return hashlib.sha256("\0".join(key).encode("utf-8", "surrogateescape")).hexdigest()


def _seal(name: str, body: bytes) -> bytes:
    return hashlib.sha256(name.encode() + b"\0" + body).hexdigest().encode()
