"""Evidence: which files the records name, which lie there unnamed, and a new one put in its place.

Adding copies the file into the season's `evidence/` folder under its own name, and writes that name into
the record, leaving every other byte of the record's file as it was.
"""

from __future__ import annotations

import errno
import hashlib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from certgen.exchange.editing.history import Author, ChangedMeanwhileError, write_change
from certgen.exchange.editing.splicing import change_record
from certgen.records.record_files.files import EVIDENCE
from certgen.records.supplied import list_packets
from certgen.records.tables import load_tables
from certgen.whole_files import PathError, contained_path, read_ordinary

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from certgen.records import Season

FILE_BYTES = 256 * 1024 * 1024
_AUTHOR: Final = Author("evidence")


class EvidenceError(ValueError):
    """Evidence that cannot be added; the message says why and what to do."""


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
    from certgen.records.record_files.files import find_evidence

    for path in season.details.raw.get("evidence", ()):
        yield Named(
            path, "season", season.details.label, "evidence", find_evidence(season.folder, path) is not None
        )
    for name, table in load_tables().items():
        for column in table.columns:
            if column.kind != "evidence":
                continue
            listed = season.exploded(name, column.name)
            for identifier, path in zip(listed["id"].tolist(), listed["value"].tolist(), strict=True):
                there = find_evidence(season.folder, path) is not None
                yield Named(path, name, str(identifier), column.name, there)
    for named in list_packets(season):
        there = find_evidence(season.folder, named.file) is not None
        yield Named(named.file, named.table, named.id, ".".join(map(str, named.steps)), there)


def unnamed_evidence(season: Season) -> tuple[str, ...]:
    """Files in the evidence folder that no record names."""
    named = {entry.path for entry in named_evidence(season)}
    return tuple(path for path in season.evidence_files if path not in named)


@dataclass(frozen=True, slots=True)
class Added:
    """What adding did: where the file lies, its SHA-256, and the record file that names it now."""

    path: str
    sha256: str
    file: str


def add_evidence(
    season: Season,
    file: Path,
    table: str,
    identifier: str,
    *,
    to: str = "",
    field: str = "evidence",
    author: Author = _AUTHOR,
) -> Added:
    """Copy a file into `evidence/` and name it in a record. Raises `EvidenceError`; nothing is half done.

    `to` is the path below `evidence/`, by default the file's own name. A file of that name with other
    content is never overwritten. The season's history tells of it, by `author`.
    """
    row = _find_record(season, table, identifier, field)
    data = _read(file)
    path = to or file.name
    _hold_place(season.folder / EVIDENCE, path, data)
    held = season.record_at(table, row).get(field, ())
    place = season.place(table, row)
    if path in held:
        # Named and not there; or there already, where a run that was killed had come so far.
        write_change(season.folder, {f"{EVIDENCE}/{path}": data}, author)
        return Added(path, hashlib.sha256(data).hexdigest(), place.file)
    source = season.sources[place.file]
    before = read_ordinary(season.folder / place.file)
    if hashlib.sha256(before).hexdigest() != source.sha256:
        raise EvidenceError(f"{place.file} was changed meanwhile; run the command again")
    named = [*held, path] if held else path
    text = change_record(source.text, place.file, table, int(place.path[1]), {field: named})
    mark = b"\xef\xbb\xbf" if before.startswith(b"\xef\xbb\xbf") else b""
    contents = {f"{EVIDENCE}/{path}": data, place.file: mark + text.encode()}
    try:
        write_change(season.folder, contents, author, read={place.file: source.sha256})
    except ChangedMeanwhileError as fault:
        raise EvidenceError(f"{fault.file} was changed meanwhile; run the command again") from None
    return Added(path, hashlib.sha256(data).hexdigest(), place.file)


def _find_record(season: Season, table: str, identifier: str, field: str) -> int:
    """The row of a record that takes evidence under a field."""
    declared = load_tables().get(table)
    row = season.row(table, identifier)
    if declared is None or row is None:
        raise EvidenceError(f"no record of `{table}` bears the identifier {identifier}")
    if field not in declared.fields or declared.fields[field].kind != "evidence":
        raise EvidenceError(f"`{table}` has no field `{field}` that takes evidence")
    return row


def _hold_place(folder: Path, path: str, data: bytes) -> None:
    """Refuse a place outside the evidence folder, and one where another file lies."""
    try:
        target = contained_path(folder, path)
    except PathError as fault:
        raise EvidenceError(f"the evidence folder cannot take it: {fault}") from fault
    if target.exists() and (not target.is_file() or read_ordinary(target) != data):
        raise EvidenceError(
            f"evidence/{path} is there already and is another file; give yours another name with --as"
        )


def _read(file: Path) -> bytes:
    try:
        return read_ordinary(file, FILE_BYTES)
    except OSError as fault:
        if fault.errno == errno.EFBIG:
            raise EvidenceError(
                f"{file.name} is larger than {FILE_BYTES // 2**20} MB; a smaller scan or photo will do"
            ) from fault
        raise EvidenceError(f"{file}: cannot be read ({fault.strerror})") from fault
