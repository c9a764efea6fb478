"""The `season` mapping: whose season it is, found before all else since its crop decides which words fit."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import TYPE_CHECKING, Any

from yaml.events import MappingEndEvent, MappingStartEvent, ScalarEvent

from certgen.records.places import ReadingError
from certgen.records.record_files.construction import record_converter
from certgen.records.record_files.extracts import explain_record
from certgen.records.record_files.limits import RECORD_CHARACTERS
from certgen.records.record_files.locating import Span, locate_values, span_between
from certgen.records.record_files.mistakes import Mistakes, TooManyMistakes
from certgen.records.record_files.parsing import ParsingError, open_document, skip
from certgen.records.season import Operation, SeasonDetails
from certgen.records.tables import load_season_table

if TYPE_CHECKING:
    from yaml.events import Event

    from certgen.records.record_files.parsing import Take

_NAMED = re.compile(r"^[\"']?season[\"']?[ \t]*:", re.MULTILINE)
Words = Mapping[str, Sequence[str]]
WordsOf = Callable[[str], Words]


@dataclass(slots=True)
class FoundSeason:
    """What was found of the season's own mapping: where, and either its details or what is wrong with it."""

    file: str = ""
    line: int = 0
    span: Span | None = None
    details: SeasonDetails | None = None
    words: Words = field(default_factory=dict)
    errors: list[ReadingError] = field(default_factory=list)


def find_season(texts: Mapping[str, str], words_of: WordsOf | None) -> FoundSeason:
    """The first `season` mapping of the files, in their order.

    A file that can't be taken apart is passed over: whoever reads its tables says so.
    """
    found = FoundSeason()
    # A name can also be written with escapes in double quotes.
    likely = [file for file, text in texts.items() if "season" in text or "\\" in text]
    # The word also stands in notes; files where it begins a line as a name does are looked into first.
    for file in sorted(likely, key=lambda file: _NAMED.search(texts[file]) is None):
        text = texts[file]
        try:
            _look_into(file, text, found, words_of)
        except ParsingError:
            found = FoundSeason()
        except TooManyMistakes as flood:
            found.errors.append(flood.error(file))
        if found.file:
            break
    return found


def _look_into(file: str, text: str, found: FoundSeason, words_of: WordsOf | None) -> None:
    with open_document(text, file) as (event, take):
        if event is None:
            return
        if not isinstance(event, MappingStartEvent):
            skip(event, take)
            return
        while not isinstance(key := take(), MappingEndEvent):
            if isinstance(key, ScalarEvent) and key.value == "season" and not found.file:
                _read_mapping(file, text, key, take, found, words_of)
                continue
            skip(key, take)
            skip(take(), take)


def _read_mapping(
    file: str, text: str, key: Event, take: Take, found: FoundSeason, words_of: WordsOf | None
) -> None:
    mark: Any = key.start_mark
    found.file, found.line = file, mark.line + 1
    value = take()
    if not isinstance(value, MappingStartEvent):
        message = "`season` needs fields: operation, label, from, to, crop, standards"
        found.errors.append(ReadingError(file, found.line, mark.column + 1, message))
        skip(value, take)
        return
    mistakes = Mistakes()
    record, last = record_converter(load_season_table().fields, {})(value, take, mistakes)
    span = found.span = span_between(value, last)
    found.errors.extend(ReadingError(file, *fault) for fault in mistakes.found)
    if mistakes.count:
        return

    def object_to(*faults: tuple[tuple[str | int, ...], str]) -> None:
        places = locate_values(text, span, [path for path, _ in faults])
        found.errors.extend(ReadingError(file, *places[path], message) for path, message in faults)

    if span.end - span.start > RECORD_CHARACTERS:
        object_to(((), f"this is {span.end - span.start:,} characters long; nobody wrote that"))
        return
    # The mapping is taken apart once, however many faults it has.
    if faults := [(part.path, part.message) for part in explain_record("season", record)]:
        object_to(*faults)
    if found.errors:
        return
    if record["from"] > record["to"]:
        object_to((("to",), "the season ends (`to`) before it begins (`from`)"))
        return
    if words_of is not None:
        try:
            found.words = words_of(record["crop"])
        except ValueError as fault:
            object_to((("crop",), str(fault)))
            return
    found.details = _details(record, file)


def _details(record: Mapping[str, Any], file: str) -> SeasonDetails:
    operation = record["operation"]
    return SeasonDetails(
        label=record["label"],
        start=date.fromisoformat(record["from"]),
        end=date.fromisoformat(record["to"]),
        crop=record["crop"],
        standards=tuple(record["standards"]),
        operation=Operation(
            **{
                name: str(operation.get(name, ""))
                for name in ("name", "certificate", "certifier", "address", "responsible")
            }
        ),
        events_of_concern=tuple(record.get("events_of_concern", ())),
        previous=record.get("previous", ""),
        review_triggers=record.get("review_triggers", {}),
        practice=record.get("practice", {}),
        raw=record,
        file=file,
    )
