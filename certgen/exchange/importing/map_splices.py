"""New answers put into a map that a person has written in: her comments and her layout stay.

Only what changed is exchanged where it stands, and new columns and sheets are put in behind the others.
What comes out is read again; where it doesn't say what it should, or a comment is gone, the map is written
anew and the comments are kept at its head.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from yaml.nodes import MappingNode, Node

from certgen.exchange.editing.splicing import SpliceError, content_end, line_end
from certgen.exchange.editing.yaml_text import quote
from certgen.exchange.importing.column_maps import MapError, SheetMap, Target
from certgen.exchange.importing.map_files import column_lines, map_text, parse_map, sheet_lines, write_word
from certgen.records.record_files.parsing import ParsingError, compose

if TYPE_CHECKING:
    from certgen.exchange.importing.map_files import Remarks

Piece = tuple[int, int, str]

_COMMENT: Final = re.compile(r"(?:^|(?<=[ \t]))#[^\r\n]*", re.MULTILINE)
_WORDS: Final = ("table", "dates", "decimal")


def renew_map(old: str, maps: Sequence[SheetMap], remarks: Remarks | None = None) -> str:
    """The text of a map that says what `maps` say, with every comment that stood in `old`."""
    wanted = {one.sheet: one for one in maps}
    try:
        text = _splice(old, parse_map("map", old), maps, remarks or {})
        if parse_map("map", text) == wanted and not _lost(old, text):
            return text
    except (MapError, ParsingError, SpliceError):
        pass  # it is written anew
    anew = map_text(maps, remarks)
    lost = _lost(old, anew)
    return "\n".join(["# Kept from the map as it was:", *lost, anew]) if lost else anew


def _lost(old: str, new: str) -> list[str]:
    """The comments that only the old text has."""
    there = {found[0].strip() for found in _COMMENT.finditer(new)}
    gone = dict.fromkeys(found[0].strip() for found in _COMMENT.finditer(old))
    return [comment for comment in gone if comment not in there]


def _splice(old: str, before: Mapping[str, SheetMap], maps: Sequence[SheetMap], remarks: Remarks) -> str:
    root = _fields(compose(old, "map"))
    nodes = _fields(root["sheets"])
    if getattr(root["sheets"], "flow_style", False):
        raise SpliceError("the sheets stand in brackets")
    pieces: list[Piece] = []
    added: list[str] = []
    for one in maps:
        said = {name: text for (sheet, name), text in remarks.items() if sheet == one.sheet}
        if one.sheet not in before:
            added += sheet_lines(one, remarks)
        elif before[one.sheet] != one:
            if len(before[one.sheet].also) != len(one.also):
                raise SpliceError("a further table is new")
            pieces += _change_sheet(old, nodes[one.sheet], before[one.sheet], one, said)
    if added:
        pieces.append(_put_behind(old, root["sheets"], added))
    for start, stop, new in sorted(pieces, reverse=True):
        old = old[:start] + new + old[stop:]
    return old


def _fields(node: Node | None) -> dict[str, Node]:
    if not isinstance(node, MappingNode):
        raise SpliceError("no mapping")
    return {key.value: value for key, value in node.value}


def _put_behind(text: str, node: Node, lines: Sequence[str]) -> Piece:
    """Lines behind the last of a block."""
    at = line_end(text, content_end(node))
    lead = "" if text[:at].endswith("\n") else "\n"
    return at, at, lead + "".join(f"{line}\n" for line in lines)


def _change_sheet(
    text: str, node: Node, before: SheetMap, after: SheetMap, said: Mapping[str, str]
) -> Iterator[Piece]:
    further = _fields(node).get("also")
    parts = [node, *(further.value if further is not None else ())]
    for one, old, new in zip(parts, before.parts, after.parts, strict=True):
        yield from _change_part(text, one, old, new, said)


def _change_part(
    text: str, node: Node, before: SheetMap, after: SheetMap, said: Mapping[str, str]
) -> Iterator[Piece]:
    fields = _fields(node)
    indent = " " * node.start_mark.column
    fresh = []
    for name in _WORDS:
        value = getattr(after, name)
        if value != getattr(before, name):
            if name in fields:
                yield _exchange(fields[name], write_word(value))
            else:
                fresh.append(f"{indent}{name}: {write_word(value)}")
    if after.constants != before.constants:
        if "constants" in fields:
            yield from _change_words(text, fields["constants"], before.constants, after.constants)
        else:
            fresh += [f"{indent}constants:"]
            fresh += [f"{indent}  {name}: {write_word(value)}" for name, value in after.constants.items()]
    if fresh:
        yield _put_behind(text, fields["table"], fresh)
    for heading, target in after.columns.items():
        if heading not in before.columns or target != before.columns[heading]:
            yield from _change_column(text, fields["columns"], heading, before.columns, target, said)


def _exchange(node: Node, new: str) -> Piece:
    return node.start_mark.index, content_end(node), new


def _change_words(
    text: str, node: Node, before: Mapping[str, str], after: Mapping[str, str]
) -> Iterator[Piece]:
    """Words or constants: those that changed where they stand, new ones behind the last."""
    keys = {key.value: value for key, value in node.value} if isinstance(node, MappingNode) else {}
    for typed, meant in after.items():
        if typed in keys and before.get(typed) != meant:
            yield _exchange(keys[typed], write_word(meant))
    fresh = [f"{quote(typed)}: {write_word(meant)}" for typed, meant in after.items() if typed not in keys]
    if fresh and getattr(node, "flow_style", False):
        yield _put_in_braces(node, ", ".join(fresh))
    elif fresh:
        space = " " * node.start_mark.column
        yield _put_behind(text, node, [f"{space}{line}" for line in fresh])


def _put_in_braces(node: Node, told: str) -> Piece:
    """Behind the last within braces."""
    at = content_end(node) - 1
    return at, at, f", {told}" if isinstance(node, MappingNode) and node.value else told


def _change_column(
    text: str,
    node: Node,
    heading: str,
    before: Mapping[str, Target | None],
    target: Target | None,
    said: Mapping[str, str],
) -> Iterator[Piece]:
    """One column: its words where only these changed, else all that is said of it."""
    nodes = _fields(node)
    old = before.get(heading)
    if heading not in nodes:
        yield _add_column(text, node, heading, target, said)
    elif target is not None and old is not None and old.words and replace(old, words=target.words) == target:
        yield from _change_words(text, _fields(nodes[heading])["words"], old.words, target.words)
    else:
        yield _exchange(nodes[heading], _in_braces(target))


def _add_column(text: str, node: Node, heading: str, target: Target | None, said: Mapping[str, str]) -> Piece:
    if getattr(node, "flow_style", False):
        return _put_in_braces(node, f"{quote(heading)}: {_in_braces(target)}")
    return _put_behind(text, node, list(column_lines(heading, target, node.start_mark.column, said)))


def _in_braces(target: Target | None) -> str:
    """What is said of a column, on one line."""
    first, *rest = column_lines("x", target, 0, {})
    if not rest:
        return first.partition(": ")[2]
    told = [line.strip() for line in rest]
    at = told.index("words:")
    return "{" + ", ".join([*told[:at], "words: {" + ", ".join(told[at + 1 :]) + "}"]) + "}"
