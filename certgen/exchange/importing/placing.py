"""Records into the files that hold their table, every other byte left as it was."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

from certgen.exchange.editing.skeleton import SCHEMA_FOLDER
from certgen.exchange.editing.splicing import can_take, change_records, insert_records
from certgen.exchange.editing.yaml_text import Line, render_fields, render_record, with_days

if TYPE_CHECKING:
    from pathlib import Path

    from certgen.exchange.importing.assembly import Incoming
    from certgen.records import Season

_BOM = b"\xef\xbb\xbf"


class Change(NamedTuple):
    """A record that is there already, its row, and the fields that are to be other than they are."""

    record: Incoming
    row: int
    fields: dict[str, Any]


class Placed(NamedTuple):
    """The bytes of each file that changes, and the records added and changed, each with its file."""

    contents: dict[str, bytes]
    added: list[tuple[str, str]]
    changed: list[tuple[str, str]]


def place_records(
    folder: Path, season: Season | None, adds: Sequence[Incoming], changes: Sequence[Change]
) -> Placed:
    """The bytes of every file that changes; nothing is written. Raises `SpliceError`."""
    texts = {} if season is None else {name: source.text for name, source in season.sources.items()}
    before = dict(texts)
    changed = [] if season is None else _change(season, texts, changes)
    added = _add(folder, season, texts, adds)
    contents = {
        name: (_BOM if _has_bom(folder, name) else b"") + text.encode()
        for name, text in texts.items()
        if text != before.get(name)
    }
    return Placed(contents, added, changed)


def _add(
    folder: Path, season: Season | None, texts: dict[str, str], adds: Sequence[Incoming]
) -> list[tuple[str, str]]:
    added: list[tuple[str, str]] = []
    groups: dict[str, list[Incoming]] = {}
    for record in adds:
        groups.setdefault(record.table, []).append(record)
    for table, records in groups.items():
        file = "season.yaml" if table == "season" else _home(season, texts, folder, table)
        values = [record.values for record in records]
        if file in texts:
            texts[file] = insert_records(texts[file], file, table, values)
        else:
            texts[file] = _new_file(folder, table, values)
        added += [(record.name, file) for record in records]
    return added


def _change(season: Season, texts: dict[str, str], changes: Sequence[Change]) -> list[tuple[str, str]]:
    by_file: dict[str, list[tuple[str, int | None, Mapping[str, Any]]]] = {}
    changed = []
    for record, row, fields in changes:
        if record.table == "season":
            file = season.details.file
            by_file.setdefault(file, []).append(("season", None, with_days(fields)))
        else:
            file, path = season.place(record.table, row)
            by_file.setdefault(file, []).append((record.table, int(path[1]), fields))
        changed.append((record.name, file))
    for file, wanted in by_file.items():
        texts[file] = change_records(texts[file], file, wanted)
    return changed


def _has_bom(folder: Path, name: str) -> bool:
    path = folder / name
    if not path.is_file():
        return False
    with path.open("rb") as stream:
        return stream.read(3) == _BOM


def _home(season: Season | None, texts: Mapping[str, str], folder: Path, table: str) -> str:
    """The file for a table's new records: where its last ones stand, else one with room, else a new one."""
    files: list[str] = season.tables[table]["file"].tolist() if season is not None else []
    filled = list(dict.fromkeys(files))
    for file in [*reversed(filled), *texts]:
        if can_take(texts[file], file, table):
            return file
    names = [f"{table}.yaml", *(f"{table}-{number}.yaml" for number in range(2, 1000))]
    return next(name for name in names if name not in texts and not (folder / name).exists())


def begin_file(folder: Path, table: str) -> list[Line]:
    """The first lines of a new file of a season in `folder` that holds a table's records."""
    schema = folder / SCHEMA_FOLDER / "records.json"
    head = [f"# yaml-language-server: $schema={SCHEMA_FOLDER}/records.json"] if schema.is_file() else []
    return [Line(text, ()) for text in (*head, f"{table}:")]


def _new_file(folder: Path, table: str, records: Sequence[Mapping[str, Any]]) -> str:
    lines = begin_file(folder, table)
    if table == "season":
        lines += render_fields(with_days(records[0]), 2)
    else:
        lines += [line for record in records for line in render_record(record, 2)]
    return "".join(f"{line.text}\n" for line in lines)
