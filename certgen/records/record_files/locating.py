"""From a record's stretch of text to the line and column of one of its fields.

While reading, only where each record begins and ends is kept. When a gap is shown, the record's own
few lines are composed again; the rest of the file isn't.
"""

from __future__ import annotations

from array import array
from collections.abc import Sequence
from itertools import chain
from typing import TYPE_CHECKING, Any, Final, NamedTuple, TypeGuard, TypeVar, overload

from yaml.nodes import MappingNode, Node, ScalarNode, SequenceNode

from certgen.records.record_files.braces import find_step, is_plain
from certgen.records.record_files.limits import RECORD_CHARACTERS
from certgen.records.record_files.parsing import ParsingError, compose

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from yaml.events import Event

Key = TypeVar("Key")
_FEW_PATHS: Final = 8
Steps = tuple[str | int, ...]


class Span(NamedTuple):
    """A record's stretch of a file: character offsets, and line and column (from 0) of its beginning."""

    start: int
    end: int
    line: int
    column: int


class Spans(Sequence[Span]):
    """The spans of a file's records, four whole numbers each in one array.

    As tuples of numbers they would take a third of the memory that the file's text does.
    """

    __slots__ = ("_numbers",)

    def __init__(self, spans: Iterable[Span] = ()) -> None:
        self._numbers = array("I", chain.from_iterable(spans))

    @classmethod
    def from_numbers(cls, numbers: Iterable[int]) -> Spans:
        """From start, end, line and column of each span. Raises ValueError for what no file can hold."""
        found = cls()
        try:
            found._numbers.extend(numbers)
        except OverflowError as fault:
            raise ValueError(str(fault)) from fault
        if len(found._numbers) % 4:
            message = "a span has four numbers"
            raise ValueError(message)
        return found

    def append(self, span: Span) -> None:
        """Put a span at the end."""
        self._numbers.extend(span)

    def numbers(self) -> list[int]:
        """Start, end, line and column of each span, one after the other."""
        return self._numbers.tolist()

    def __len__(self) -> int:
        return len(self._numbers) // 4

    @overload
    def __getitem__(self, at: int) -> Span: ...
    @overload
    def __getitem__(self, at: slice) -> Spans: ...
    def __getitem__(self, at: int | slice) -> Span | Spans:
        if isinstance(at, slice):
            return Spans(self[one] for one in range(*at.indices(len(self))))
        first = range(len(self))[at] * 4
        return Span(*self._numbers[first : first + 4])

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Spans) and self._numbers == other._numbers

    __hash__ = None  # type: ignore[assignment]

    def __repr__(self) -> str:
        return f"Spans({list(self)})"


def span_between(first: Event, last: Event) -> Span:
    """The span from where one event begins to where another ends."""
    begin: Any = first.start_mark
    end: Any = last.end_mark
    return Span(begin.index, end.index, begin.line, begin.column)


def locate_in_span(text: str, span: Span, paths: Mapping[Key, Steps]) -> dict[Key, tuple[int, int]]:
    """Line and column, from 1, of each path inside the record; a missing step stops at what is there.

    A field is shown where its name stands, an entry of a list where it begins.
    """
    found = dict.fromkeys(paths, (span.line + 1, span.column + 1))
    named = _leave_absent(text, span, paths)
    if not named or span.end - span.start > RECORD_CHARACTERS:
        return found
    # Each path is looked for by itself, so for many of them the record is composed all the same.
    if len(named) <= _FEW_PATHS and is_plain(text, span.start, span.end):
        found.update((key, _locate_in_braces(text, span, path)) for key, path in named.items())
        return found
    root = _compose_span(text, span)
    if root is not None:
        found.update((key, _locate_below(root, text, span, path)) for key, path in named.items())
    return found


def _locate_below(root: Node, text: str, span: Span, path: Steps) -> tuple[int, int]:
    place, node = (span.line + 1, span.column + 1), root
    for step in path:
        inside = _step_into(node, step)
        if inside is None:
            break
        name, node = inside
        place = _place(text, span, name)
    return place


def _leave_absent(text: str, span: Span, paths: Mapping[Key, Steps]) -> dict[Key, Steps]:
    """The paths without those that lead to the record itself, or to a name that isn't in it."""
    start, end, _, _ = span
    # What isn't in the text is no name there, unless it is spelt with a backslash.
    spelt = text.find("\\", start, end) >= 0
    return {
        key: path
        for key, path in paths.items()
        if path and (spelt or not _is_name(path[0]) or text.find(path[0], start, end) >= 0)
    }


def _is_name(step: str | int) -> TypeGuard[str]:
    return isinstance(step, str) and step.isidentifier()


def _locate_in_braces(text: str, span: Span, path: Steps) -> tuple[int, int]:
    place = at = span.start
    for step in path:
        inside = find_step(text, at, span.end, step)
        if inside is None:
            break
        place, at = inside
    return span.line + 1, span.column + 1 + place - span.start


def locate_values(text: str, span: Span, paths: Iterable[Steps]) -> dict[Steps, tuple[int, int]]:
    """Like `locate_in_span`, but a field is shown where its value begins, as reading errors are."""
    root = _compose_span(text, span)
    found = {}
    for path in paths:
        node = root
        for step in path:
            inside = None if node is None else _step_into(node, step)
            if inside is None:
                break
            node = inside[1]
        if node is None or node is root:
            found[path] = (span.line + 1, span.column + 1)
        else:
            found[path] = _place(text, span, node)
    return found


def names_in_span(text: str, span: Span) -> frozenset[str]:
    """The names of the fields that a record has, whether or not their values could be read."""
    root = _compose_span(text, span)
    if not isinstance(root, MappingNode):
        return frozenset()
    return frozenset(key.value for key, _ in root.value if isinstance(key, ScalarNode))


def _compose_span(text: str, span: Span) -> Node | None:
    """The record's nodes. A block's first line is indented as in the file, since its other lines are, too."""
    if span.end - span.start > RECORD_CHARACTERS:
        return None
    indent = "" if _in_braces(text, span) else " " * span.column
    try:
        return compose(indent + text[span.start : span.end], "")
    except ParsingError:
        return None


def _in_braces(text: str, span: Span) -> bool:
    return text.startswith("{", span.start)


def _place(text: str, span: Span, node: Node) -> tuple[int, int]:
    mark: Any = node.start_mark
    shift = span.column if mark.line == 0 and _in_braces(text, span) else 0
    return span.line + mark.line + 1, mark.column + 1 + shift


def _step_into(node: Node, step: str | int) -> tuple[Node, Node] | None:
    """What bears the step's name or number, and what stands there."""
    if isinstance(step, int):
        if isinstance(node, SequenceNode) and 0 <= step < len(node.value):
            return node.value[step], node.value[step]
    elif isinstance(node, MappingNode):
        for key, value in node.value:
            if isinstance(key, ScalarNode) and key.value == step:
                return key, value
    return None
