"""What a change did to the records, field by field, told from the files before and after it.

Values are told as they are typed. Only those parts of a file are taken apart that aren't the same before and
after: a long season's bags cost no more than the one that was written down.
"""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from typing import TYPE_CHECKING, Any, Final, Literal, NamedTuple

import msgspec
from yaml.nodes import MappingNode, Node, ScalarNode, SequenceNode

from certgen.exchange.editing.yaml_text import render_flow
from certgen.records.record_files.parsing import ParsingError, compose, decode
from certgen.records.tables import load_season_table, load_tables

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

#: A value longer than this is told by its beginning; the files hold it whole.
_VALUE_LETTERS: Final = 1_000


class FieldChange(msgspec.Struct, frozen=True):
    """A field, dotted where it is nested, and what it said before and after; None where it was absent."""

    field: str
    old: str | None
    new: str | None


class RecordChange(msgspec.Struct, frozen=True):
    """A record of a table that was added, taken out or changed, and its fields.

    `record` is its identifier, empty for a table whose records have none.
    """

    table: str
    record: str
    what: Literal["added", "removed", "changed"]
    fields: tuple[FieldChange, ...]


class UntoldError(ValueError):
    """A file that holds no records that could be compared."""


class _Record(NamedTuple):
    """A record's identifier, empty if it has none, and its fields as typed."""

    key: str
    fields: tuple[tuple[str, str], ...]


def compare_files(
    before: Mapping[str, bytes | None], after: Mapping[str, bytes | None]
) -> tuple[RecordChange, ...]:
    """What became of the records of some files, by name; None is a file that isn't there.

    In the order of the tables, what went before what came. Raises `UntoldError` for a file that can't be read
    as records.
    """
    old: dict[str, list[_Record]] = defaultdict(list)
    new: dict[str, list[_Record]] = defaultdict(list)
    for file in dict.fromkeys((*before, *after)):
        texts = _decode(before.get(file), file), _decode(after.get(file), file)
        for found, records in zip(_read_both(*texts, file), (old, new), strict=True):
            for table, listed in found.items():
                records[table] += listed
    names = ["season", *load_tables()]
    order = [*names, *sorted({*old, *new} - set(names))]
    return tuple(change for table in order for change in _compare(table, old[table], new[table]))


def list_records(file: str, data: bytes) -> frozenset[tuple[str, str]]:
    """Table and identifier of each record in a file that has one. Raises `UntoldError`."""
    try:
        records = _read(_decode(data, file), file)
    except ParsingError as fault:
        raise UntoldError(fault.error.text()) from None
    return frozenset(
        (table, record.key) for table, listed in records.items() for record in listed if record.key
    )


def _decode(data: bytes | None, file: str) -> str:
    try:
        return "" if data is None else decode(data, file)
    except ParsingError as fault:
        raise UntoldError(fault.error.text()) from None


def _compare(table: str, old: Sequence[_Record], new: Sequence[_Record]) -> Iterator[RecordChange]:
    """The changes of one table. Of records with one identifier, or none, each is itself or another."""
    gone, come = Counter(old) - Counter(new), Counter(new) - Counter(old)
    lost, found = _by_key(gone), _by_key(come)
    for record, times in gone.items():
        if record.key in lost and record.key in found:
            yield _tell(table, record, found[record.key], "changed")
        else:
            yield from [_tell(table, record, None, "removed")] * times
    for record, times in come.items():
        if not (record.key in lost and record.key in found):
            yield from [_tell(table, None, record, "added")] * times


def _by_key(records: Counter[_Record]) -> dict[str, _Record]:
    """Records whose identifier no other of them bears."""
    times = Counter(record.key for record in records.elements())
    return {record.key: record for record in records if record.key and times[record.key] == 1}


def _tell(
    table: str, old: _Record | None, new: _Record | None, what: Literal["added", "removed", "changed"]
) -> RecordChange:
    before, after = (dict(record.fields) if record else {} for record in (old, new))
    fields = tuple(
        FieldChange(name, _cut(before.get(name)), _cut(after.get(name)))
        for name in dict.fromkeys((*before, *after))
        if before.get(name) != after.get(name)
    )
    record = new or old
    return RecordChange(table, record.key if record and table != "season" else "", what, fields)


def _cut(value: str | None) -> str | None:
    return value if value is None or len(value) <= _VALUE_LETTERS else f"{value[:_VALUE_LETTERS]}…"


# The records of a text.

_Records = dict[str, list[_Record]]
_TABLE: Final = re.compile(r"([A-Za-z_]+):[ \t]*(?:#.*)?$")
_DASH: Final = re.compile(r"( *)- ")
#: A line that begins something of its own, and one that says nothing.
_OUTSIDE: Final = re.compile(r"[^ \r\n#-]")
_REMARK: Final = re.compile(r"\s*(?:#|$)")


def _read_both(old: str, new: str, file: str) -> tuple[_Records, _Records]:
    """The records of two states of a file that aren't in both of them alike."""
    parts = _split(old), _split(new)
    if parts[0] is not None and parts[1] is not None:
        before, after = Counter(parts[0]), Counter(parts[1])
        try:
            return _read_parts(before - after, file), _read_parts(after - before, file)
        except (ParsingError, UntoldError):
            # A line in the middle of a value looked like the beginning of a record.
            pass
    try:
        return _read(old, file), _read(new, file)
    except ParsingError as fault:
        raise UntoldError(fault.error.text()) from None


def _split(text: str) -> list[tuple[str, str]] | None:
    """A file's records as pieces of text, each with its table; None where they aren't lists of dashes."""
    parts: list[tuple[str, list[str]]] = []
    table, indent = "", -1
    for line in text.splitlines(keepends=True):
        heading, dash = _TABLE.match(line), _DASH.match(line)
        if heading:
            table, indent = heading[1], -1
            if table == "season":
                parts.append((table, [line]))
        elif table not in {"", "season"} and dash and indent in {-1, len(dash[1])}:
            indent = len(dash[1])
            parts.append((table, [line]))
        elif _OUTSIDE.match(line):
            return None
        elif parts and parts[-1][0] == table:
            parts[-1][1].append(line)
        elif not _REMARK.match(line):
            return None
    return [(table, "".join(lines)) for table, lines in parts]


def _read_parts(parts: Counter[tuple[str, str]], file: str) -> _Records:
    """The records of pieces of text. Raises `UntoldError` for a piece that is no single record."""
    records: _Records = defaultdict(list)
    for table, text in parts.elements():
        found = _read(text if table == "season" else f"{table}:\n{text}", file)
        if list(found) != [table] or len(found[table]) != 1:
            raise UntoldError(file)
        records[table] += found[table]
    return records


def _read(text: str, file: str) -> _Records:
    """All records of a text. Raises `ParsingError`, and `UntoldError` for what is laid out as none."""
    try:
        return _list_records(compose(text, file), file)
    except RecursionError:
        raise UntoldError(f"{file} is nested too deeply") from None


def _list_records(root: Node | None, file: str) -> _Records:
    if root is None:
        return {}
    if not isinstance(root, MappingNode):
        raise UntoldError(f"{file} holds no tables")
    records: _Records = defaultdict(list)
    for key, node in root.value:
        if isinstance(node, ScalarNode) and not node.value:
            continue
        listed = node.value if isinstance(node, SequenceNode) else [node]
        if not isinstance(key, ScalarNode) or not all(isinstance(one, MappingNode) for one in listed):
            raise UntoldError(f"{file} holds something else than records")
        records[key.value] += [_read_record(key.value, one) for one in listed]
    return records


def _read_record(table: str, node: MappingNode) -> _Record:
    declared = load_season_table() if table == "season" else load_tables().get(table)
    order = {name: at for at, name in enumerate(declared.fields)} if declared else {}
    listed = _list_fields(_plain(node))
    fields = tuple(sorted(listed, key=lambda field: (order.get(field[0].split(".")[0], len(order)), field)))
    key = "season" if table == "season" else dict(fields).get(declared.key, "") if declared else ""
    return _Record(key, fields)


def _list_fields(values: Mapping[str, Any], above: str = "") -> Iterator[tuple[str, str]]:
    for name, value in values.items():
        if isinstance(value, dict) and value:
            yield from _list_fields(value, f"{above}{name}.")
        else:
            yield above + name, value if isinstance(value, str) else render_flow(value)


def _plain(node: Node) -> Any:
    """A value as text, lists and mappings. Nesting is bounded by the parser."""
    if isinstance(node, MappingNode):
        return {str(_plain(key)): _plain(value) for key, value in node.value}
    if isinstance(node, SequenceNode):
        return [_plain(part) for part in node.value]
    return node.value
