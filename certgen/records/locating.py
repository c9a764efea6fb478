"""From a record's stretch of text to the line and column of one of its fields.

While reading, only where each record begins and ends is kept. When a gap is shown, the record's own
few lines are composed again; the rest of the file isn't.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple, TypeVar

import yaml
from yaml.nodes import MappingNode, Node, ScalarNode, SequenceNode

from certgen.records.parsing import ParsingError, compose

Key = TypeVar("Key")


class Span(NamedTuple):
    """A record's stretch of a file: character offsets, and line and column (from 0) of its beginning."""

    start: int
    end: int
    line: int
    column: int


def span_of(node: Node) -> Span:
    begin, end = node.start_mark, node.end_mark
    return Span(begin.index, end.index, begin.line, begin.column)


def locate_in_span(
    text: str, span: Span, paths: Mapping[Key, tuple[str | int, ...]]
) -> dict[Key, tuple[int, int]]:
    """Line and column, from 1, of each path inside the record; a missing step stops at what is there."""
    home = (span.line + 1, span.column + 1)
    if not any(paths.values()):
        return dict.fromkeys(paths, home)
    try:
        # The first line is indented as in the file, so that columns come out right.
        root = compose(" " * span.column + text[span.start : span.end], "")
    except (ParsingError, yaml.YAMLError):
        root = None
    if root is None:
        return dict.fromkeys(paths, home)
    found = {}
    for key, path in paths.items():
        mark = _find(root, path)
        found[key] = home if mark is None else (span.line + mark[0] + 1, mark[1] + 1)
    return found


def _find(node: Node, path: tuple[str | int, ...]) -> tuple[int, int] | None:
    best: tuple[int, int] | None = None
    for step in path:
        if isinstance(step, int) and isinstance(node, SequenceNode) and step < len(node.value):
            node = node.value[step]
            best = (node.start_mark.line, node.start_mark.column)
        elif isinstance(step, str) and isinstance(node, MappingNode):
            for key, value in node.value:
                if isinstance(key, ScalarNode) and key.value == step:
                    best = (key.start_mark.line, key.start_mark.column)
                    node = value
                    break
            else:
                return best
        else:
            return best
    return best
