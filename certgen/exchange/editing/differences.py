"""What a change did to the records, field by field, told from the files before and after it.

Values are told as they are typed. Only those parts of a file are taken apart that aren't the same before and
after: a long season's bags cost no more than the one that was written down.
"""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from contextlib import suppress
from itertools import accumulate
from typing import TYPE_CHECKING, Any, Final, Literal, NamedTuple

import msgspec
from yaml.nodes import MappingNode, Node, ScalarNode, SequenceNode

from certgen.collector import pause_collector
from certgen.exchange.editing.yaml_text import render_flow
from certgen.records.record_files.parsing import ParsingError, compose, decode
from certgen.records.tables import load_season_table, load_tables

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

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


class _Pair(NamedTuple):
    """A record before and after; None where it wasn't there, or isn't any more."""

    table: str
    old: _Record | None
    new: _Record | None
    what: Literal["added", "removed", "changed"]


def compare_files(
    before: Mapping[str, bytes | None], after: Mapping[str, bytes | None]
) -> tuple[RecordChange, ...]:
    """What became of the records of some files, by name; None is a file that isn't there.

    In the order of the tables, what went before what came. Raises `UntoldError` for a file that can't be read
    as records.
    """
    return tuple(map(_tell, _pair_records(before, after)))


def compare_first(
    before: Mapping[str, bytes | None], after: Mapping[str, bytes | None], fields: int, *, sound: bool = False
) -> tuple[tuple[RecordChange, ...], int]:
    """The first changes with at most so many `fields`, each record one more, and how many others there are.

    `sound`: the reader of records has read all of it. Records that only join the others are then counted, and
    none is taken apart but those that are told, in the order in which they stand.
    """
    if sound:
        with suppress(ParsingError, UntoldError):
            pieces = _list_added(before, after)
            return _tell_first((_tell_piece(*piece) for piece in pieces), len(pieces), fields)
    pairs = _pair_records(before, after)
    return _tell_first(map(_tell, pairs), len(pairs), fields)


def _tell_first(
    changes: Iterable[RecordChange], number: int, most: int
) -> tuple[tuple[RecordChange, ...], int]:
    told: list[RecordChange] = []
    for change in changes:
        most -= len(change.fields) + 1
        if most < 0:
            break
        told.append(change)
    return tuple(told), number - len(told)


def _list_added(
    before: Mapping[str, bytes | None], after: Mapping[str, bytes | None]
) -> list[tuple[str, str, str]]:
    """Table, text and file of each record that joins the others, in the order of the tables.

    Raises `UntoldError` where anything else became of any, or what did can't be told from the text.
    """
    pieces: dict[str, list[tuple[str, str, str]]] = defaultdict(list)
    for file in dict.fromkeys((*before, *after)):
        old, new = _split(_decode(before.get(file), file)), _split(_decode(after.get(file), file))
        if old is None or new is None or Counter(old) - Counter(new):
            raise UntoldError(file)
        for table, text in (Counter(new) - Counter(old)).elements():
            if ('"' in text or "'" in text) and any(map(_may_reach_on, text.splitlines())):
                # A text in quotes may reach over several lines, and one of them may look like a record.
                raise UntoldError(file)
            pieces[table].append((table, text, file))
    return [piece for table in _order_tables(pieces) for piece in pieces[table]]


def _may_reach_on(line: str) -> bool:
    """Whether a text in quotes may begin or end in a line; an apostrophe in a word does neither."""
    return line.count('"') % 2 == 1 or (line.count("'") % 2 == 1 and len(_QUOTE.findall(line)) % 2 == 1)


def _tell_piece(table: str, text: str, file: str) -> RecordChange:
    (record,) = _read_pieces(table, [text], file)
    return _tell(_Pair(table, None, record, "added"))


def _pair_records(before: Mapping[str, bytes | None], after: Mapping[str, bytes | None]) -> list[_Pair]:
    """Each record that became other than it was, in the order of the tables."""
    old: dict[str, list[_Record]] = defaultdict(list)
    new: dict[str, list[_Record]] = defaultdict(list)
    for file in dict.fromkeys((*before, *after)):
        texts = _decode(before.get(file), file), _decode(after.get(file), file)
        for found, records in zip(_read_both(*texts, file), (old, new), strict=True):
            for table, listed in found.items():
                records[table] += listed
    return [pair for table in _order_tables((*old, *new)) for pair in _compare(table, old[table], new[table])]


def _order_tables(found: Iterable[str]) -> list[str]:
    names = ["season", *load_tables()]
    return [*names, *sorted({*found} - set(names))]


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


def _compare(table: str, old: Sequence[_Record], new: Sequence[_Record]) -> Iterator[_Pair]:
    """The changes of one table. Of records with one identifier, or none, each is itself or another."""
    gone, come = Counter(old) - Counter(new), Counter(new) - Counter(old)
    lost, found = _by_key(gone), _by_key(come)
    for record, times in gone.items():
        if record.key in lost and record.key in found:
            yield _Pair(table, record, found[record.key], "changed")
        else:
            yield from [_Pair(table, record, None, "removed")] * times
    for record, times in come.items():
        if not (record.key in lost and record.key in found):
            yield from [_Pair(table, None, record, "added")] * times


def _by_key(records: Counter[_Record]) -> dict[str, _Record]:
    """Records whose identifier no other of them bears."""
    times = Counter(record.key for record in records.elements())
    return {record.key: record for record in records if record.key and times[record.key] == 1}


def _tell(pair: _Pair) -> RecordChange:
    """A change field by field."""
    table, old, new, what = pair
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
_QUOTE: Final = re.compile(r"(?<!\w)'|'(?!\w)")
#: So many pieces are taken apart together: enough that to begin costs nothing, few enough that their nodes
#: fill no memory.
_PIECES: Final = 200
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
    #: How a line begins that stands farther in than the list's dashes, once it has any.
    inner: tuple[str, ...] = ()
    for line in text.splitlines(keepends=True):
        if line.startswith(inner):
            parts[-1][1].append(line)
            continue
        heading = _TABLE.match(line)
        if heading:
            table, indent, inner = heading[1], -1, ()
            parts += [(table, [line])] if table == "season" else []
        elif table not in {"", "season"} and _is_entry(line, indent):
            indent = line.index("-")
            inner = (" " * (indent + 1),)
            parts.append((table, [line]))
        elif _OUTSIDE.match(line):
            return None
        elif parts and parts[-1][0] == table:
            parts[-1][1].append(line)
        elif not _REMARK.match(line):
            return None
    return [(table, "".join(lines)) for table, lines in parts]


def _is_entry(line: str, indent: int) -> bool:
    """Whether a line begins with a dash that stands so far in; -1 for the first of a list."""
    dash = _DASH.match(line)
    return dash is not None and indent in {-1, len(dash[1])}


def _read_parts(parts: Counter[tuple[str, str]], file: str) -> _Records:
    """The records of pieces of text, those of one list together. Raises `UntoldError` for a piece that is no
    single record."""
    records: _Records = defaultdict(list)
    waiting: dict[tuple[str, str], list[str]] = {}
    for table, text in parts.elements():
        dash = _DASH.match(text)
        # What ends without a line feed can't be followed by anything.
        listed = waiting.setdefault((table, dash[1] if dash and text.endswith("\n") else text), [])
        listed.append(text)
    with pause_collector():
        for (table, _), texts in waiting.items():
            for start in range(0, len(texts), _PIECES):
                records[table] += _read_pieces(table, texts[start : start + _PIECES], file)
    return records


def _read_pieces(table: str, texts: Sequence[str], file: str) -> list[_Record]:
    """A record of each piece of one list."""
    root = compose("".join(texts if table == "season" else (f"{table}:\n", *texts)), file)
    found = _list_records(root, file)
    if list(found) != [table] or len(found[table]) != len(texts) or not isinstance(root, MappingNode):
        raise UntoldError(file)
    if table != "season":
        # Where one begins elsewhere than its piece does, a value reaches from one piece into the next.
        begin = accumulate((text.count("\n") for text in texts[:-1]), initial=1)
        if [node.start_mark.line for node in root.value[0][1].value] != list(begin):
            raise UntoldError(file)
    return found[table]


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
        records[key.value] += _read_list(key.value, listed)
    return records


def _read_list(table: str, nodes: Sequence[Node]) -> Iterator[_Record]:
    declared = load_season_table() if table == "season" else load_tables().get(table)
    order = {name: at for at, name in enumerate(declared.fields)} if declared else {}
    # Few names in thousands of records: where each stands is found once.
    places: dict[str, int] = {}
    for node in nodes:
        listed = list(_list_fields(_plain(node)))
        for name, _ in listed:
            if name not in places:
                places[name] = order.get(name.split(".")[0], len(order))
        fields = tuple(sorted(listed, key=lambda field: (places[field[0]], field)))
        key = "season" if table == "season" else dict(fields).get(declared.key, "") if declared else ""
        yield _Record(key, fields)


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
