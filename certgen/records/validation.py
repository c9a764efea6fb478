"""Does a record keep to its table's schema? And if not, why, in a grower's words.

`jsonschema_rs` decides over a whole table at once; `jsonschema` explains the few records that
fail. Both read the same schema, kept to the keywords on which the two agree.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

from certgen.records.tables import Field, Table, load_season_table, load_tables


@dataclass(frozen=True, slots=True)
class Objection:
    """What a schema holds against one record: the path inside the record, the words, and a field that lacks."""

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
    return load_season_table() if name == "season" else load_tables()[name]


def find_objections(name: str, records: Sequence[Mapping[str, Any]]) -> dict[int, list[Objection]]:
    """The records that break the table's schema, by their index, each with every objection to it."""
    one, many = _deciders(name)
    listed = list(records)
    if not listed or many.is_valid(listed):
        return {}
    return {index: explain(name, record) for index, record in enumerate(listed) if not one.is_valid(record)}


@cache
def _explainer(name: str) -> Any:
    import jsonschema

    return jsonschema.Draft202012Validator(
        dict(_table(name).schema), format_checker=jsonschema.Draft202012Validator.FORMAT_CHECKER
    )


def explain(name: str, record: Mapping[str, Any]) -> list[Objection]:
    """Every objection of the table's schema to one record, outermost first."""
    table = _table(name)
    found = [
        _word(error, table)
        for error in sorted(
            _explainer(name).iter_errors(record), key=lambda e: [str(s) for s in e.absolute_path]
        )
    ]
    # The two engines could differ on a keyword nobody expected; a record is never dropped without a word.
    return list(dict.fromkeys(found)) or [Objection((), "doesn't keep to the table's form")]


def _field_at(table: Table, path: Sequence[str | int]) -> Field | None:
    fields: Mapping[str, Field] = table.fields
    found: Field | None = None
    for step in path:
        if isinstance(step, int):
            found = found.item if found else None
        else:
            found = fields.get(step)
        if found is None:
            return None
        fields = found.fields
    return found


def _word(error: Any, table: Table) -> Objection:
    path = tuple(error.absolute_path)
    field = _field_at(table, path)
    name = next((str(step) for step in reversed(path) if isinstance(step, str)), table.name)
    value = str(error.instance)
    shown = value if len(value) <= 40 else value[:37] + "…"
    rule, limit = error.validator, error.validator_value
    if rule == "required":
        missing = next(part for part in limit if error.message.startswith(repr(part)))
        wanted = _field_at(table, (*path, missing))
        what = f" ({wanted.title[0].lower()}{wanted.title[1:]})" if wanted and wanted.title else ""
        return Objection(path, f"`{missing}` is missing{what}; every such record needs it", missing)
    if rule == "additionalProperties":
        return Objection(path, f"`{name}` has a field that doesn't belong there")
    if rule == "enum":
        return Objection(path, f"`{name}` says '{shown}'; write one of: {', '.join(map(str, limit))}")
    if rule == "const":
        return Objection(path, f"`{name}` says '{shown}'; only '{limit}' fits here")
    if rule in ("format", "pattern") and field is not None:
        return Objection(
            path, f"`{name}` says '{shown}'; {_FORMS.get(field.kind, 'that is not the form it takes')}"
        )
    if rule == "minItems":
        return Objection(path, f"`{name}` needs at least {limit} {'entry' if limit == 1 else 'entries'}")
    if rule == "maxItems":
        return Objection(path, f"`{name}` takes at most {limit} entries")
    if rule == "uniqueItems":
        return Objection(path, f"`{name}` lists something twice")
    if rule in ("minimum", "exclusiveMinimum"):
        return Objection(
            path,
            f"`{name}` says {shown}; it can't be {'below' if rule == 'minimum' else 'at or below'} {limit}",
        )
    if rule in ("maximum", "exclusiveMaximum"):
        return Objection(
            path,
            f"`{name}` says {shown}; it can't be {'above' if rule == 'maximum' else 'at or above'} {limit}",
        )
    if rule == "minLength":
        return Objection(path, f"`{name}` is empty")
    if rule == "maxLength":
        return Objection(path, f"`{name}` is longer than {limit} characters")
    if rule == "type":
        return Objection(
            path, f"`{name}` has another form than it takes ({_TYPES.get(str(limit), str(limit))})"
        )
    return Objection(path, f"`{name}` says '{shown}', which doesn't fit its form ({rule})")


_FORMS: Mapping[str, str] = {
    "date": "write a day of the calendar as year-month-day, like 2026-03-14",
    "identifier": "use letters, digits and . _ - / only, up to 40 of them, without spaces",
    "evidence": "write the file's path below evidence/, without '..'",
}
_TYPES: Mapping[str, str] = {
    "object": "fields of its own",
    "array": "a list",
    "string": "text",
    "integer": "a whole number",
    "number": "a number",
    "boolean": "yes or no",
}
