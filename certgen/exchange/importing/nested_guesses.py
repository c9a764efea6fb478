"""What a column is that is no single field: entries of a list inside the records, two fields in one cell.

Each is guessed only of columns that are nothing else, and only where heading and cells both show it.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Final, NamedTuple

from certgen.exchange.importing.cell_pieces import rename
from certgen.exchange.importing.cells import as_text
from certgen.exchange.importing.column_evidence import Column as Cells
from certgen.exchange.importing.column_evidence import count_fitting, dress, fold
from certgen.exchange.importing.column_maps import SheetMap, Target
from certgen.exchange.importing.heading_names import list_candidates, part_unit, plain_words
from certgen.exchange.importing.heading_words import ENTRY_WORDS, LIST_WORDS
from certgen.exchange.spreadsheets.rows import is_child
from certgen.records.tables import Column, Table

if TYPE_CHECKING:
    from certgen.exchange.importing.headings import Known
    from certgen.records.tables import Field

#: What parts the entries in a cell, the likeliest first.
_PARTED: Final = (";", "\n", "+", "&", "|", ",")
#: A grower's entry: what it came from, and how much of it.
_WEIGHED: Final = re.compile(r"(\S{1,40})\s+([0-9]{1,9}(?:[.,][0-9]{1,9})?\s*(?:mg|g|kg))")
_DATED: Final = re.compile(r"([0-9][0-9./-]{5,9}[0-9])\s+([^\W0-9][^0-9]{0,30})")
#: What parts two fields in one cell, as a heading shows it.
_LONG: Final = 80
_CUTS: Final = ("/", "|", "–", "-", ",", "+", "&")


class Guessed(NamedTuple):
    """The columns that were found, by heading, and why each is what it is."""

    columns: dict[str, Target]
    reasons: dict[str, str]


def guess_cuts(
    cells: Mapping[str, Cells], left: Collection[str], taken: Collection[str], table: str
) -> Guessed:
    """The columns that hold two fields in one cell: their heading names both, and every cell has the sign.

    `taken` are the fields of the table that others fill.
    """
    found = Guessed({}, {})
    for heading in left:
        for sign in _CUTS:
            names = _fields_between(heading, sign, taken, table)
            pieces = [as_text(cell.value).split(sign) for cell in cells[heading].cells]
            if len(names) > 1 and pieces and all(len(one) == len(names) for one in pieces):
                found.columns[heading] = Target(names[0], cut=sign, fields=names)
                found.reasons[heading] = f"its heading names both, and all its cells have a '{sign}'"
                break
    return found


def _fields_between(heading: str, sign: str, taken: Collection[str], table: str) -> tuple[str, ...]:
    """The different fields that a heading names on the sides of a sign; none where a side names none."""
    parts = heading.split(sign) if len(heading) < _LONG else []
    named = [
        next((one.name for likeness, one, *_ in list_candidates(part.strip(), table) if likeness == 1), "")
        for part in parts
    ]
    known = all(name and name not in taken for name in named)
    return tuple(named) if known and len(set(named)) == len(named) else ()


def guess_entries(cells: Mapping[str, Cells], left: Collection[str], table: Table, known: Known) -> Guessed:
    """The columns that tell of a list inside the table's records: in one cell, or in columns of their own."""
    found = Guessed({}, {})
    for column in table.columns:
        if not is_child(column) or column.field.item is None:
            continue
        words = LIST_WORDS.get((table.name, column.name), ())
        for heading in left:
            named = plain_words(heading) in {column.name, fold(column.field.title), *words}
            target = _read_entries(cells[heading], column, known) if named else None
            if target is not None:
                found.columns[heading] = target
                found.reasons[heading] = (
                    f"its cells name {_tell_fields(target)}, parted by '{target.entries}'"
                )
        if not any(target.field == column.name for target in found.columns.values()):
            _guess_columns(found, cells, left, table, column, known)
    return found


def _tell_fields(target: Target) -> str:
    return " and ".join(target.fields)


def _read_entries(column: Cells, listed: Column, known: Known) -> Target | None:
    """How cells are cut into entries: all of them `X26-1 12 g`, or all of them `3/4/2026 intact`."""
    fields = _inner_fields(listed)
    texts = [as_text(cell.value).strip() for cell in column.cells]
    for sign in _PARTED:
        entries = [entry.strip() for text in texts for entry in text.split(sign) if entry.strip()]
        if "weight" in fields and (firsts := _match_all(_WEIGHED, entries)):
            names = (_which_source(firsts, fields, known), "weight")
            return Target(listed.name, entries=sign, cut=" ", fields=names)
        if "condition" in fields and _match_all(_DATED, entries):
            return Target(listed.name, entries=sign, cut=" ", fields=("date", "condition"))
    return None


def _match_all(pattern: re.Pattern[str], entries: Sequence[str]) -> list[str]:
    """What each entry begins with, where all are of the pattern; else nothing."""
    found = [pattern.fullmatch(entry) for entry in entries]
    return [match[1] for match in found if match] if all(found) else []


def _which_source(firsts: Collection[str], inner: Mapping[str, Field], known: Known) -> str:
    """Which field of an entry its first words are: those whose identifiers they all are, else the first."""
    fields = [name for name, field in inner.items() if field.refers_to]
    for name in fields:
        there = {one for table in inner[name].refers_to for one in known.all_identifiers.get(table, ())}
        if set(firsts) <= there:
            return name
    return fields[0]


def _guess_columns(
    found: Guessed,
    cells: Mapping[str, Cells],
    left: Collection[str],
    table: Table,
    column: Column,
    known: Known,
) -> None:
    """Columns of their own: `from run` and `g` beside it, `checked` and `how`, each pair an entry."""
    now = _Entry(0, frozenset())
    for heading in cells:
        if heading not in left or heading in found.columns:
            now = now if heading in found.columns else _Entry(0, frozenset())
            continue
        for name, field in _inner_fields(column).items():
            begins = _begins(field)
            at = _next_number(found, column.name) if begins else now.number
            unit = _unit_of(heading) if _may_be(heading, table, column, name, now) else None
            taken = (
                None
                if unit is None
                else _take_entry(cells[heading], field, f"{column.name}.{at}.{name}", unit, known)
            )
            if taken is not None:
                now = _Entry(at, frozenset({name}) if begins else now.filled | {name})
                found.columns[heading], said = taken
                found.reasons[heading] = f"number {at} of {fold(column.field.title)}{said}"
                break


class _Entry(NamedTuple):
    """The entry whose columns stand side by side: its number (0: none), and its fields that were found."""

    number: int
    filled: frozenset[str]


def _part_heading(heading: str) -> tuple[str, str]:
    """A heading without a number at its end and without its unit, and the unit."""
    return part_unit(re.sub(r"[\s.(]*[0-9]{1,2}\)?$", "", heading))


def _unit_of(heading: str) -> str:
    return _part_heading(heading)[1]


def _may_be(heading: str, table: Table, column: Column, name: str, now: _Entry) -> bool:
    """Whether a heading may name a field of an entry: one that begins an entry anywhere, others beside it."""
    field = _inner_fields(column)[name]
    bare, unit = _part_heading(heading)
    named = bare in _entry_words(table, column, name, field, unit)
    if _begins(field):
        return named
    return bool(now.number) and name not in now.filled and (named or _is_bare(bare, name, field))


def _is_bare(bare: str, name: str, field: Field) -> bool:
    """Whether a heading is no more than a unit, or the field's own name."""
    return field.is_quantity and bare in {"weight", name}


def _begins(field: Field) -> bool:
    """Whether an entry begins with such a field: with what it names, or with its day."""
    return bool(field.refers_to) or field.kind == "date"


def _take_entry(
    column: Cells, field: Field, whole: str, unit: str, known: Known
) -> tuple[Target, str] | None:
    """What a column is as one field of an entry, and why; None where its cells can't be that."""
    fitting, said = count_fitting(column, field, unit, known.words)
    ids = {one for other in field.refers_to for one in known.all_identifiers.get(other, ())}
    target, dressed = dress(Target(whole, unit), column, Column(whole, (whole,), field), ids)
    named = [rename(as_text(cell.value), target) for cell in column.cells]
    if fitting < 1 or (field.kind == "identifier" and any(re.search(r"[\s,;]", name) for name in named)):
        return None
    return target, "".join(f"; {text}" for text in (said, dressed) if text)


def _inner_fields(column: Column) -> Mapping[str, Field]:
    return column.field.item.fields if column.field.item is not None else {}


def _entry_words(table: Table, column: Column, name: str, field: Field, unit: str) -> set[str]:
    """What a heading may call one field of a list's entries; with a unit, `from run g` is a weight."""
    called = {f"{plain_words(column.name)} {plain_words(name)}"}
    called |= set(ENTRY_WORDS.get((table.name, column.name, name), ()))
    if field.is_quantity and unit:
        for other, one in _inner_fields(column).items():
            called |= set(ENTRY_WORDS.get((table.name, column.name, other), ())) if one.refers_to else set()
    return called if field.is_quantity or not unit else set()


def _next_number(found: Guessed, name: str) -> int:
    there = {
        target.field.split(".")[1] for target in found.columns.values() if target.field.startswith(f"{name}.")
    }
    return len(there) + 1


def repeat_rows(sheet_map: SheetMap, key: str, cells: Mapping[str, Cells], rows: int) -> tuple[SheetMap, str]:
    """The map where several rows tell of one record, each another entry of its list, and why."""
    targets = {name: target for name, target in sheet_map.columns.items() if target is not None}
    heading = next((name for name, one in targets.items() if one.field == key), "")
    if not heading or not any(_ENTRY.match(one.field) for one in targets.values()):
        return sheet_map, ""
    texts = [fold(as_text(cell.value)) for cell in cells[heading].cells]
    if len(texts) < rows:
        down = {heading: replace(targets[heading], down=True)}
        columns = {**sheet_map.columns, **down}
        return replace(sheet_map, columns=columns, repeats=True), "an empty cell means the one above"
    if len(set(texts)) < len(texts):
        return replace(sheet_map, repeats=True), "several rows tell of one"
    return sheet_map, ""


_ENTRY: Final = re.compile(r"[a-z_]+\.[0-9]{1,2}\.")
