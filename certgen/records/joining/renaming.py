"""What an earlier season's records are called on the farm, where a later one gave a number away again; and
its evidence files, which lie in another folder."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from certgen.records.frames import objects
from certgen.records.joining.rounds import NAMED, RoundMembers
from certgen.records.places import evidence_from
from certgen.records.tables import load_tables

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from certgen.records.columns import Array, Columns
    from certgen.records.season import Season
    from certgen.records.tables import Column, Field

#: By table: what the farm calls the record that a season's own number names.
Names = dict[str, dict[str, str]]


def rename_references(
    season: Season, names: Sequence[Names], table: str, records: Columns
) -> dict[str, Array]:
    """The columns of a season's table in which a record, or what it names, is called something else now.

    `names` are the season's own and those of the seasons before it, in that order.
    """
    changes: dict[str, Array] = {}
    key = load_tables()[table].key
    if key and any(name != identifier for identifier, name in names[0][table].items()):
        changes[key] = objects([names[0][table].get(name) for name in records[key].tolist()])
    for column in load_tables()[table].columns:
        if column.refers_to and column.name not in changes:
            renamed = _renamed(names, column.refers_to)
            if renamed:
                changes[column.name] = _rename(records[column.name], renamed)
        elif column.field.item is not None and (within := _names_in_parts(names, column.field.item)):
            changes[column.name] = _rename_parts(within, records[column.name])
    if table in {"rounds", "letters"}:
        changes.update(_rename_entries(season, names, table, records))
    return changes


def _rename_entries(season: Season, names: Sequence[Names], table: str, records: Columns) -> dict[str, Array]:
    """What rounds and letters name; names and ranges of the season's own records are written out."""
    columns = NAMED if table == "rounds" else (("samples", "screening"),)
    renamed = {target: _renamed(names, (target,)) for _, target in columns}
    if not any(renamed.values()):
        return {}
    members = RoundMembers(season)

    def spell(entries: Sequence[str], targets: Sequence[str]) -> tuple[str, ...]:
        meant = ((one, target) for entry in entries for one, target in _meant(members, entry, targets))
        return tuple(renamed.get(target, {}).get(one, one) for one, target in meant)

    changes = {
        column: objects([spell(entries, (target,)) for entries in records[column].tolist()])
        for column, target in columns
    }
    about = "about" if table == "rounds" else "samples"
    targets = tuple(target for _, target in reversed(columns))
    changes["exceptions"] = objects(
        [
            tuple({**one, about: spell(one.get(about, ()), targets)} for one in exceptions)
            for exceptions in records["exceptions"].tolist()
        ]
    )
    return changes


def _renamed(names: Sequence[Names], tables: Sequence[str]) -> Mapping[str, str]:
    """What a season's references must be called now: its own records first, then those of earlier years."""
    found: dict[str, str] = {}
    for table in reversed(tables):
        for season in reversed(names):
            found.update(season.get(table, {}))
    return {written: name for written, name in found.items() if written != name}


def _names_in_parts(names: Sequence[Names], item: Field) -> dict[str, Mapping[str, str]]:
    """By field of a list's entries what the records that it names must be called now, where any must."""
    targets = {
        name: field.refers_to or (field.item.refers_to if field.item is not None else ())
        for name, field in item.fields.items()
    }
    found = {name: _renamed(names, tables) for name, tables in targets.items() if tables}
    return {name: renamed for name, renamed in found.items() if renamed}


def _rename_parts(renamed: Mapping[str, Mapping[str, str]], column: Array) -> Array:
    def rename(part: Mapping[str, Any]) -> dict[str, Any]:
        changed = dict(part)
        for name, new in renamed.items():
            if name in changed:
                old = changed[name]
                changed[name] = (
                    new.get(old, old) if isinstance(old, str) else tuple(new.get(o, o) for o in old)
                )
        return changed

    return objects([tuple(rename(part) for part in parts) for parts in column.tolist()])


def _meant(members: RoundMembers, entry: str, targets: Sequence[str]) -> list[tuple[str, str]]:
    """The records that an entry means, with their table, in the first table that has any; else as it is."""
    for target in targets:
        if found := members.expand(target, entry):
            return [(one, target) for one in found]
    return [(entry, targets[0])]


def _rename(column: Array, renamed: Mapping[str, str]) -> Array:
    """Names, or lists of them, as they are called now; what is absent stays so."""
    return objects([
        tuple(renamed.get(one, one) for one in name) if isinstance(name, tuple) else renamed.get(name, name)
        for name in column.tolist()
    ])  # fmt: skip


def names_file(table: str, column: Column) -> bool:
    """Whether a column names files below the evidence folder."""
    return column.kind == "evidence" or (table, column.name) == ("plantings", "origin.packet")


def moved_files(path: str, files: Any) -> Any:
    """An evidence file of another season, or several, as seen from here; `path` leads there."""
    if isinstance(files, str):
        return evidence_from(path, files)
    return tuple(evidence_from(path, file) for file in files)


#: Entries of lists that name a file below the evidence folder, by table and column.
FILES_IN_PARTS: Final = {
    ("lots", "sources"): ("packet",),
    ("visits", "exercises"): ("paper",),
    ("visits", "requests"): ("paper",),
    ("visits", "findings"): ("paper", "letter"),
}


def move_entries(path: str, table: str, column: str, entries: Iterable[Mapping[str, Any]]) -> tuple[Any, ...]:
    """A list's entries with the files that they name as seen from here."""
    fields = FILES_IN_PARTS[table, column]
    return tuple(
        {**one, **{name: evidence_from(path, one[name]) for name in fields if one.get(name)}}
        for one in entries
    )


def move_parts(path: str, table: str, records: Columns) -> dict[str, Array]:
    """The columns whose entries name files, with those files as seen from here."""
    return {
        column: objects([move_entries(path, table, column, parts) for parts in records[column].tolist()])
        for holder, column in FILES_IN_PARTS
        if holder == table
    }
