"""One YAML document of the co-op's own, read as strictly as a season: every objection with its place."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from certgen.records.places import ReadingError
from certgen.records.record_files.construction import record_converter
from certgen.records.record_files.extracts import explain_record
from certgen.records.record_files.files import read_bytes
from certgen.records.record_files.locating import locate_values, span_between
from certgen.records.record_files.mistakes import Mistakes
from certgen.records.record_files.parsing import ParsingError, decode, open_document, skip
from certgen.records.tables import load_form

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from certgen.records.record_files.locating import Span

    #: The path of a value in the file, and what is wrong with it.
    Objection = tuple[tuple[str | int, ...], str]

_MISTAKES = 1000


class FormDocument(NamedTuple):
    """A document that keeps to its form; `place` says where in it objections of another kind stand."""

    file: str
    text: str
    span: Span
    record: Mapping[str, Any]

    def place(self, objections: Sequence[Objection]) -> tuple[ReadingError, ...]:
        """The objections as errors, each with line and column, in the order of the file."""
        return _place(self.file, self.text, self.span, objections)


def read_form(folder: Path, file: str, form: str, needs: str) -> FormDocument | tuple[ReadingError, ...]:
    """A file below `folder` under the schema `form`, or every error in it.

    `needs` says what stands in such a file, for one that holds no mapping.
    """
    data = read_bytes(folder, file)
    if isinstance(data, ReadingError):
        return (data,)
    try:
        return _read(decode(data, file), file, form, needs)
    except ParsingError as fault:
        return (fault.error,)


def _read(text: str, file: str, form: str, needs: str) -> FormDocument | tuple[ReadingError, ...]:
    from yaml.events import MappingStartEvent

    faults = Mistakes(room=_MISTAKES)
    with open_document(text, file) as (event, take):
        if not isinstance(event, MappingStartEvent):
            if event is not None:
                skip(event, take)
            return (ReadingError(file, 1, 1, needs),)
        record, last = record_converter(load_form(form).fields, {})(event, take, faults)
    if faults.count:
        return tuple(ReadingError(file, *fault) for fault in faults.found)
    span = span_between(event, last)
    objections = [(part.path, part.message) for part in explain_record(form, record)]
    return _place(file, text, span, objections) or FormDocument(file, text, span, record)


def _place(file: str, text: str, span: Span, objections: Sequence[Objection]) -> tuple[ReadingError, ...]:
    places = locate_values(text, span, [path for path, _ in objections])
    errors = [ReadingError(file, *places[path], message) for path, message in objections]
    return tuple(sorted(errors, key=lambda error: (error.line or 0, error.column or 0, error.message)))
