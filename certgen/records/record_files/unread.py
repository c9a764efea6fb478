"""What stands in the folder and couldn't be read: which records it may speak of, by their names.

A record that was left out may speak against anything it names. What it names is taken from its own text,
read without any guess at its meaning; where that can't be told it may be anything.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import yaml

from certgen.records.tables import Field, load_tables

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from certgen.records.places import ReadingError
    from certgen.records.record_files.locating import Span
    from certgen.records.season import Source

#: A record's own text is looked into up to this length, and so many records at most; others may speak of
#: anything.
_LENGTH = 20_000
_RECORDS = 500


#: By file, table, line and column the record that begins there.
_Begun = dict[tuple[str, str, int | None, int | None], "Span"]


@dataclass(frozen=True, slots=True)
class Unread:
    """A record, or a whole file or table, that was not read.

    `table` is empty for a file. `names` are the identifiers that the record gives, each with the tables it
    may belong to; None if it can't be told what it speaks of.
    """

    error: ReadingError
    table: str = ""
    names: tuple[tuple[tuple[str, ...], str], ...] | None = None


def find_unread(
    left_out: Sequence[ReadingError],
    errors: Sequence[ReadingError],
    spans: Mapping[tuple[str, str], Sequence[Span]],
    sources: Mapping[str, Source],
) -> tuple[Unread, ...]:
    """Everything unread: left-out records with what they name, and what couldn't be read as a whole."""
    wholes = [Unread(error) for error in errors if not error.left_out]
    named = {(error.file, error.left_out.partition(" ")[0]) for error in left_out[:_RECORDS]}
    begun: _Begun = {}
    for of in named:
        for one in spans.get(of, ()):
            begun.setdefault((*of, one.line + 1, one.column + 1), one)
    looked = [_look_into(error, begun, sources) for error in left_out[:_RECORDS]]
    return (*wholes, *looked, *(Unread(error) for error in left_out[_RECORDS:]))


def _look_into(error: ReadingError, begun: _Begun, sources: Mapping[str, Source]) -> Unread:
    table = error.left_out.partition(" ")[0]
    span = begun.get((error.file, table, error.line, error.column))
    if span is None or span.end - span.start > _LENGTH or table not in load_tables():
        return Unread(error, table)
    text = sources[error.file].text[span.start : span.end]
    try:
        # Indented as it stood, so that the first line begins where the others do.
        record = yaml.load(" " * span.column + text, Loader=yaml.BaseLoader)  # noqa: S506 (builds text only)
    except (yaml.YAMLError, ValueError, RecursionError):
        return Unread(error, table)
    if not isinstance(record, dict):
        return Unread(error, table)
    named = tuple(_named(load_tables()[table].fields, record))
    own = record.get(load_tables()[table].key)
    if isinstance(own, str):
        named = (((table,), own), *named)
    return Unread(error, table, named)


def _named(fields: Mapping[str, Field], record: Mapping[Any, Any]) -> Iterator[tuple[tuple[str, ...], str]]:
    """The identifiers in the fields that refer to records, lists and inner mappings too."""
    for name, part in fields.items():
        value = record.get(name)
        if value is None:
            continue
        yield from _named_in(part, value)


def _named_in(part: Field, value: Any) -> Iterator[tuple[tuple[str, ...], str]]:
    if isinstance(value, str):
        if part.refers_to:
            yield part.refers_to, value
    elif isinstance(value, dict):
        yield from _named(part.fields, value)
    elif isinstance(value, list) and part.item is not None:
        for entry in value:
            yield from _named_in(part.item, entry)
