"""Files read before: what a record file's bytes gave, kept under their hash.

A season is checked again after every few entries, and of its files one has changed. Only sound files are
kept, so an error is always found afresh.
"""

from __future__ import annotations

import hashlib
import json
from array import array
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Any

from certgen.disk_cache import DiskCache, hash_files
from certgen.records.record_files.extracts import Extract, SharedTexts, Stretch
from certgen.records.record_files.limits import CACHE_BYTES
from certgen.records.record_files.locating import Spans
from certgen.records.tables import Column, Table, load_tables
from certgen.resources import schemas_dir

if TYPE_CHECKING:
    from collections.abc import Sequence

    Words = Mapping[str, Sequence[str]]

#: Smaller files are read from scratch: their entries would save a millisecond or two.
WORTH_KEEPING = 16 * 1024


@dataclass(slots=True)
class _KeptTable:
    """One table's records in the file, as `Stretch` holds them."""

    columns: dict[str, list[Any]]
    at: list[int]
    spans: list[int]


@dataclass(slots=True)
class _KeptFile:
    """What a file gave, and the words that were allowed then."""

    words: str
    tables: dict[str, _KeptTable]


@cache
def _edition() -> str:
    """Stands for the code that reads and the schemas it reads by: other code never meets these entries."""
    return hash_files(chain(Path(__file__).parents[1].rglob("*.py"), schemas_dir().glob("*.json")))


def _digest_words(words: Words) -> str:
    plain = json.dumps({name: list(listed) for name, listed in words.items()}, sort_keys=True)
    return hashlib.sha256(plain.encode()).hexdigest()


class ExtractCache:
    """Extracts by the SHA-256 of the file they came from. With no folder it keeps nothing."""

    def __init__(self, folder: Path | None) -> None:
        self._files = DiskCache(
            folder, ".extract", _KeptFile, most_bytes=CACHE_BYTES, entry_bytes=CACHE_BYTES
        )
        self._words: dict[int, str] = {}
        self._stored = False
        self._shared = SharedTexts()

    def load(self, sha256: str) -> Extract | None:
        """The extract of the file with these bytes, if a sound one is kept."""
        kept = self._files.load(_edition(), sha256)
        if kept is None:
            return None
        try:
            extract = _unpack(kept.tables, self._shared)
        except (ValueError, KeyError):
            return None
        self._words[id(extract)] = kept.words
        return extract

    def fits(self, extract: Extract, words: Words) -> bool:
        """Whether a loaded extract was read with these words allowed."""
        return self._words.get(id(extract)) == _digest_words(words)

    def store(self, sha256: str, extract: Extract, size: int, words: Words) -> None:
        """Keep a sound extract of a file of `size` bytes that is large enough to be worth it."""
        if extract.errors or extract.holds_season or size < WORTH_KEEPING:
            return
        tables = {
            name: _KeptTable(stretch.columns, stretch.at.tolist(), stretch.spans.numbers())
            for name, stretch in extract.stretches.items()
        }
        self._files.store(_KeptFile(_digest_words(words), tables), _edition(), sha256)
        self._stored = True

    def prune(self) -> None:
        """Keep the folder within its bound, where anything was stored."""
        if self._stored:
            self._files.prune()


def _unpack(tables: Mapping[str, _KeptTable], shared: SharedTexts) -> Extract:
    """The extract again. Raises KeyError or ValueError for anything that reading could not have made."""
    extract = Extract()
    known = load_tables()
    for name, kept in tables.items():
        table = known[name]
        if kept.at and not 0 <= min(kept.at) <= max(kept.at) < len(kept.spans) // 4:
            raise ValueError(name)
        for column, values in kept.columns.items():
            if len(values) != len(kept.at) or not _fits_kind(table, column, values):
                raise ValueError(column)
            kept.columns[column] = shared.share(table.column(column), values)
        extract.stretches[name] = Stretch(kept.columns, array("I", kept.at), Spans.from_numbers(kept.spans))
    return extract


_PLAIN_TYPES: Mapping[str, type] = {
    "whole": int,
    "number": float,
    "yes_no": bool,
    "list": list,
    "evidence": list,
}


def _fits_kind(table: Table, name: str, values: list[Any]) -> bool:
    column: Column = table.column(name)
    expected = _PLAIN_TYPES.get(column.kind, dict if column.kind == "mapping" else str)
    if not _holds(values, expected, type(None)):
        return False
    if column.kind not in {"list", "evidence"}:
        return True
    item = column.field.item
    kind = item.kind if item and column.kind == "list" else "text"
    inner = _PLAIN_TYPES.get(kind, dict if kind == "mapping" else str)
    return _holds([part for value in values if value for part in value], inner)


def _holds(values: list[Any], *kinds: type) -> bool:
    return set(map(type, values)) <= set(kinds)
