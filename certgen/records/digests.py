"""A short digest of each record, to name the first one that differs where a file's digest does."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Final

from certgen.records.rows import is_absent
from certgen.records.tables import load_tables

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.records import Season

_DIGEST_LETTERS: Final = 12


def record_digests(season: Season) -> dict[str, list[list[str]]]:
    """For each table, each record's identifier and a short digest of its values as typed, in reading order.

    They serve to name the first record that differs when a file's digest does. A field that is absent adds
    nothing, so that a later version with more fields computes the same digests.
    """
    return {
        name: [[key, digest] for key, digest in _digest_table(season, name)]
        for name in load_tables()
        if len(season.columns(name))
    }


def _digest_table(season: Season, name: str) -> Iterator[tuple[str, str]]:
    table, records = load_tables()[name], season.columns(name)
    labels = [column.name for column in table.columns]
    rows = zip(*map(records.values, labels), strict=True)
    keys = records.values(table.key) if table.key else [""] * len(records)
    for key, row in zip(keys, rows, strict=True):
        present = [
            f"{label}={_written(value)}"
            for label, value in zip(labels, row, strict=True)
            if not is_absent(value)
        ]
        yield str(key), hashlib.sha256("\x1f".join(present).encode()).hexdigest()[:_DIGEST_LETTERS]


def _written(value: Any) -> str:  # whatever a column holds
    if isinstance(value, tuple):
        return "\x1e".join(_written(part) for part in value)
    if isinstance(value, Mapping):
        return "\x1d".join(
            f"{key}:{_written(part)}" for key, part in sorted(value.items()) if not is_absent(part)
        )
    if hasattr(value, "isoformat"):
        return str(value.isoformat())[:10]
    return str(value)
