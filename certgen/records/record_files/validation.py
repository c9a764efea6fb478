"""Does a record keep to its table's schema? And if not, why, in a grower's words.

`jsonschema_rs` decides over a whole table at once; `jsonschema` explains the few records that
fail. Both read the same schema, kept to the keywords on which the two agree.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from itertools import takewhile
from typing import TYPE_CHECKING, Any

from certgen.records.tables import Field, Table, load_form, load_season_table, load_tables

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence


@dataclass(frozen=True, slots=True)
class Objection:
    """What a schema holds against one record: the path inside it, the words, and the field that lacks."""

    path: tuple[str | int, ...]
    message: str
    missing: str = ""


@cache
def _deciders(name: str) -> tuple[Any, Any]:
    import jsonschema_rs

    schema = dict(_table(name).schema)
    one = jsonschema_rs.Draft202012Validator(schema, validate_formats=True)
    many = jsonschema_rs.Draft202012Validator({"type": "array", "items": schema}, validate_formats=True)
    return one, many


def _table(name: str) -> Table:
    return load_season_table() if name == "season" else load_tables().get(name) or load_form(name)


def find_failing(name: str, records: Sequence[Mapping[str, Any]]) -> list[int]:
    """The records that break the table's schema, by their index."""
    one, many = _deciders(name)
    listed = list(records)
    if not listed or many.is_valid(listed):
        return []
    return [index for index, record in enumerate(listed) if not one.is_valid(record)]


@cache
def _explainer(name: str) -> Any:
    import jsonschema

    return jsonschema.Draft202012Validator(
        dict(_table(name).schema), format_checker=jsonschema.Draft202012Validator.FORMAT_CHECKER
    )


def explain(name: str, record: Mapping[str, Any]) -> list[Objection]:
    """Every objection of the table's schema to one record, outermost first."""
    table = _table(name)
    errors = sorted(_explainer(name).iter_errors(record), key=lambda e: [str(s) for s in e.absolute_path])
    found = [objection for error in errors for objection in _word(error, table)]
    # The two engines could differ on a keyword nobody expected; a record is never dropped without a word.
    return list(dict.fromkeys(found)) or [Objection((), "doesn't keep to the table's form")]


def _field_at(table: Table, path: Sequence[str | int]) -> Field | None:
    fields: Mapping[str, Field] = table.fields
    found: Field | None = None
    for step in path:
        found = (found.item if found else None) if isinstance(step, int) else fields.get(step)
        if found is None:
            return None
        fields = found.fields
    return found


def _word(error: Any, table: Table) -> Iterator[Objection]:
    """What one of the schema's keywords objects to, in a grower's words."""
    path: tuple[str | int, ...] = tuple(error.absolute_path)
    name = next((str(step) for step in reversed(path) if isinstance(step, str)), table.name)
    rule, limit = error.validator, error.validator_value
    if rule == "required":
        # One keyword speaks of all that is missing.
        yield from (_word_missing(table, path, field) for field in limit if field not in error.instance)
        return
    value = str(error.instance)
    shown = value if len(value) <= 40 else value[:37] + "…"
    if rule in ("format", "pattern"):
        message = f"`{name}` says '{shown}'; {_form_of(_field_at(table, path), value)}"
    elif rule in _SAYINGS:
        message = _SAYINGS[rule](name, shown, limit)
    else:
        message = f"`{name}` says '{shown}', which doesn't fit its form ({rule})"
    yield Objection(path, message)


def _word_missing(table: Table, path: tuple[str | int, ...], field_name: str) -> Objection:
    wanted = _field_at(table, (*path, field_name))
    title = f"{wanted.title[0].lower()}{wanted.title[1:]}" if wanted and wanted.title else ""
    what = f" ({title})" if title and title != field_name else ""
    # As a sheet's heading and a new season's comments name it: `drying.from`, not `from` alone.
    inside = list(takewhile(lambda step: isinstance(step, str), reversed(path)))
    named = ".".join([*map(str, reversed(inside)), field_name])
    return Objection(path, f"`{named}` is missing{what}; every such record needs it", field_name)


def _form_of(field: Field | None, value: str) -> str:
    """What a field takes, for somebody who has written something else."""
    if field and field.kind == "identifier" and _CURLY & set(value):
        return 'curly quotes count as part of it; leave them out, or write straight ones: "'
    if field and field.kind in {"identifier", "date"} and _DASHES & set(value):
        meant = "".join("-" if sign in _DASHES else sign for sign in value)
        return f"the long dash in it is no hyphen; write it with the short one: {meant[:40]}"
    like = (
        f"write it like {field.examples[0]}" if field and field.examples else "that is not the form it takes"
    )
    return _FORMS.get(field.kind if field else "", like)


#: What to say where a keyword of the schema is broken: from the field's name, its value, the keyword's limit.
_SAYINGS: Mapping[str, Callable[[str, str, Any], str]] = {
    "additionalProperties": lambda name, _shown, _limit: f"`{name}` has a field that doesn't belong there",
    "enum": lambda name, shown, limit: f"`{name}` says '{shown}'; write one of: {', '.join(map(str, limit))}",
    "const": lambda name, shown, limit: f"`{name}` says '{shown}'; only '{limit}' fits here",
    "minItems": lambda name, _shown, limit: (
        f"`{name}` needs at least {limit} {'entry' if limit == 1 else 'entries'}"
    ),
    "maxItems": lambda name, _shown, limit: f"`{name}` takes at most {limit} entries",
    "uniqueItems": lambda name, _shown, _limit: f"`{name}` lists something twice",
    "minimum": lambda name, shown, limit: f"`{name}` says {shown}; it can't be below {limit}",
    "exclusiveMinimum": lambda name, shown, limit: f"`{name}` says {shown}; it can't be at or below {limit}",
    "maximum": lambda name, shown, limit: f"`{name}` says {shown}; it can't be above {limit}",
    "exclusiveMaximum": lambda name, shown, limit: f"`{name}` says {shown}; it can't be at or above {limit}",
    "minLength": lambda name, _shown, _limit: f"`{name}` is empty",
    "maxLength": lambda name, _shown, limit: f"`{name}` is longer than {limit} characters",
    "type": lambda name, _shown, limit: (
        f"`{name}` has another form than it takes ({_TYPES.get(str(limit), str(limit))})"
    ),
}
_FORMS: Mapping[str, str] = {
    "date": "write a day of the calendar as year-month-day, like 2026-03-14",
    "identifier": "use letters, digits and . _ - / only, up to 40 of them, without spaces",
    "evidence": "write the file's path below evidence/, without '..'",
}
#: What a word processor makes of straight quotes.
_CURLY = frozenset(
    "\N{LEFT DOUBLE QUOTATION MARK}\N{RIGHT DOUBLE QUOTATION MARK}\N{DOUBLE LOW-9 QUOTATION MARK}"
    "\N{LEFT SINGLE QUOTATION MARK}\N{RIGHT SINGLE QUOTATION MARK}"
)
#: What a word processor or a telephone makes of a hyphen.
_DASHES = frozenset(
    "\N{HYPHEN}\N{NON-BREAKING HYPHEN}\N{FIGURE DASH}\N{EN DASH}\N{EM DASH}\N{HORIZONTAL BAR}\N{MINUS SIGN}"
    "\N{SMALL HYPHEN-MINUS}\N{FULLWIDTH HYPHEN-MINUS}\N{SOFT HYPHEN}"
)
_TYPES: Mapping[str, str] = {
    "object": "fields of its own",
    "array": "a list",
    "string": "text",
    "integer": "a whole number",
    "number": "a number",
    "boolean": "yes or no",
}
