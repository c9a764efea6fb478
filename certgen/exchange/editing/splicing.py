"""Changes to a record file that leave every other byte of it as it was.

A grower's comments, blank lines and habits of layout are theirs. So the file is never written anew from data:
new records are put in behind the last one of their table, and a changed field is exchanged where it stands.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from contextlib import suppress
from datetime import date
from typing import TYPE_CHECKING, Any

from yaml.nodes import MappingNode, Node, ScalarNode, SequenceNode

from certgen.exchange.editing.yaml_text import render_field, render_flow, render_record
from certgen.records.record_files.parsing import compose

if TYPE_CHECKING:
    from collections.abc import Sequence

#: Stands for a field that is to be taken out of a record.
REMOVED: Any = object()


class SpliceError(ValueError):
    """A change that would lose something of the file; the message says what to do by hand."""


def content_end(node: Node) -> int:
    """Where what a node holds ends. A block's own end mark lies behind comments that follow it."""
    if isinstance(node, ScalarNode) or getattr(node, "flow_style", False) or not node.value:
        return int(node.end_mark.index)
    last = node.value[-1]
    return content_end(last[1] if isinstance(node, MappingNode) else last)


def _trimmed(text: str, at: int) -> int:
    """A block of text ends behind the blank lines that follow it; this is where its last line ends."""
    if at and text[at - 1] == "\n":
        while blank := re.search(r"\n[ \t]*\r?\n\Z", text[max(0, at - 200) : at]):
            at -= len(blank[0]) - 1
    return at


def line_end(text: str, at: int) -> int:
    """The end of the line that holds the character before `at`, behind its line feed if there is one."""
    if at and text[at - 1] == "\n":
        return _trimmed(text, at)
    end = text.find("\n", at)
    return len(text) if end < 0 else end + 1


def _newline(text: str) -> str:
    return "\r\n" if "\r\n" in text else "\n"


def _tables(text: str, file: str) -> dict[str, tuple[Node, Node]]:
    root = compose(text, file)
    if not isinstance(root, MappingNode):
        return {}
    return {key.value: (key, value) for key, value in root.value if isinstance(key, ScalarNode)}


def can_take(text: str, file: str, table: str) -> bool:
    """Whether records of a table can be put into this file."""
    if not re.search(rf"^ *[\"']?{re.escape(table)}\b", text, re.MULTILINE):
        return False  # a word search spares taking a large file apart
    node = _tables(text, file).get(table, (None, None))[1]
    if isinstance(node, ScalarNode):
        return node.style is None and node.value in ("", "~")
    return isinstance(node, SequenceNode) and (not node.flow_style or not node.value)


def insert_records(text: str, file: str, table: str, records: Sequence[Mapping[str, Any]]) -> str:
    """The file's text with records put in behind the last one of their table.

    Raises `SpliceError` when the table is not there or written in brackets.
    """
    if not can_take(text, file, table):
        raise SpliceError(f"{file} has no list `{table}` with a dash before each record")
    key, node = _tables(text, file)[table]
    end = _newline(text)
    if isinstance(node, SequenceNode) and node.value:
        indent, at = node.start_mark.column, line_end(text, content_end(node))
        head = text[:at] if text[:at].endswith("\n") else text[:at] + end
    else:
        # `trees: []` or `trees:`: what follows the colon gives way, a comment on that line stays.
        indent = key.start_mark.column + 2
        value_end = node.end_mark.index if node.end_mark.index > node.start_mark.index else None
        if value_end is not None:
            text = text[: node.start_mark.index].rstrip(" ") + text[value_end:]
        at = line_end(text, key.end_mark.index + 1)
        head = text[:at] if text[:at].endswith("\n") else text[:at] + end
    body = end.join(line.text for record in records for line in render_record(record, indent)) + end
    return head + body + text[at:]


Piece = tuple[int, int, str]


def change_records(text: str, file: str, wanted: Sequence[tuple[str, int | None, Mapping[str, Any]]]) -> str:
    """The file's text with some fields of records exchanged, added, or taken out (`REMOVED`).

    Each record is told by its table and its place within the file's list of it, counted from 0; None means
    the `season` mapping. Comments stay, those inside a value that is exchanged move above it. Raises
    `SpliceError`.
    """
    tables = _tables(text, file)
    pieces: list[Piece] = []
    for table, index, changes in wanted:
        node = tables[table][1]
        record = node if index is None else node.value[index]
        if not isinstance(record, MappingNode):
            raise SpliceError(f"{file}: this record is not a list of fields")
        change = _change_flow if record.flow_style else _change_block
        pieces += change(text, file, record, changes)
    # Of what is put in at one place the deeper lines sort first: an entry's field before the entry behind it,
    # and that before the record's next field.
    for start, stop, new in sorted(pieces, reverse=True):
        text = text[:start] + new + text[stop:]
    return text


def _change_block(text: str, file: str, record: MappingNode, changes: Mapping[str, Any]) -> list[Piece]:
    known = {key.value: (key, value) for key, value in record.value}
    indent, end = record.value[0][0].start_mark.column, _newline(text)
    pieces = [
        piece
        for name, value in changes.items()
        if name in known
        for piece in _exchange_parts(text, file, known[name], value, indent)
    ]
    added = [name for name, value in changes.items() if name not in known and value is not REMOVED]
    if added:
        at = line_end(text, content_end(record))
        lead = "" if text[:at].endswith("\n") else end
        lines = [line.text for name in added for line in render_field(name, changes[name], indent)]
        pieces.append((at, at, lead + end.join(lines) + end))
    return pieces


def _exchange_parts(text: str, file: str, pair: tuple[Node, Node], value: object, indent: int) -> list[Piece]:
    """What of a field differs; the whole field where it isn't written in lines, or says something else."""
    node, pieces = pair[1], None
    # What can't be changed in its place is written anew.
    with suppress(SpliceError):
        if isinstance(node, MappingNode) and isinstance(value, Mapping) and node.value:
            pieces = _change_inside(text, file, node, value)
        elif isinstance(node, SequenceNode) and isinstance(value, list | tuple) and value:
            pieces = _change_entries(text, file, node, value)
    return [_exchange(text, file, pair, value, indent)] if pieces is None else pieces


def _change_entries(
    text: str, file: str, node: SequenceNode, entries: Sequence[Mapping[str, Any]]
) -> list[Piece] | None:
    """A list of mappings, entry by entry; None for another list, or one that has lost some and changed."""
    if node.flow_style or not all(isinstance(one, MappingNode) for one in node.value):
        return None
    gone = _find_gone(node.value, entries)
    if gone or len(entries) < len(node.value):
        return [_take_entry_out(text, one) for one in gone] or None
    pieces = [
        piece
        for one, wanted in zip(node.value, entries, strict=False)
        for piece in _change_inside(text, file, one, wanted)
    ]
    return pieces + _add_entries(text, node, entries[len(node.value) :])


def _find_gone(nodes: Sequence[Node], entries: Sequence[object]) -> list[Node]:
    """The entries of a list that are no more in it; none where others were changed too."""
    gone, at = [], 0
    for node in nodes:
        if at < len(entries) and _says(node, entries[at]):
            at += 1
        else:
            gone.append(node)
    return gone if at == len(entries) else []


def _take_entry_out(text: str, node: Node) -> Piece:
    """An entry goes with the lines that it stands on; comments above it stay."""
    return text.rfind("\n", 0, node.start_mark.index) + 1, line_end(text, content_end(node)), ""


def _change_inside(text: str, file: str, node: MappingNode, wanted: Mapping[str, Any]) -> list[Piece]:
    """A mapping inside a record, its fields exchanged one by one."""
    known = {key.value: value for key, value in node.value}
    changes = {
        name: value for name, value in wanted.items() if name not in known or not _says(known[name], value)
    }
    changes |= {name: REMOVED for name in known if name not in wanted}
    if not changes:
        return []
    change = _change_flow if node.flow_style else _change_block
    return change(text, file, node, changes)


def _says(node: Node, value: object) -> bool:
    """Whether a part of a file says a value already, as far as that is sure."""
    if isinstance(node, MappingNode):
        return isinstance(value, Mapping) and _say_fields(node, value)
    if isinstance(value, list | tuple):
        # A single file or name may stand without brackets.
        parts = node.value if isinstance(node, SequenceNode) else [node]
        return len(parts) == len(value) and all(map(_says, parts, value))
    if not isinstance(node, ScalarNode) or isinstance(value, bool | Mapping):
        return False
    text = value.isoformat() if isinstance(value, date) else str(value)
    return str(node.value) in {text, text.removesuffix(".0") if isinstance(value, float) else text}


def _say_fields(node: MappingNode, values: Mapping[str, object]) -> bool:
    known = {key.value: part for key, part in node.value}
    return known.keys() == values.keys() and all(_says(part, values[name]) for name, part in known.items())


def _add_entries(text: str, node: SequenceNode, entries: Sequence[Mapping[str, Any]]) -> list[Piece]:
    """Entries behind the last one of a list."""
    if not entries:
        return []
    at, end = line_end(text, content_end(node)), _newline(text)
    lead = "" if text[:at].endswith("\n") else end
    lines = [line.text for entry in entries for line in render_record(entry, node.start_mark.column)]
    return [(at, at, lead + end.join(lines) + end)]


def _exchange(text: str, file: str, pair: tuple[Node, Node], value: object, indent: int) -> Piece:
    key, node = pair
    if value is REMOVED:
        return _take_out(text, file, pair, indent)
    start, stop, end = key.start_mark.index, _trimmed(text, content_end(node)), _newline(text)
    comments = _comments(text, node)
    if text[start - 2 : start] == "- " and comments:
        raise SpliceError(f"{file}: `{key.value}` holds comments; change it by hand")
    lines = [line.text for line in render_field(key.value, value, indent)]
    wraps = len(lines) > 1
    # What is exchanged begins behind its indentation.
    if comments:
        lines = [comments[0], *(" " * indent + comment for comment in comments[1:]), *lines]
    else:
        lines[0] = lines[0][indent:]
    new = end.join(lines)
    tail = text[stop : line_end(text, stop)]
    if text[:stop].endswith("\n"):  # a block of text ends behind its line feed
        new += end
    elif wraps and tail.strip():
        raise SpliceError(
            f"{file}: `{key.value}` has a comment on its line; move the comment, then import again"
        )
    return start, stop, new


def _take_out(text: str, file: str, pair: tuple[Node, Node], indent: int) -> Piece:
    """A field goes; the comments inside it and behind it stay, on lines of their own."""
    key, node = pair
    start, stop, end = key.start_mark.index, _trimmed(text, content_end(node)), _newline(text)
    first = text.rfind("\n", 0, start) + 1
    if text[first:start].strip():  # it shares its line with the dash
        raise SpliceError(f"{file}: the first field of a record cannot be taken out; do it by hand")
    rest = text[stop : line_end(text, stop)].strip()
    kept = [*_comments(text, node), *([rest] if rest else [])]
    return first, line_end(text, stop), "".join(f"{' ' * indent}{comment}{end}" for comment in kept)


def _comments(text: str, node: Node) -> list[str]:
    """The comments inside a list or mapping, between its values."""
    if isinstance(node, ScalarNode):
        return []
    spans = sorted(_leaves(node))
    gaps, at = [], node.start_mark.index
    for start, stop in spans:
        gaps.append(text[at:start])
        at = max(at, stop)
    gaps.append(text[at : content_end(node)])
    return [comment[0].rstrip() for gap in gaps for comment in re.finditer(r"#[^\r\n]*", gap)]


def _leaves(node: Node) -> list[tuple[int, int]]:
    if isinstance(node, ScalarNode):
        return [(node.start_mark.index, node.end_mark.index)]
    parts = [part for pair in node.value for part in pair] if isinstance(node, MappingNode) else node.value
    return [span for part in parts for span in _leaves(part)]


def _change_flow(text: str, file: str, record: MappingNode, changes: Mapping[str, Any]) -> list[Piece]:
    start, stop = record.start_mark.index, record.end_mark.index
    if _comments(text, record):
        raise SpliceError(f"{file}: a record in braces holds a comment; change it by hand")
    fields = []
    for key, value in record.value:
        if key.value not in changes:
            fields.append(text[key.start_mark.index : content_end(value)])
        elif changes[key.value] is not REMOVED:
            fields.append(f"{key.value}: {render_flow(changes[key.value])}")
    known = {key.value for key, _ in record.value}
    fields += [
        f"{name}: {render_flow(value)}"
        for name, value in changes.items()
        if name not in known and value is not REMOVED
    ]
    return [(start, stop, "{" + ", ".join(fields) + "}")]
