"""Files read before: what a record file's bytes gave, kept under their hash.

A season is checked again after every few entries, and of its files one has changed. Only sound files are
kept, so an error is always found afresh. An entry is JSON behind its own checksum, written whole or not at
all, and bound to the code and the schemas that made it; whatever doesn't look right is passed over and the
file is read. The folder lies among the user's caches, never in a season, and its size is bounded.
"""

from __future__ import annotations

import hashlib
import json
import os
import sys
from array import array
from contextlib import suppress
from functools import cache
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Any

from certgen.records.extracts import Extract, SharedTexts, Stretch
from certgen.records.limits import CACHE_BYTES
from certgen.records.locating import Spans
from certgen.records.tables import Column, Table, load_tables
from certgen.resources import schemas_dir
from certgen.whole_files import write_entry

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    Words = Mapping[str, Sequence[str]]

#: Smaller files are read from scratch: their entries would save a millisecond or two.
WORTH_KEEPING = 16 * 1024
_SUFFIX = ".extract"


def cache_folder() -> Path | None:
    """The user's own folder for parsed files, or None where the environment says `CERTGEN_CACHE=off`.

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


@cache
def _edition() -> str:
    """Stands for the code that reads and the schemas it reads by: other code never meets these entries."""
    made_by = hashlib.sha256()
    for path in sorted(chain(Path(__file__).parent.glob("*.py"), schemas_dir().glob("*.json"))):
        made_by.update(path.name.encode() + b"\0" + path.read_bytes() + b"\0")
    return made_by.hexdigest()


def _digest_words(words: Words) -> str:
    plain = json.dumps({name: list(listed) for name, listed in words.items()}, sort_keys=True)
    return hashlib.sha256(plain.encode()).hexdigest()


class ExtractCache:
    """Extracts by the SHA-256 of the file they came from. With no folder it keeps nothing.

    No failure of the cache ever fails a reading: a full disk or a torn entry costs time only.
    """

    def __init__(self, folder: Path | None) -> None:
        self._folder = folder
        self._words: dict[int, str] = {}
        self._stored = False
        self._shared = SharedTexts()

    def load(self, sha256: str) -> Extract | None:
        """The extract of the file with these bytes, if a sound one is kept."""
        if self._folder is None:
            return None
        try:
            path = self._path(sha256)
            seal, _, body = path.read_bytes().partition(b"\n")
            if seal.decode("ascii") != hashlib.sha256(body).hexdigest():
                return None
            kept = json.loads(body)
            if kept["edition"] != _edition() or kept["file"] != sha256:
                return None
            extract = _unpack(kept["tables"], self._shared)
            words = str(kept["words"])
        except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
            return None
        self._words[id(extract)] = words
        return extract

    def fits(self, extract: Extract, words: Words) -> bool:
        """Whether a loaded extract was read with these words allowed."""
        return self._words.get(id(extract)) == _digest_words(words)

    def store(self, sha256: str, extract: Extract, size: int, words: Words) -> None:
        """Keep a sound extract of a file of `size` bytes that is large enough to be worth it."""
        if self._folder is None or extract.errors or extract.holds_season or size < WORTH_KEEPING:
            return
        kept = {
            "edition": _edition(),
            "file": sha256,
            "words": _digest_words(words),
            "tables": {
                name: {
                    "columns": stretch.columns,
                    "at": stretch.at.tolist(),
                    "spans": stretch.spans.numbers(),
                }
                for name, stretch in extract.stretches.items()
            },
        }
        body = json.dumps(kept, ensure_ascii=False, separators=(",", ":"), check_circular=False).encode()
        with suppress(OSError):
            write_entry(self._path(sha256), hashlib.sha256(body).hexdigest().encode() + b"\n" + body)
            self._stored = True

    def prune(self) -> None:
        """Take the entries out that were written first, until the folder keeps within its bound again."""
        if self._folder is None or not self._stored:
            return
        with suppress(OSError):
            entries = sorted(
                ((entry.stat().st_mtime, entry.stat().st_size, entry.path) for entry in self._entries()),
                reverse=True,
            )
            total = 0
            for _, size, path in entries:
                total += size
                if total > CACHE_BYTES:
                    Path(path).unlink(missing_ok=True)

    def _entries(self) -> list[os.DirEntry[str]]:
        if self._folder is None:
            return []
        with os.scandir(self._folder) as listed:
            return [entry for entry in listed if entry.name.endswith((_SUFFIX, ".part"))]

    def _path(self, sha256: str) -> Path:
        # The edition is in the name too: two releases on one machine leave each other's entries alone.
        name = hashlib.sha256(f"{_edition()} {sha256}".encode()).hexdigest()
        return (self._folder or Path()) / f"{name}{_SUFFIX}"


def _unpack(tables: Any, shared: SharedTexts) -> Extract:
    """The extract again. Raises ValueError for anything that reading could not have made."""
    found = Extract()
    known = load_tables()
    for name, kept in tables.items():
        table = known[name]
        spans: list[int] = kept["spans"]
        at: list[int] = kept["at"]
        columns: dict[str, list[Any]] = kept["columns"]
        if not _holds(spans, int) or not _holds(at, int):
            raise ValueError(name)
        if at and not 0 <= min(at) <= max(at) < len(spans) // 4:
            raise ValueError(name)
        for column, values in columns.items():
            if len(values) != len(at) or not _fits_kind(table, column, values):
                raise ValueError(column)
            columns[column] = shared.share(table.column(column), values)
        found.stretches[name] = Stretch(columns, array("I", at), Spans.from_numbers(spans))
    return found


def _holds(values: Any, *kinds: type) -> bool:
    return isinstance(values, list) and set(map(type, values)) <= set(kinds)


_JSON_TYPES: Mapping[str, type] = {
    "whole": int,
    "number": float,
    "yes_no": bool,
    "list": list,
    "evidence": list,
}


def _fits_kind(table: Table, name: str, values: list[Any]) -> bool:
    column: Column = table.column(name)
    expected = _JSON_TYPES.get(column.kind, dict if column.kind == "mapping" else str)
    if not _holds(values, expected, type(None)):
        return False
    if column.kind not in {"list", "evidence"}:
        return True
    item = column.field.item
    kind = item.kind if item and column.kind == "list" else "text"
    inner = _JSON_TYPES.get(kind, dict if kind == "mapping" else str)
    return _holds([part for value in values if value for part in value], inner)
