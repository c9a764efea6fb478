"""Evidence: which files the records name, which lie there unnamed, and which lie there twice."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import TYPE_CHECKING

from certgen.records.record_files.files import find_evidence
from certgen.records.supplied import list_packets
from certgen.records.tables import load_tables

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.records import Season


@dataclass(frozen=True, slots=True)
class Named:
    """A path that a record names as evidence, and whether the file is there."""

    path: str
    table: str
    id: str
    field: str
    there: bool


def named_evidence(season: Season) -> Iterator[Named]:
    """Every path that a record names, in the order of the tables."""
    for path in season.details.raw.get("evidence", ()):
        yield Named(
            path, "season", season.details.label, "evidence", find_evidence(season.folder, path) is not None
        )
    for name, table in load_tables().items():
        for column in table.columns:
            if column.kind != "evidence":
                continue
            for _, identifier, path in season.elements(name, column.name).rows("id", "value"):
                there = find_evidence(season.folder, path) is not None
                yield Named(path, name, str(identifier), column.name, there)
    for named in list_packets(season):
        there = find_evidence(season.folder, named.file) is not None
        yield Named(named.file, named.table, named.id, ".".join(map(str, named.steps)), there)


def unnamed_evidence(season: Season) -> tuple[str, ...]:
    """Files in the evidence folder that no record names."""
    named = {entry.path for entry in named_evidence(season)}
    return tuple(path for path in season.evidence_files if path not in named)


def list_copies(season: Season) -> tuple[tuple[str, ...], ...]:
    """Files in the evidence folder that hold the same bytes under several names; empty ones are none."""
    sizes: dict[int, list[str]] = {}
    empty = frozenset(season.empty_evidence)
    for path in season.evidence_files:
        found = find_evidence(season.folder, path)
        if found is not None and path not in empty:
            sizes.setdefault(found.stat().st_size, []).append(path)
    copies: dict[str, list[str]] = {}
    # Files of different sizes needn't be read to be told apart.
    for path in (path for alike in sizes.values() if len(alike) > 1 for path in alike):
        found = find_evidence(season.folder, path)
        if found is not None:
            with found.open("rb") as stream:
                copies.setdefault(hashlib.file_digest(stream, "sha256").hexdigest(), []).append(path)
    return tuple(tuple(paths) for paths in copies.values() if len(paths) > 1)
