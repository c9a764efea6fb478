"""What one file holds: its tables as columns, where each record stands, and what is wrong in it.

Records pass through in small groups: taken off the parser's events, validated, laid into columns. So a
file's records never stand in memory as mappings all at once.
"""

from __future__ import annotations

import re
from array import array
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from yaml.events import MappingEndEvent, MappingStartEvent, ScalarEvent, SequenceEndEvent, SequenceStartEvent

from certgen.records.places import ReadingError
from certgen.records.quantities import SUFFIXES
from certgen.records.record_files.construction import is_null, record_converter
from certgen.records.record_files.limits import RECORD_CHARACTERS, RECORDS_A_LIST, RECORDS_EXPLAINED
from certgen.records.record_files.locating import Span, Spans, locate_values, names_in_span, span_between
from certgen.records.record_files.mistakes import Mistake, Mistakes, TooManyMistakes, suggest_name
from certgen.records.record_files.parsing import ParsingError, open_document, skip
from certgen.records.record_files.validation import Objection, explain, find_failing
from certgen.records.tables import TEXT_KINDS, Column, Table, load_tables

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Mapping, Sequence

    from yaml.events import Event

    from certgen.records.record_files.construction import ConvertRecord
    from certgen.records.record_files.parsing import Take

    Words = Mapping[str, Sequence[str]]

_GROUP = 2_000
#: Signs that no page can show. A file can hold them only as escapes in double quotes.
_UNSHOWABLE = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x84\x86-\x9f\ufffe\uffff]")


@dataclass(slots=True)
class Stretch:
    """One table's records in one file.

    `columns` holds a value a sound record, for the columns that any record has; values are those of JSON,
    quantities and dates as typed. `at` says which entry of the file's list each sound record is. `spans`
    holds one span an entry, sound or not.
    """

    columns: dict[str, list[Any]] = field(default_factory=dict)
    at: array[int] = field(default_factory=lambda: array("I"))
    spans: Spans = field(default_factory=Spans)


@dataclass(slots=True)
class Extract:
    """What one file gave: a stretch a table, the errors, and the records left out because of them."""

    stretches: dict[str, Stretch] = field(default_factory=dict)
    errors: list[ReadingError] = field(default_factory=list)
    left_out: list[ReadingError] = field(default_factory=list)
    holds_season: bool = False
    #: By table what is left of each record that was left out, and which entry of the file's list it is.
    partial: dict[str, list[tuple[int, dict[str, Any]]]] = field(default_factory=dict)


@dataclass(slots=True)
class _Trouble:
    """A record that is left out: which one, what it is called, and what is wrong with it."""

    index: int
    span: Span
    name: str
    mistakes: list[Mistake]
    record: dict[str, Any] | None


class TableReader:
    """Reads the files of one season, whose crop allows certain words."""

    def __init__(self, words: Words, season_at: tuple[str, int]) -> None:
        """`season_at` is the file and line where the season's own mapping was found, or ("", 0)."""
        self._words = words
        self._season_at = season_at
        self._converters: dict[str, ConvertRecord] = {}
        self._shared = SharedTexts()

    def read(self, text: str, file: str) -> Extract:
        """Everything in one file. What can't be taken apart at all gives one error and no record."""
        found = Extract()
        try:
            with open_document(text, file) as (event, take):
                if event is None or (isinstance(event, ScalarEvent) and not event.value):
                    message = "is empty; if records belong here they are lost, otherwise delete the file"
                    found.errors.append(ReadingError(file, 1, 1, message))
                elif not isinstance(event, MappingStartEvent):
                    message = "begins without a table's name; write for example `bagging:` above the list"
                    found.errors.append(_error(file, event, message))
                    skip(event, take)
                else:
                    self._read_entries(text, file, take, found)
        except ParsingError as fault:
            return Extract(errors=[fault.error])
        except TooManyMistakes as flood:
            return Extract(errors=[flood.error(file)])
        return found

    def _read_entries(self, text: str, file: str, take: Take, found: Extract) -> None:
        seen: dict[str, Event] = {}
        tables = load_tables()
        known = ("season", *tables)
        wrong = Mistakes(RECORDS_EXPLAINED)
        while not isinstance(key := take(), MappingEndEvent):
            value = key if not isinstance(key, ScalarEvent) else take()
            if not isinstance(key, ScalarEvent):
                wrong.add(key, "a table's name must be plain text")
                skip(key, take)
                value = take()
            elif key.value in seen:
                mark: Any = seen[key.value].start_mark
                where = f"first on line {mark.line + 1}"
                wrong.add(
                    key, f"`{key.value}` begins twice in this file ({where}); put its records in one list"
                )
            elif key.value not in known:
                wrong.add(key, _no_table(key.value, known))
            else:
                seen[key.value] = key
                if key.value == "season":
                    found.holds_season = True
                    self._meet_season(file, key, wrong)
                else:
                    table, convert = tables[key.value], self._converter(key.value)
                    _Reading(text, file, table, convert, found, self._shared).read(key, value, take)
                    continue
            skip(value, take)
        found.errors.extend(ReadingError(file, *fault) for fault in wrong.found)
        if wrong.count > len(wrong.found):
            more = f"{wrong.count - len(wrong.found):,} more names in this file are no table's"
            found.errors.append(ReadingError(file, None, None, more))

    def _meet_season(self, file: str, key: Event, wrong: Mistakes) -> None:
        """The season was read beforehand; every further one is one too many."""
        home, line = self._season_at
        mark: Any = key.start_mark
        if home and (home, line) != (file, mark.line + 1):
            wrong.add(key, f"`season` stands already in {home}, line {line}; keep one")

    def _converter(self, name: str) -> ConvertRecord:
        if name not in self._converters:
            self._converters[name] = record_converter(load_tables()[name].fields, self._words)
        return self._converters[name]


def _no_table(name: str, known: tuple[str, ...]) -> Callable[[], str]:
    return lambda: f"there is no table `{name[:40]}`; {suggest_name(name, known, 'tables')}"


def _error(file: str, event: Event, message: str, left_out: str = "") -> ReadingError:
    mark: Any = event.start_mark
    return ReadingError(file, mark.line + 1, mark.column + 1, message, left_out)


class _Reading:
    """One table's list in one file while it is read."""

    def __init__(
        self,
        text: str,
        file: str,
        table: Table,
        convert: ConvertRecord,
        found: Extract,
        shared: SharedTexts,
    ) -> None:
        self.text = text
        self.file = file
        self.table = table
        self.convert = convert
        self.found = found
        self.shared = shared
        self.stretch = Stretch()
        self.records: list[dict[str, Any]] = []
        self.at: list[int] = []
        self.troubles: list[_Trouble] = []
        self.left_out = 0
        self.may_hold_escapes = "\\" in text

    def read(self, key: Event, value: Event, take: Take) -> None:
        if isinstance(value, ScalarEvent) and is_null(value):
            return
        if not isinstance(value, SequenceStartEvent):
            message = f"`{self.table.name}` takes a list: begin each record with a dash"
            self.found.errors.append(_error(self.file, key, message))
            skip(value, take)
            return
        self.found.stretches[self.table.name] = self.stretch
        convert, spans = self.convert, self.stretch.spans
        mistakes = Mistakes()
        while type(event := take()) is not SequenceEndEvent:
            if len(spans) >= RECORDS_A_LIST:
                message = f"`{self.table.name}` holds more than {RECORDS_A_LIST:,} records; no season does"
                raise ParsingError(_error(self.file, event, message))
            record: dict[str, Any] | None = None
            if type(event) is MappingStartEvent:
                record, last = convert(event, take, mistakes)
            else:
                mistakes.add(
                    event, "a record needs fields: `name: value`, one a line, a space behind the colon"
                )
                last = skip(event, take)
            span = span_between(event, last)
            spans.append(span)
            if span.end - span.start > RECORD_CHARACTERS:
                record = None
                mistakes.add(
                    event, f"this record is {span.end - span.start:,} characters long; nobody wrote that"
                )
            if mistakes.count:
                self._leave_out(len(spans) - 1, span, mistakes.found, record)
                mistakes = Mistakes() if self.left_out < RECORDS_EXPLAINED else Mistakes(room=0)
            elif record is not None:
                self.records.append(record)
                self.at.append(len(spans) - 1)
                if len(self.records) >= _GROUP:
                    self._settle()
        self._settle()
        self._report()

    def _leave_out(
        self, index: int, span: Span, mistakes: list[Mistake], record: dict[str, Any] | None
    ) -> None:
        self.left_out += 1
        identifier = record.get(self.table.key) if record and self.table.key else None
        name = f"{self.table.name} " + (identifier[:40] if identifier else f"record {index + 1}")
        self.found.left_out.append(
            ReadingError(self.file, span.line + 1, span.column + 1, f"{name} was left out", name)
        )
        if self.left_out <= RECORDS_EXPLAINED:
            self.troubles.append(_Trouble(index, span, name, mistakes, record))

    def _settle(self) -> None:
        """Hold the waiting records against the schema and lay the sound ones into the columns."""
        failing = set(find_failing(self.table.name, self.records))
        if self.may_hold_escapes:
            failing.update(
                row for row, record in enumerate(self.records) if next(_unshowable(record), None) is not None
            )
        for row in sorted(failing):
            index = self.at[row]
            self._leave_out(index, self.stretch.spans[index], [], self.records[row])
        records, at = self.records, self.at
        if failing:
            records = [record for row, record in enumerate(records) if row not in failing]
            at = [index for row, index in enumerate(at) if row not in failing]
        lay_into_columns(self.table, records, self.stretch.columns, len(self.stretch.at), self.shared)
        self.stretch.at.extend(at)
        self.records, self.at = [], []

    def _report(self) -> None:
        """Turn what is wrong into errors that name the record left out."""
        for trouble in sorted(self.troubles, key=lambda trouble: trouble.index):
            self.found.errors.extend(
                ReadingError(
                    self.file,
                    fault.line,
                    fault.column,
                    f"{fault.message} [{trouble.name} is left out]",
                    trouble.name,
                )
                for fault in self._all_mistakes(trouble)
            )
            self._keep_part(trouble)
        if self.left_out > len(self.troubles):
            more = self.left_out - len(self.troubles)
            message = f"{more:,} more records of `{self.table.name}` are left out for faults like these"
            self.found.errors.append(
                ReadingError(self.file, None, None, message, f"{self.table.name} records")
            )

    def _keep_part(self, trouble: _Trouble) -> None:
        """Keep what the schema doesn't object to of a record that is left out, if it bears its name."""
        record = dict(trouble.record or {})
        for objection in explain_record(self.table.name, record) if record else ():
            if objection.path:
                record.pop(str(objection.path[0]), None)
        if record and (not self.table.key or self.table.key in record):
            self.found.partial.setdefault(self.table.name, []).append((trouble.index, record))

    def _all_mistakes(self, trouble: _Trouble) -> list[Mistake]:
        """The record's faults and what its schema holds against it, so that one run names everything."""
        if trouble.record is None:
            return trouble.mistakes
        objections = explain_record(self.table.name, trouble.record)
        if trouble.mistakes:
            # The faulty values aren't in the record any more; only fields that were never written lack.
            written = names_in_span(self.text, trouble.span)
            objections = [part for part in objections if _stands_apart(part, trouble.record, written)]
        places = locate_values(self.text, trouble.span, [part.path for part in objections])
        told = {(fault.line, fault.column) for fault in trouble.mistakes}
        held = [
            Mistake(*places[part.path], part.message)
            for part in objections
            if part.missing or places[part.path] not in told
        ]
        return [*trouble.mistakes, *held]


def _stands_apart(objection: Objection, record: Mapping[str, Any], written: Collection[str]) -> bool:
    """Whether an objection to a faulty record can't come of what the faults took out of it."""
    if objection.missing:
        return not objection.path and objection.missing not in written
    # A list may be short only because faulty entries were taken out.
    return bool(objection.path) and not isinstance(record.get(str(objection.path[0])), list)


def explain_record(table: str, record: Mapping[str, Any]) -> list[Objection]:
    """What the schema objects to, and values that hold a sign which no page can show."""
    hidden = [
        Objection(path, f"`{path[-1]}` holds a control character; take the escape with the backslash out")
        for path in _unshowable(record)
    ]
    # Every record here was left out for a cause; when it isn't a hidden sign, the schema has to name it.
    return hidden + (explain(table, record) if find_failing(table, [record]) else [])


def _unshowable(value: Any, path: tuple[str | int, ...] = ()) -> Any:
    if isinstance(value, str):
        if _UNSHOWABLE.search(value):
            yield path
    elif isinstance(value, dict):
        for name, part in value.items():
            yield from _unshowable(part, (*path, name))
    elif isinstance(value, list):
        for index, part in enumerate(value):
            yield from _unshowable(part, (*path, index))


class SharedTexts:
    """One text in memory for all equal ones of a season: names, days and words stand in many records.

    The dictionary goes when the season is read; the texts stay with the tables.
    """

    __slots__ = ("_known",)

    def __init__(self) -> None:
        self._known: dict[Any, Any] = {}

    def share(self, column: Column, values: list[Any]) -> list[Any]:
        """A column's values, or a list's entries, each as it was first met. Other values stay."""
        share = self._known.setdefault
        if column.kind in _TEXTS:
            return list(map(share, values, values))
        item = column.field.item
        if column.kind == "list" and item is not None and item.kind in _TEXTS:
            return [part and list(map(share, part, part)) for part in values]
        return values


_TEXTS = TEXT_KINDS | {"date"} | SUFFIXES.keys()


def lay_into_columns(
    table: Table,
    records: Sequence[Mapping[str, Any]],
    columns: dict[str, list[Any]],
    rows: int,
    shared: SharedTexts,
) -> None:
    """Append the records to columns that hold `rows` rows so far; a column that none has is left out."""
    present: set[str] = set()
    for record in records:
        present.update(record)
    for column in table.columns:
        if column.path[0] in present:
            values = shared.share(column, _pick(records, column.path))
        elif column.name in columns:
            values = [None] * len(records)
        else:
            continue
        columns.setdefault(column.name, [None] * rows).extend(values)


_NOTHING: Mapping[str, Any] = {}


def _pick(records: Sequence[Mapping[str, Any]], path: tuple[str, ...]) -> list[Any]:
    if len(path) == 1:
        name = path[0]
        return [record.get(name) for record in records]
    return _pick([record.get(path[0]) or _NOTHING for record in records], path[1:])
