"""One YAML file to parser events and nodes that know their line and column.

libyaml takes the text apart; nothing is guessed about types here. What YAML allows and records have no
use for is refused where it stands: second documents, anchors, aliases and tags. Reading works on the
events as they come, so that a file's nodes never stand in memory together.
"""

from __future__ import annotations

import re
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import yaml
from yaml.events import (
    CollectionStartEvent,
    DocumentEndEvent,
    DocumentStartEvent,
    Event,
    MappingEndEvent,
    MappingStartEvent,
    ScalarEvent,
    SequenceEndEvent,
)
from yaml.nodes import CollectionNode, MappingNode, Node, ScalarNode, SequenceNode

from certgen.records.places import ReadingError
from certgen.records.record_files.limits import LINE_CHARACTERS

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    Take = Callable[[], Event]
    """The next event of a file."""

#: libyaml's parser where PyYAML was built with it: the same events from the pure one come many times slower.
_LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


#: How files begin that are no plain text: packed ones (.docx, .odt, .xlsx), older office files, RTF, PDF.
_DOCUMENTS = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0", b"{\\rtf", b"%PDF-")


class ParsingError(Exception):
    """The file can't be taken apart at all; carries what to tell the grower."""

    def __init__(self, error: ReadingError) -> None:
        super().__init__(error.message)
        self.error = error


def decode(data: bytes, file: str) -> str:
    """The file's text. Raises `ParsingError` at the first byte that isn't UTF-8."""
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        raise ParsingError(
            ReadingError(
                file, 1, 1, "is saved as UTF-16; save it as UTF-8 in your editor ('Save as', encoding)"
            )
        )
    if data.startswith(_DOCUMENTS):
        message = "is a word processor's or spreadsheet's file; save it as plain text (UTF-8)"
        raise ParsingError(ReadingError(file, 1, 1, message))
    if data[:3] == b"\xef\xbb\xbf":
        data = data[3:]
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as fault:
        before = data[: fault.start]
        line = before.count(b"\n") + 1
        start = before.rfind(b"\n") + 1
        column = len(before[start:].decode("utf-8", "replace")) + 1
        byte = data[fault.start]
        message = f"holds a character that isn't UTF-8 (byte 0x{byte:02x}); save the file as UTF-8"
        raise ParsingError(ReadingError(file, line, column, message)) from None


@contextmanager
def open_document(text: str, file: str) -> Iterator[tuple[Event | None, Take]]:
    """The first event of the file's one document (None if it holds nothing), and what gives the next ones.

    Raises `ParsingError`, also out of the body, wherever the text stops being YAML that records may use.
    The body must take the document to its end, else a second document goes unseen.
    """
    _check_lines(text, file)
    if _MAY_REFER.search(text):
        _refuse_references(text, file)
    parser = _open_parser(text, file)
    take: Take = parser.get_event
    try:
        take()  # the stream's beginning
        opening = take()
        if not isinstance(opening, DocumentStartEvent):
            yield None, take
            return
        yield take(), take
        closing = take()
        if isinstance(closing, DocumentEndEvent) and isinstance(following := take(), DocumentStartEvent):
            raise ParsingError(_at(following, file, _SECOND_DOCUMENT))
    except yaml.YAMLError as fault:
        raise ParsingError(_explain(fault, text, file)) from None
    finally:
        parser.dispose()


def _open_parser(text: str, file: str) -> Any:
    """A parser at the text's beginning. The pure one looks for forbidden signs first, in all of it."""
    try:
        return _LOADER(text)
    except yaml.YAMLError as fault:
        raise ParsingError(_explain(fault, text, file)) from None


def skip(event: Event, take: Take) -> Event:
    """Pass over everything inside the value that begins with `event`; gives its last event."""
    depth = 0
    while True:
        if isinstance(event, CollectionStartEvent):
            depth += 1
        elif isinstance(event, (MappingEndEvent, SequenceEndEvent)):
            depth -= 1
        if depth == 0:
            return event
        event = take()


def compose(text: str, file: str) -> Node | None:
    """The file's one document as nodes; None if it holds nothing. Raises `ParsingError`."""
    with open_document(text, file) as (event, take):
        return None if event is None else _compose(event, take)


def _compose(event: Event, take: Take) -> Node:
    """Nodes without a call inside a call, so that no depth of nesting fills the stack."""
    done: Node | None = None
    open_nodes: list[tuple[CollectionNode, Node | None]] = []
    while True:
        if isinstance(event, ScalarEvent):
            done = ScalarNode("", event.value, *_marks(event), event.style or None)
        elif isinstance(event, CollectionStartEvent):
            made = MappingNode if isinstance(event, MappingStartEvent) else SequenceNode
            opened = made("", [], *_marks(event), event.flow_style)
            open_nodes.append((opened, None))
            done = None
        else:
            done = open_nodes.pop()[0]
            done.end_mark = _marks(event)[1]
        if done is not None:
            if not open_nodes:
                return done
            parent, key = open_nodes[-1]
            if isinstance(parent, SequenceNode):
                parent.value.append(done)
            elif key is None:
                open_nodes[-1] = (parent, done)
            else:
                parent.value.append((key, done))
                open_nodes[-1] = (parent, None)
        event = take()


def _marks(event: Event) -> tuple[Any, Any]:
    return event.start_mark, event.end_mark


def _check_lines(text: str, file: str) -> None:
    if len(text) <= LINE_CHARACTERS:
        return
    start = number = 0
    while start <= len(text):
        number += 1
        end = text.find("\n", start)
        end = len(text) if end < 0 else end
        if end - start > LINE_CHARACTERS:
            message = (
                f"this line is {end - start:,} characters long; at most {LINE_CHARACTERS:,} are read. "
                "Is this a record file? Break the line, or move the file to evidence/"
            )
            raise ParsingError(ReadingError(file, number, 1, message))
        start = end + 1


#: An anchor, an alias or a tag begins where a value may begin. Most files hold no such place at all, and
#: are spared the pass over their events that tells text in quotes from the real thing.
_MAY_REFER = re.compile(r"(?<![^\s\[{,:?\-\ufeff])(?:[&*][^\s]|!)")


def _refuse_references(text: str, file: str) -> None:
    """Raises `ParsingError` at the first anchor, alias or tag."""
    parser = _open_parser(text, file)
    try:
        while (event := parser.get_event()) is not None:
            anchor, tag = getattr(event, "anchor", None), getattr(event, "tag", None)
            if anchor is not None:
                sign = "*" if isinstance(event, yaml.events.AliasEvent) else "&"
                what = f"'{sign}{anchor[:40]}' is a YAML reference; write the value out"
            elif tag is not None:
                what = f"'{tag[:40]}' is a YAML tag; leave it out"
            else:
                continue
            raise ParsingError(_at(event, file, f"{what}, or put the value in quotes if it is text"))
    except yaml.YAMLError as fault:
        raise ParsingError(_explain(fault, text, file)) from None
    finally:
        parser.dispose()


def _at(event: Event, file: str, message: str) -> ReadingError:
    mark: Any = event.start_mark
    return ReadingError(file, mark.line + 1, mark.column + 1, message)


_SECOND_DOCUMENT = "a second document begins here; a record file holds one: take the '---' line out"

_TAB = "a tab stands where spaces belong; replace it with spaces"
_COLON = "a colon stands where it can't; put the value in quotes, or begin a new line"
_UNALIGNED = (
    "a colon stands where it can't; line this name up with the names above it, and see that the line above "
    "has its own colon"
)
_DASH = "the dash above needs a space behind it; write `- name: value`"
#: What the parser says, in part, and what a grower needs to hear. The parts are those that libyaml and the
#: pure parser have in common.
_WORDING = (
    ("found character '\\t'", _TAB),
    ("found a tab character", _TAB),
    (
        "that cannot start any token",
        "a tab or a reserved sign (% @ `) stands where a value begins; use spaces, or put it in quotes",
    ),
    ("exceeded maximum nesting depth", "is nested far too deeply to be a record file"),
    (
        "characters are not allowed",
        "holds a control character that can't be shown; delete it and type the value again",
    ),
    ("mapping values are not allowed", _COLON),
    ("could not find expected ':'", "a name without a colon; write `name: value`"),
    (
        "<document start>",
        "this stands outside every table; records belong below their table's name, such as `trees:`",
    ),
    ("did not find expected key", "the indentation doesn't match the lines above; line the names up"),
    (
        "did not find expected '-'",
        "the indentation doesn't match the list above; line the dashes up",
    ),
    (
        "sequence entries are not allowed",
        "a dash stands where a list can't begin; begin it on a new line",
    ),
    (
        "expected ',' or",
        "the bracket or brace here isn't closed, or a comma is missing inside it",
    ),
    ("unexpected end of stream", "a quote is opened here and never closed"),
)
_OPENED = ("end of stream", "expected ',' or", "could not find expected ':'")


def _explain(fault: yaml.YAMLError, text: str, file: str) -> ReadingError:
    raw = str(fault)
    if "expected <block end>" in raw:
        # So says the pure parser where libyaml says what it looked for.
        missed = "key" if "a block mapping" in raw else "'-'"
        raw += f"; did not find expected {missed}"
    problem = str(getattr(fault, "problem", None) or getattr(fault, "reason", None) or raw)
    message = next((words for part, words in _WORDING if part in raw), f"can't be read as YAML: {problem}")
    mark = _find_mark(fault, raw) if isinstance(fault, yaml.MarkedYAMLError) else None
    if mark is not None:
        return _explain_at(mark.line, mark.column, message, raw, text, file)
    position = getattr(fault, "position", None)
    if isinstance(position, int):
        return ReadingError(file, *_find_forbidden(text, position), message)
    return ReadingError(file, None, None, message)


def _find_mark(fault: yaml.MarkedYAMLError, raw: str) -> yaml.error.Mark | None:
    # What is never closed is noticed where something else begins; where it was opened is what helps.
    if fault.context_mark is not None and any(part in raw for part in _OPENED):
        return fault.context_mark
    return fault.problem_mark or fault.context_mark


def _explain_at(line: int, column: int, message: str, raw: str, text: str, file: str) -> ReadingError:
    """The error at a line and column (from 0); some slips are told better by the lines around it."""
    lines = _BREAK.split(text)
    if "cannot start any token" in raw and line < len(lines) and "\t" in lines[line][: column + 1]:
        message = _TAB
    if message == _COLON:
        message = _explain_colon(lines, line, column)
    return ReadingError(file, line + 1, column + 1, message)


def _find_forbidden(text: str, position: int) -> tuple[int, int]:
    """Line and column of the first sign that YAML forbids; `position` is where the reader stopped.

    libyaml counts bytes and the pure reader characters, so the sign itself is looked for.
    """
    forbidden = _FORBIDDEN.search(text)
    before = _BREAK.split(text[: forbidden.start() if forbidden else min(position, len(text))])
    return len(before), len(before[-1]) + 1


def _explain_colon(lines: list[str], line: int, column: int) -> str:
    """Which of three slips it is: a second colon in one line, a dash without its space, or a shifted line."""
    if line < len(lines) and ":" in lines[line][:column]:
        return _COLON
    above = next((one for one in reversed(lines[:line]) if one.strip()), "")
    return _DASH if re.match(r" *-[^\s-]", above) else _UNALIGNED


#: What YAML counts as the end of a line, so that its line numbers fit ours.
_BREAK = re.compile("\r\n|[\n\r\x85\u2028\u2029]")
_FORBIDDEN = re.compile("[^\t\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
