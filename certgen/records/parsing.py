"""One YAML file to nodes that still know their line and column.

libyaml's parser composes the nodes; nothing is guessed about types here. What YAML allows and
records have no use for is refused where it stands: second documents, anchors, aliases and tags.
"""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import yaml
from yaml.nodes import Node

from certgen.records.limits import LINE_CHARACTERS
from certgen.records.places import ReadingError

try:
    from yaml.cyaml import CParser
except ImportError:  # PyYAML built without libyaml: same nodes, several times slower
    CParser = None  # type: ignore[assignment,misc]


class ParsingError(Exception):
    """The file can't be taken apart at all; carries what to tell the grower."""

    def __init__(self, error: ReadingError) -> None:
        super().__init__(error.message)
        self.error = error


@contextmanager
def pause_collector() -> Iterator[None]:
    """Keep the garbage collector from walking millions of young nodes that all stay alive.

    Measured on 20,000 records: two thirds of `yaml.load`'s time is the collector.
    """
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


if CParser is not None:

    class _Composer(CParser):
        """libyaml's composer without YAML's guesses: a plain scalar gets no type, an explicit tag is kept."""

        def resolve(self, kind: type[Node], value: str | None, implicit: Any) -> str:
            return ""

        def descend_resolver(self, parent: Node | None, index: Any) -> None:
            return None

        def ascend_resolver(self) -> None:
            return None

else:

    class _Composer(yaml.reader.Reader, yaml.scanner.Scanner, yaml.parser.Parser, yaml.composer.Composer):  # type: ignore[no-redef]
        def __init__(self, text: str) -> None:
            yaml.reader.Reader.__init__(self, text)
            yaml.scanner.Scanner.__init__(self)
            yaml.parser.Parser.__init__(self)
            yaml.composer.Composer.__init__(self)

        def resolve(self, kind: type[Node], value: str | None, implicit: Any) -> str:
            return ""

        def descend_resolver(self, parent: Node | None, index: Any) -> None:
            return None

        def ascend_resolver(self) -> None:
            return None


def decode(data: bytes, file: str) -> str:
    """The file's text. Raises `ParsingError` at the first byte that isn't UTF-8."""
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        raise ParsingError(
            ReadingError(
                file, 1, 1, "is saved as UTF-16; save it as UTF-8 in your editor ('Save as', encoding)"
            )
        )
    if data[:3] == b"\xef\xbb\xbf":
        data = data[3:]
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as fault:
        before = data[: fault.start]
        line = before.count(b"\n") + 1
        start = before.rfind(b"\n") + 1
        column = len(before[start:].decode("utf-8", "replace")) + 1
        raise ParsingError(
            ReadingError(
                file,
                line,
                column,
                f"holds a character that isn't UTF-8 (byte 0x{data[fault.start]:02x}); save the file as UTF-8",
            )
        ) from None


def compose(text: str, file: str) -> Node | None:
    """The file's one document as nodes; None if it holds nothing. Raises `ParsingError`."""
    _check_lines(text, file)
    if "&" in text or "*" in text or "!" in text:
        _refuse_anchors(text, file)
    try:
        composer = _Composer(text)
        try:
            node: Node | None = composer.get_single_node()
        finally:
            if hasattr(composer, "dispose"):
                composer.dispose()
    except yaml.YAMLError as fault:
        raise ParsingError(_explain(fault, text, file)) from None
    except RecursionError:
        raise ParsingError(ReadingError(file, 1, 1, "is nested too deeply to be a record file")) from None
    return node


def _check_lines(text: str, file: str) -> None:
    if len(text) <= LINE_CHARACTERS:
        return
    for number, line in enumerate(text.split("\n"), start=1):
        if len(line) > LINE_CHARACTERS:
            raise ParsingError(
                ReadingError(
                    file,
                    number,
                    1,
                    f"this line is {len(line):,} characters long; at most {LINE_CHARACTERS:,} are read. "
                    "Is this a record file? Break the line, or move the file to evidence/",
                )
            )


def _refuse_anchors(text: str, file: str) -> None:
    """One pass over the parser's events, taken only by files that hold the characters in question."""
    loader: Any = getattr(yaml, "CLoader", yaml.SafeLoader)
    try:
        for event in yaml.parse(text, Loader=loader):
            mark = event.start_mark
            anchor, tag = getattr(event, "anchor", None), getattr(event, "tag", None)
            if anchor is not None:
                sign = "*" if isinstance(event, yaml.events.AliasEvent) else "&"
                raise ParsingError(
                    ReadingError(
                        file,
                        mark.line + 1,
                        mark.column + 1,
                        f"'{sign}{anchor[:40]}' is a YAML reference; write the value out, or put it in quotes if it is text",
                    )
                )
            if tag is not None and tag != "!":
                raise ParsingError(
                    ReadingError(
                        file,
                        mark.line + 1,
                        mark.column + 1,
                        f"'{tag[:40]}' is a YAML tag; leave it out, or put the value in quotes if it is text",
                    )
                )
    except yaml.YAMLError as fault:
        raise ParsingError(_explain(fault, text, file)) from None


#: What the parser says, in part, and what a grower needs to hear.
_WORDING = (
    ("found character '\\t'", "a tab stands where spaces belong; replace it with spaces"),
    (
        "found character that cannot start any token",
        "a tab or a reserved sign (% @ `) stands where a value begins; use spaces, or put the value in quotes",
    ),
    (
        "expected a single document",
        "a second document begins here; a record file holds one: take the '---' line out",
    ),
    ("exceeded maximum nesting depth", "is nested far too deeply to be a record file"),
    (
        "control characters are not allowed",
        "holds a control character that can't be shown; delete it and type the value again",
    ),
    (
        "mapping values are not allowed",
        "a colon stands where it can't; put the value in quotes, or begin a new line",
    ),
    ("could not find expected ':'", "a name without a colon; write 'name: value'"),
    ("did not find expected key", "the indentation doesn't match the lines above; line the names up"),
    (
        "did not find expected '-' indicator",
        "the indentation doesn't match the list above; line the dashes up",
    ),
    (
        "block sequence entries are not allowed",
        "a dash stands where a list can't begin; begin it on a new line",
    ),
    ("did not find expected ',' or", "a bracket or brace isn't closed, or a comma is missing"),
    ("unexpected end of stream", "a quote is opened here and never closed"),
    ("found undefined alias", "a '*' begins a YAML reference; put the value in quotes"),
)


def _explain(fault: yaml.YAMLError, text: str, file: str) -> ReadingError:
    raw = str(fault)
    mark = getattr(fault, "problem_mark", None) or getattr(fault, "context_mark", None)
    position = getattr(fault, "position", None)
    problem = str(getattr(fault, "problem", None) or getattr(fault, "reason", None) or raw)
    message = next((words for part, words in _WORDING if part in raw), f"can't be read as YAML: {problem}")
    if mark is not None:
        line, column = mark.line + 1, mark.column + 1
        # A quote that is never closed is noticed at the file's end; its beginning is what helps.
        context = getattr(fault, "context_mark", None)
        if "end of stream" in raw and context is not None:
            line, column = context.line + 1, context.column + 1
        lines = text.split("\n")
        if "cannot start any token" in raw and line <= len(lines) and "\t" in lines[line - 1][:column]:
            message = _WORDING[0][1]
        return ReadingError(file, line, column, message)
    if isinstance(position, int):
        # libyaml reports bytes and the pure reader characters; the first control sign is the one meant either way.
        found = next(
            (i for i, sign in enumerate(text) if ord(sign) < 32 and sign not in "\n\r\t"),
            min(position, len(text)),
        )
        line = text.count("\n", 0, found) + 1
        return ReadingError(file, line, found - text.rfind("\n", 0, found), message)
    return ReadingError(file, None, None, message)
