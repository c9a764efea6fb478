"""Parser events to typed records, guided by the table's fields: a value's type is never guessed.

Tree `010` stays text because the schema says that a tree's number is text; `12` becomes a number
only where the schema asks for one. Faults are collected with the place they stand at, and the
record they stand in is left out.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from datetime import date
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from yaml.events import (
    Event,
    MappingEndEvent,
    MappingStartEvent,
    ScalarEvent,
    SequenceEndEvent,
    SequenceStartEvent,
)

from certgen.records.quantities import QuantityError, parse_quantity
from certgen.records.record_files.limits import ENTRIES_A_FIELD
from certgen.records.record_files.mistakes import Mistakes, shorten, suggest_name, suggest_word
from certgen.records.record_files.parsing import skip
from certgen.records.tables import TEXT_KINDS, Field

if TYPE_CHECKING:
    from certgen.records.record_files.parsing import Take

_WHOLE = re.compile(r"[+-]?[0-9]{1,15}")
_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_NUMBER = re.compile(r"[+-]?[0-9]{1,15}(\.[0-9]{1,15})?")
_YES = frozenset({"yes", "true", "Yes", "True", "YES", "TRUE"})
_NO = frozenset({"no", "false", "No", "False", "NO", "FALSE"})


Convert = Callable[[Event, "Take", Mistakes], Any]
ConvertRecord = Callable[[Event, "Take", Mistakes], tuple[dict[str, Any], Event]]

#: Stands for a value that isn't there: an entry not made yet, or one that is faulty.
ABSENT: Any = object()
type_of = type


def is_null(event: ScalarEvent) -> bool:
    """An empty value is an entry not made yet; so is `~`. Quoted, both are text."""
    return not event.style and event.value in ("", "~")


def _scalar(field: Field, event: Event, take: Take, mistakes: Mistakes) -> Any:
    if type_of(event) is not ScalarEvent:
        what = "a list" if isinstance(event, SequenceStartEvent) else "several fields"
        mistakes.add(event, f"`{field.name}` takes one value, and here stands {what}")
        skip(event, take)
        return ABSENT
    return ABSENT if is_null(event) else event.value


def _convert_text(field: Field) -> Convert:
    def convert(event: Event, take: Take, mistakes: Mistakes) -> Any:
        return _scalar(field, event, take, mistakes)

    return convert


def _convert_dated(field: Field) -> Convert:
    def convert(event: Event, take: Take, mistakes: Mistakes) -> Any:
        value = _scalar(field, event, take, mistakes)
        if value is not ABSENT and not _may_be_day(value):
            mistakes.add(event, f"`{field.name}` says '{value}'; the calendar has no such day")
        return value

    return convert


@lru_cache(maxsize=65_536)
def _may_be_day(text: str) -> bool:
    """False for what has a date's form and names no day; any other form is the schema's concern."""
    if _DAY.fullmatch(text) is None:
        return True
    try:
        date.fromisoformat(text)
    except ValueError:
        return False
    return True


def _convert_word(field: Field, allowed: frozenset[str], listed: tuple[str, ...]) -> Convert:
    def convert(event: Event, take: Take, mistakes: Mistakes) -> Any:
        value = _scalar(field, event, take, mistakes)
        if value is not ABSENT and value not in allowed:
            mistakes.add(
                event, lambda: f"`{field.name}` says '{shorten(value)}'; {suggest_word(value, listed)}"
            )
        return value

    return convert


def _convert_quantity(field: Field) -> Convert:
    kind = field.kind

    def convert(event: Event, take: Take, mistakes: Mistakes) -> Any:
        value = _scalar(field, event, take, mistakes)
        if value is not ABSENT:
            try:
                parse_quantity(value, kind)
            except QuantityError as fault:
                mistakes.add(event, f"`{field.name}`: {fault}")
        return value

    return convert


def _convert_whole(field: Field) -> Convert:
    def convert(event: Event, take: Take, mistakes: Mistakes) -> Any:
        value = _scalar(field, event, take, mistakes)
        if value is ABSENT:
            return value
        if _WHOLE.fullmatch(value) is None:
            mistakes.add(event, f"`{field.name}` takes a whole number, and here stands '{shorten(value)}'")
            return ABSENT
        return int(value)

    return convert


def _convert_number(field: Field) -> Convert:
    def convert(event: Event, take: Take, mistakes: Mistakes) -> Any:
        value = _scalar(field, event, take, mistakes)
        if value is ABSENT:
            return value
        if _NUMBER.fullmatch(value) is None:
            mistakes.add(
                event, f"`{field.name}` takes a number like 96.5, and here stands '{shorten(value)}'"
            )
            return ABSENT
        return float(value)

    return convert


def _convert_yes_no(field: Field) -> Convert:
    def convert(event: Event, take: Take, mistakes: Mistakes) -> Any:
        value = _scalar(field, event, take, mistakes)
        if value is ABSENT:
            return value
        if value in _YES:
            return True
        if value in _NO:
            return False
        mistakes.add(event, f"`{field.name}` takes yes or no, and here stands '{shorten(value)}'")
        return ABSENT

    return convert


def _convert_evidence(field: Field) -> Convert:
    """One path or a list of paths; always a list from here on."""
    listed = _convert_list(Field(field.name, "list", item=Field(field.name, "text")), {})

    def convert(event: Event, take: Take, mistakes: Mistakes) -> Any:
        if type_of(event) is SequenceStartEvent:
            return listed(event, take, mistakes)
        if type_of(event) is MappingStartEvent:
            mistakes.add(event, f"`{field.name}` takes a file's path or a list of paths")
            skip(event, take)
            return ABSENT
        value = _scalar(field, event, take, mistakes)
        return ABSENT if value is ABSENT else [value]

    return convert


def _convert_list(field: Field, words: Mapping[str, Sequence[str]]) -> Convert:
    element_of = _converter(field.item or Field(field.name, "text"), words)

    def convert(event: Event, take: Take, mistakes: Mistakes) -> Any:
        if type_of(event) is ScalarEvent:
            if not is_null(event):
                hint = f"write [{shorten(event.value)}], or a dash and a line for each"
                mistakes.add(event, f"`{field.name}` takes a list; {hint}")
            return ABSENT
        if type_of(event) is not SequenceStartEvent:
            mistakes.add(event, f"`{field.name}` takes a list: begin each entry with a dash")
            skip(event, take)
            return ABSENT
        values: list[Any] = []
        while type_of(element := take()) is not SequenceEndEvent:
            if len(values) >= ENTRIES_A_FIELD:
                mistakes.add(element, f"`{field.name}` lists more than {ENTRIES_A_FIELD:,} entries")
                skip(element, take)
                while type_of(element := take()) is not SequenceEndEvent:
                    skip(element, take)
                break
            value = element_of(element, take, mistakes)
            if value is not ABSENT:
                values.append(value)
            elif type_of(element) is ScalarEvent and is_null(element):
                mistakes.add(element, f"an entry of `{field.name}` is empty")
        return values

    return convert


def _convert_mapping(field: Field, words: Mapping[str, Sequence[str]]) -> Convert:
    convert_fields = record_converter(field.fields, words) if field.fields else _free_converter(field, words)
    names = (
        f"fields of its own ({', '.join(field.fields)}), each" if field.fields else "names and values, each"
    )

    def convert(event: Event, take: Take, mistakes: Mistakes) -> Any:
        if type_of(event) is MappingStartEvent:
            return convert_fields(event, take, mistakes)[0]
        if not (type_of(event) is ScalarEvent and is_null(event)):
            mistakes.add(event, f"`{field.name}` takes {names} on a line")
            skip(event, take)
        return ABSENT

    return convert


def _free_converter(field: Field, words: Mapping[str, Sequence[str]]) -> ConvertRecord:
    """A mapping whose names are the grower's own, like `review_triggers`: every value of one kind."""
    value_of = _converter(field.item or Field(field.name, "text"), words)

    def convert(_: Event, take: Take, mistakes: Mistakes) -> tuple[dict[str, Any], Event]:
        found: dict[str, Any] = {}
        while type_of(key := take()) is not MappingEndEvent:
            if type_of(key) is not ScalarEvent or key.value in found:
                mistakes.add(key, f"a name in `{field.name}` stands twice or isn't plain text")
                skip(key, take)
                skip(take(), take)
                continue
            converted = value_of(take(), take, mistakes)
            if converted is not ABSENT:
                found[key.value] = converted
        return found, key

    return convert


def _converter(field: Field, words: Mapping[str, Sequence[str]]) -> Convert:
    if field.dated:
        return _convert_dated(field)
    if field.kind in TEXT_KINDS:
        listed = tuple(words.get(field.words, ())) if field.words else field.enum
        return _convert_word(field, frozenset(listed), listed) if listed else _convert_text(field)
    if field.is_quantity:
        return _convert_quantity(field)
    if field.kind == "list":
        return _convert_list(field, words)
    if field.kind == "mapping":
        return _convert_mapping(field, words)
    simple = {
        "whole": _convert_whole,
        "number": _convert_number,
        "yes_no": _convert_yes_no,
        "evidence": _convert_evidence,
    }
    return simple[field.kind](field)


def record_converter(fields: Mapping[str, Field], words: Mapping[str, Sequence[str]]) -> ConvertRecord:
    """A function that takes one mapping off the events: its typed values and its last event.

    The function is called with the mapping's first event and notes what is wrong in the faults it is given.
    Plain text fields without a list of allowed words, which are most, are taken without a further call.
    """
    plan: dict[str, tuple[str, bool, Convert]] = {}
    for name, field in fields.items():
        listed = words.get(field.words, ()) if field.words else field.enum
        plain = field.kind in TEXT_KINDS and not listed and not field.dated
        plan[name] = (name, plain, _converter(field, words))
    names = tuple(plan)

    def convert(_: Event, take: Take, mistakes: Mistakes) -> tuple[dict[str, Any], Event]:
        record: dict[str, Any] = {}
        seen: dict[str, Event] = {}
        while True:
            key = take()
            if type_of(key) is not ScalarEvent:
                if type_of(key) is MappingEndEvent:
                    return record, key
                mistakes.add(key, "a field's name must be plain text")
                skip(key, take)
                skip(take(), take)
                continue
            event = take()
            entry = plan.get(key.value)
            if entry is None or key.value in seen:
                _refuse_field(key, names, seen, mistakes)
                skip(event, take)
                continue
            name, plain, value_of = entry
            seen[name] = key
            if plain and type_of(event) is ScalarEvent:
                content = event.value
                if content in {"", "~"} and not event.style:
                    continue
            else:
                content = value_of(event, take, mistakes)
                if content is ABSENT:
                    continue
            record[name] = content

    return convert


def _refuse_field(
    key: ScalarEvent, names: tuple[str, ...], seen: Mapping[str, Event], mistakes: Mistakes
) -> None:
    name = key.value
    if name in seen:
        mark: Any = seen[name].start_mark
        first = f"first on line {mark.line + 1}"
        mistakes.add(key, f"`{name}` stands twice in this record ({first}); keep one")
    elif name == "<<":
        mistakes.add(key, "'<<' would copy another record in; write the fields out")
    else:
        mistakes.add(
            key, lambda: f"there is no field `{shorten(name)}`; {suggest_name(name, names, 'fields here')}"
        )
