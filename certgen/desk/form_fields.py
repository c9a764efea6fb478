"""Fields of the records' schemas as fields of a form: what each is asked with, shown as and read from."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import TYPE_CHECKING, Any, Final

from certgen.desk.field_words import label_column, say_fields
from certgen.exchange.editing.yaml_text import render_flow
from certgen.exchange.importing.cells import CellError, read_cell
from certgen.exchange.importing.grids import Cell
from certgen.exchange.spreadsheets.rows import is_child, join_list
from certgen.records.tables import load_season_table

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from certgen.records.tables import Column, Field

Words = Mapping[str, tuple[str, ...]]

#: The units that a form offers for a kind of quantity, the usual one first.
UNITS: Final[Mapping[str, tuple[str, ...]]] = {
    "mass": ("g", "kg", "mg", "oz", "lb"),
    "length": ("mm", "cm", "m", "in", "ft"),
    "duration": ("min", "h", "s", "d"),
    "percent": ("%",),
    "area": ("ha", "m2", "acre"),
    "temperature": ("°C", "°F"),
}
#: Rows that a form shows for a list of entries that is still empty.
_ROWS: Final = 3


@dataclass(frozen=True, slots=True)
class FormField:
    """One field of a form. `name` is its column's (`tag.date`) or an entry's (`sources.0.batch`).

    `asks` says what it is asked with: `text`, `lines`, `date`, `whole`, `quantity`, `choice`, `yes_no` or
    `list`. `options` are the words it takes, or the units of a quantity; `refers_to` the tables whose numbers
    it names. `value` is what stands in it, `was` what stood there when the form was made.
    """

    name: str
    label: str
    asks: str
    hint: str = ""
    example: str = ""
    options: tuple[str, ...] = ()
    refers_to: tuple[str, ...] = ()
    required: bool = False
    value: str = ""
    unit: str = ""
    was: str = ""
    rows: tuple[tuple[FormField, ...], ...] = ()


def is_picture(name: str) -> bool:
    """Whether a paper of this name is one that a browser shows as a picture."""
    return PurePosixPath(name).suffix.lower() in {".png", ".jpg", ".jpeg", ".gif", ".webp"}


def show_value(value: object) -> str:
    """A value of a record as a form shows it; reading it gives the value again."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return str(int(value))
    if isinstance(value, Mapping):
        return render_flow(value)
    if isinstance(value, list | tuple):
        return (
            "; ".join(render_flow(_unlist(one)) for one in value)
            if _holds_entries(value)
            else join_list(map(show_value, value))
        )
    return str(value)


def _unlist(entry: Mapping[str, Any]) -> dict[str, Any]:
    """An entry with single files and names without brackets, which is how a form can't tell them apart."""
    return {
        name: value[0] if isinstance(value, list | tuple) and len(value) == 1 else value
        for name, value in entry.items()
    }


def _holds_entries(value: Sequence[object]) -> bool:
    return bool(value) and isinstance(value[0], Mapping)


def with_dates(details: Mapping[str, Any]) -> dict[str, Any]:
    """The `season` mapping, which is kept as it is typed, with its days as dates like any record's."""
    return _date_fields(details, load_season_table().fields)


def _date_fields(values: Mapping[str, Any], fields: Mapping[str, Field]) -> dict[str, Any]:
    return {name: _date(value, fields[name]) if name in fields else value for name, value in values.items()}


def _date(value: Any, field: Field) -> Any:
    if field.kind == "date" and isinstance(value, str):
        try:
            return dt.date.fromisoformat(value)
        except ValueError:
            return value
    if isinstance(value, Mapping) and field.fields:
        return _date_fields(value, field.fields)
    if isinstance(value, list | tuple) and field.item is not None:
        return [_date(one, field.item) for one in value]
    return value


def value_at(record: Mapping[str, Any], path: Sequence[str]) -> Any:
    """What a record says under a path of names, None where it says nothing."""
    found: Any = record
    for step in path:
        found = found.get(step) if isinstance(found, Mapping) else None
    return found


def build_field(
    column: Column, words: Words, record: Mapping[str, Any], units: Mapping[str, str]
) -> FormField:
    """The form's field for a column, filled with what a record says.

    `units` gives the unit offered first for a column, or for a kind of quantity.
    """
    value = value_at(record, column.path)
    label = label_column(column)
    if is_child(column):
        return _build_entries(column, words, value or (), units, label)
    return _build(column.name, label, column.field, words, show_value(value), units)


def _build(
    name: str, label: str, field: Field, words: Words, value: str, units: Mapping[str, str]
) -> FormField:
    item = field.item
    options = words.get(field.words or (item.words if item else ""), ()) or field.enum
    asks, unit = _ASKS.get(field.kind, "text"), ""
    if field.is_quantity:
        asks, options = "quantity", UNITS[field.kind]
        column = re.sub(r"\.[0-9]+\.", ".", name)
        unit = units.get(column, units.get(field.kind, options[0]))
    elif field.kind in {"list", "evidence"}:
        asks = "list"
    elif options:
        asks = "choice"
    elif field.name == "note":
        asks = "lines"
    example = show_value(field.examples[0]) if field.examples else ""
    refers = field.refers_to or (item.refers_to if item else ())
    return FormField(
        name,
        label,
        asks,
        say_fields(field.description, ""),
        example,
        options,
        refers,
        field.required,
        value,
        unit,
        value,
    )


_ASKS: Final[Mapping[str, str]] = {"date": "date", "yes_no": "yes_no", "whole": "whole"}


def _build_entries(
    column: Column, words: Words, entries: Sequence[Mapping[str, Any]], units: Mapping[str, str], label: str
) -> FormField:
    """A list of entries (a lot's sources, a bag's checks) as rows of fields, with some to fill in."""
    fields = column.field.item.fields if column.field.item else {}
    spare = 1 if entries else _ROWS
    rows = tuple(
        tuple(
            _build(
                f"{column.name}.{number}.{name}",
                field.title or name,
                field,
                words,
                show_value(entries[number].get(name)) if number < len(entries) else "",
                units,
            )
            for name, field in fields.items()
        )
        for number in range(len(entries) + spare)
    )
    was = show_value(entries)
    return FormField(
        column.name,
        label,
        "entries",
        say_fields(column.field.description, ""),
        required=column.required,
        was=was,
        rows=rows,
    )


def read_text(field: Field, text: str, unit: str, words: Words) -> Any:
    """What was typed, as a record writes it. Raises `CellError`, whose message follows the field's name."""
    allowed = words.get(field.words or (field.item.words if field.item else ""), ())
    if field.kind in {"list", "evidence"} and not {";", "\n"} & set(text):
        # On a phone's keyboard the comma is nearer than the semicolon.
        text = "; ".join(text.split(","))
    try:
        return read_cell(Cell(text.strip(), field.name), field, None, unit, allowed)
    except CellError as fault:
        if "--dates" in str(fault):
            message = f"'{text}' can be two dates; write it as year-month-day, like 2026-04-03"
            raise CellError(message) from fault
        raise


def typed_rows(form: Mapping[str, str], name: str) -> Iterator[tuple[int, dict[str, str]]]:
    """The filled rows of a list of entries in a form, each with its number there."""
    rows: dict[int, dict[str, str]] = {}
    pattern = re.compile(rf"{re.escape(name)}\.([0-9]{{1,3}})\.([a-z_]+)(\.unit)?")
    for key, text in form.items():
        found = pattern.fullmatch(key)
        if found is not None:
            rows.setdefault(int(found[1]), {})[found[2] + (found[3] or "")] = text.strip()
    for number, row in sorted(rows.items()):
        if any(text for key, text in row.items() if not key.endswith(".unit")):
            yield number, row
