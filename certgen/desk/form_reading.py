"""A form that was sent, read into the values of a record, with the field of every fault."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from certgen.desk.form_fields import Words, read_text, show_value, typed_rows, value_at
from certgen.exchange.importing.cells import CellError
from certgen.exchange.spreadsheets.rows import is_child, unflatten
from certgen.records.joining.ranges import NameRanges
from certgen.records.nouns import noun
from certgen.records.rows import plain_values
from certgen.records.tables import load_tables

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from certgen.records import Season
    from certgen.records.tables import Column, Field


class FieldFault(NamedTuple):
    """What is wrong with one field of a form; the form as a whole where `name` is empty."""

    name: str
    says: str


@dataclass(slots=True)
class FormReading:
    """What a form says: values by column, nested by `record`; `faults` in the form's order.

    `cleared` are columns that held something when the form was made and are empty now.
    """

    values: dict[str, Any] = field(default_factory=dict)
    cleared: list[str] = field(default_factory=list)
    was: dict[str, str] = field(default_factory=dict)
    faults: list[FieldFault] = field(default_factory=list)

    def record(self, table: str) -> dict[str, Any]:
        """The values as a record nests them, in the order of its schema."""
        order = [column.name for column in load_tables()[table].columns]
        return unflatten({name: self.values[name] for name in self.values if name in order}, order)


def read_form(columns: Iterable[Column], form: Mapping[str, str], words: Words) -> FormReading:
    """Reads a form of these columns; where it tells what a field held (`was.NAME`), only changes count."""
    found = FormReading()
    for column in columns:
        was = form.get(f"was.{column.name}")
        if was is not None and not is_child(column) and form.get(column.name, "").strip() == was.strip():
            # Nothing that was shown and sent back can be a new fault.
            continue
        try:
            value = _read_column(column, form, words, found)
        except CellError as fault:
            found.faults.append(FieldFault(column.name, f"{fault}."))
            continue
        if was is not None:
            if show_value(value) == was:
                continue
            found.was[column.name] = was
        if value is not None:
            found.values[column.name] = value
        elif was:
            found.cleared.append(column.name)
    return found


def _read_column(column: Column, form: Mapping[str, str], words: Words, found: FormReading) -> Any:
    """One column's value, None where nothing was typed. Raises `CellError`."""
    if is_child(column):
        return _read_entries(column, form, words, found)
    text = form.get(column.name, "").strip()
    return read_text(column.field, text, form.get(f"{column.name}.unit", ""), words) if text else None


def _read_entries(column: Column, form: Mapping[str, str], words: Words, found: FormReading) -> Any:
    fields: Mapping[str, Field] = column.field.item.fields if column.field.item else {}
    entries = []
    for number, row in typed_rows(form, column.name):
        entry = {}
        for name, one in fields.items():
            if not row.get(name):
                continue
            try:
                entry[name] = read_text(one, row[name], row.get(f"{name}.unit", ""), words)
            except CellError as fault:
                found.faults.append(FieldFault(f"{column.name}.{number}.{name}", f"{fault}."))
        entries.append(entry)
    return entries or None


def find_unknown(table: str, record: Mapping[str, Any], season: Season) -> Iterator[FieldFault]:
    """Numbers that a record names and no record bears, in this season or one before it."""
    for column in load_tables()[table].columns:
        value = value_at(record, column.path)
        if is_child(column) and column.field.item is not None:
            for number, entry in enumerate(value or ()):
                for name, one in column.field.item.fields.items():
                    yield from _name_unknown(
                        f"{column.name}.{number}.{name}", one.refers_to, entry.get(name), season
                    )
        else:
            yield from _name_unknown(column.name, column.refers_to, value, season)
            yield from _name_unmeant(column.name, _RANGED.get((table, column.name), ""), value, season)


def complete_numbers(reading: FormReading, columns: Iterable[Column], season: Season) -> None:
    """Puts whole names for bare numbers that were typed: `405` is tree T-405, if no other ends like that."""
    for column in columns:
        typed = reading.values.get(column.name)
        if len(column.refers_to) != 1 or not isinstance(typed, str) or not typed.isdecimal():
            continue
        table = column.refers_to[0]
        if _is_known(typed, (table,), season):
            continue
        ending = re.compile(rf"(?:.*[^0-9])?0*{int(typed)}")
        names = map(str, season.tables[table][load_tables()[table].key].tolist())
        found = [name for name in names if ending.fullmatch(name)]
        if len(found) == 1:
            reading.values[column.name] = found[0]


def _name_unmeant(name: str, table: str, value: Any, season: Season) -> Iterator[FieldFault]:
    """Entries of a list of names and ranges that mean no record, in this season or one before it."""
    if not table or not value:
        return
    known = list[str]()
    at: Season | None = season
    while at is not None:
        known += plain_values(at.tables[table][load_tables()[table].key])
        at = at.previous
    ranges = NameRanges(known)
    for entry in value:
        if not ranges.expand(str(entry)):
            yield FieldFault(name, say_unknown(str(entry), (table,), season))


#: Lists that may hold ranges, so that their schema can't say whose numbers they name.
_RANGED: Final = {
    ("rounds", "trees"): "trees",
    ("rounds", "bags"): "bagging",
    ("rounds", "samples"): "screening",
    ("rounds", "harvests"): "harvests",
    ("letters", "samples"): "screening",
    ("submissions", "samples"): "screening",
}


def _name_unknown(name: str, tables: tuple[str, ...], value: Any, season: Season) -> Iterator[FieldFault]:
    if not tables or value is None:
        return
    for one in value if isinstance(value, list | tuple) else (value,):
        if isinstance(one, str) and not _is_known(one, tables, season):
            yield FieldFault(name, say_unknown(one, tables, season))


def _is_known(name: str, tables: tuple[str, ...], season: Season | None) -> bool:
    while season is not None:
        if any(season.row(table, name) is not None for table in tables):
            return True
        season = season.previous
    return False


def say_unknown(name: str, tables: tuple[str, ...], season: Season) -> str:
    """That no record bears a number, and which may be meant: `no tree is called '2'. Did you mean 02?`."""
    known = [str(one) for table in tables for one in season.tables[table][load_tables()[table].key].tolist()]
    bare = name.lstrip("0").casefold()
    near = [one for one in known if one.lstrip("0").casefold() == bare] or [
        one for one in known if len(bare) > 1 and one.casefold().endswith(bare)
    ]
    near = near if len(near) == 1 else get_close_matches(name, known, n=1)
    hint = f" Did you mean {near[0]}?" if near else ""
    return f"no {noun(tables[0])} is called '{name}'.{hint}"
