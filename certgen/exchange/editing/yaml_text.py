"""Records as YAML text, written so that the strict reader and any other get back what was meant.

Text that other programs would take for something else (`010`, `NO`, `12:30`, `1e3`) is put in quotes.
"""

from __future__ import annotations

import datetime as dt
import json
import re
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from functools import cache, lru_cache
from typing import Any, Final, NamedTuple

WIDTH = 100

#: Values that come again and again in thousands of records: a day, a word, a yes. Their lines are kept, long
#: texts aside. Numbers with a point aren't: 0.0 and -0.0 are one key and two texts.
_KEPT: Final = frozenset({str, bool, int, dt.date})
_KEPT_LETTERS: Final = 100

_PLAIN = re.compile(
    r"[A-Za-z0-9\u00c0-\u024f\u0370-\u1fff\u3040-\ud7ff]([^\x00-\x1f\x7f-\xa0\u2028\u2029\ud800-\udfff\ufeff\ufffe\uffff]*)"
)
_UNSAFE = re.compile(r":(\s|$)|\s#|\s$")
_LITERAL = re.compile(
    r"[^\s\x00-\x1f\x7f-\xa0\u2028\u2029][^\x00-\x09\x0b-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff\ufeff\ufffe\uffff]*"
)
#: What YAML 1.2 readers take for a number, a truth value or nothing; YAML 1.1's own list is asked as well.
_OTHER_TYPE = re.compile(
    r"(?:null|true|false|yes|no|on|off|y|n)|[-+]?(?:[0-9][0-9_]*(?:\.[0-9_]*)?|\.[0-9]+)(?:e[-+]?[0-9]+)?|0[ox][0-9a-f]+"
    r"|[0-9]+(?::[0-9]+)+(?:\.[0-9]*)?",
    re.IGNORECASE,
)


class Line(NamedTuple):
    """One line of a rendered record and the field that it belongs to (`("tag", "date")`)."""

    text: str
    path: tuple[str | int, ...]


@cache
def _guesses() -> Mapping[str, Sequence[tuple[str, re.Pattern[str]]]]:
    import yaml

    return yaml.SafeLoader.yaml_implicit_resolvers


def _taken_for_other(text: str) -> bool:
    if _OTHER_TYPE.fullmatch(text):
        return True
    return any(pattern.match(text) for _, pattern in _guesses().get(text[:1], ()))


def render_scalar(value: object, *, inside_flow: bool = False) -> str:
    """One value as it stands behind a field's name. Text is quoted when anything could mistake it."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, float):
        return format(Decimal(repr(value)).normalize(), "f")
    if isinstance(value, int):
        return str(value)
    text = str(value)
    plain = _PLAIN.fullmatch(text) and not _UNSAFE.search(text) and not _taken_for_other(text)
    if plain and not (inside_flow and re.search(r"[,\[\]{}]|:$", text)):
        return text
    return quote(text)


def quote(text: str) -> str:
    """The text in double quotes, whatever is in it."""
    written = json.dumps(text, ensure_ascii=False)
    return re.sub(
        r"[\x7f-\xa0\u2028\u2029\ud800-\udfff\ufeff\ufffe\uffff]",
        lambda found: f"\\u{ord(found[0]):04x}",
        written,
    )


def render_flow(value: object) -> str:
    """A list or mapping within one line: `[a, b]`, `{batch: X, weight: 3 g}`."""
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{key}: {render_flow(part)}" for key, part in value.items()) + "}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(render_flow(part) for part in value) + "]"
    return render_scalar(value, inside_flow=True)


def render_fields(record: Mapping[str, Any], indent: int, above: tuple[str | int, ...] = ()) -> list[Line]:
    """A mapping's fields, one a line, at an indentation. Nested mappings follow on lines of their own."""
    lines: list[Line] = []
    for name, value in record.items():
        kind = type(value)
        if kind in _KEPT and (kind is not str or len(value) <= _KEPT_LETTERS):
            lines += _render_kept(name, value, indent, above)
        else:
            lines += render_field(name, value, indent, above)
    return lines


@lru_cache(maxsize=50_000, typed=True)
def _render_kept(name: str, value: object, indent: int, above: tuple[str | int, ...]) -> tuple[Line, ...]:
    return tuple(render_field(name, value, indent, above))


def render_field(name: str, value: object, indent: int, above: tuple[str | int, ...] = ()) -> list[Line]:
    """One field of a record as lines, the first beginning with its name."""
    path, start = (*above, name), " " * indent + name + ":"
    if isinstance(value, Mapping):
        if not value:
            return [Line(f"{start} {{}}", path)]
        return [Line(start, path), *render_fields(value, indent + 2, path)]
    if isinstance(value, list | tuple):
        if value and isinstance(value[0], Mapping):
            inner = [
                Line(f"{' ' * (indent + 2)}- {render_flow(part)}", (*path, i)) for i, part in enumerate(value)
            ]
            return [Line(start, path), *inner]
        return [Line(text, path) for text in _wrap(start, value, indent + 2)]
    if isinstance(value, str) and _is_block(value):
        lines = (Line(" " * (indent + 2) + part, path) for part in value.split("\n"))
        return [Line(f"{start} |-", path), *lines]
    return [Line(f"{start} {render_scalar(value)}", path)]


def _is_block(text: str) -> bool:
    """Whether text has several lines, and each can stand in a block as it is."""
    lines = text.split("\n")
    return len(lines) > 1 and all(
        _LITERAL.fullmatch(line) and not line.endswith((" ", "\u3000")) for line in lines
    )


def _wrap(start: str, values: Iterable[object], indent: int) -> list[str]:
    """A list of plain values in brackets, broken into lines where it grows long."""
    lines, line = [], f"{start} ["
    parts = [render_scalar(value, inside_flow=True) for value in values]
    for number, part in enumerate(parts):
        piece = part + (", " if number < len(parts) - 1 else "")
        if len(line) + len(piece) > WIDTH and not line.endswith("["):
            lines.append(line.rstrip())
            line = " " * indent
        line += piece
    return [*lines, line.rstrip() + "]"]


def render_record(record: Mapping[str, Any], indent: int) -> list[Line]:
    """One record of a list: a dash at `indent`, the fields after it."""
    fields = render_fields(record, indent + 2)
    if not fields:
        return [Line(" " * indent + "- {}", ())]
    first = fields[0]
    return [Line(" " * indent + "- " + first.text[indent + 2 :], first.path), *fields[1:]]


def with_days(values: Mapping[str, Any]) -> dict[str, Any]:
    """A season's mapping with dates as dates, so that they are written without quotes."""
    return {
        name: dt.date.fromisoformat(value) if name in {"from", "to"} and _is_date(value) else value
        for name, value in values.items()
    }


def _is_date(value: object) -> bool:
    try:
        dt.date.fromisoformat(str(value))
    except ValueError:
        return False
    return isinstance(value, str)
