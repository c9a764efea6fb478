"""Further tables that the rows of one sheet fill: bagging and picking side by side, land and plantings.

A table is taken for one only if it is linked with the sheet's own (a picking names its bags), and if at least
two columns that are nothing else are called like its fields, one of them a field that it needs.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from typing import TYPE_CHECKING, Final, NamedTuple

from certgen.exchange.importing.column_evidence import count_fitting, dress
from certgen.exchange.importing.column_maps import SheetMap, Target
from certgen.exchange.importing.heading_names import list_candidates
from certgen.records.tables import Column, Table, load_tables

if TYPE_CHECKING:
    from certgen.exchange.importing.column_evidence import Column as Cells
    from certgen.exchange.importing.headings import Known

#: The tables that growers keep in one sheet with another.
_CHAIN: Final = (
    "blocks", "plantings", "trees", "screening", "bagging", "harvests", "batches", "lots", "tests",
    "movements",
)  # fmt: skip
_LEAST: Final = 2


class Link(NamedTuple):
    """The column that two tables share: its heading, and the field that it is in the further one; `repeated`
    where several rows of the sheet may tell of one record there."""

    heading: str
    column: Column
    repeated: bool


def guess_further(
    cells: Mapping[str, Cells], sheet_map: SheetMap, left: Collection[str], known: Known
) -> tuple[tuple[SheetMap, ...], dict[str, str]]:
    """The further tables with the columns that they take, and why, by heading."""
    parts: list[SheetMap] = []
    reasons: dict[str, str] = {}
    free = list(left)
    while True:
        taken = {sheet_map.table, *(part.table for part in parts)}
        found = [
            one
            for name in _CHAIN
            if name not in taken and (one := _try(cells, sheet_map, load_tables()[name], free, known))
        ]
        if not found:
            return tuple(parts), reasons
        part, said = max(found, key=lambda one: len(one[1]))
        parts.append(part)
        reasons |= said
        free = [heading for heading in free if heading not in said]


def _try(
    cells: Mapping[str, Cells], sheet_map: SheetMap, table: Table, left: Collection[str], known: Known
) -> tuple[SheetMap, dict[str, str]] | None:
    """What a table would take of the columns that are left; None where too little speaks for it."""
    link = _find_link(sheet_map, table)
    if link is None:
        return None
    columns: dict[str, Target | None] = dict.fromkeys(cells)
    said: dict[str, str] = {}
    taken = {link.column.name}
    for heading in left:
        found = _take(cells[heading], heading, table, taken, known)
        if found is not None:
            columns[heading], said[heading] = found
            taken.add(found[0].field)
    needed = [heading for heading in said if _is_needed(columns[heading], table)]
    if len(said) < _LEAST or not needed:
        return None
    ids = _identifiers((table.name, *link.column.refers_to), known)
    columns[link.heading] = dress(Target(link.column.name), cells[link.heading], link.column, ids)[0]
    where = "" if link.repeated else needed[0]
    return SheetMap(sheet_map.sheet, table.name, columns, where=where, repeats=link.repeated), said


def _take(
    column: Cells, heading: str, table: Table, taken: Collection[str], known: Known
) -> tuple[Target, str] | None:
    """The field of the table that a column is called, where all its cells can be that, and why."""
    for likeness, called, unit, _ in list_candidates(heading, table.name):
        fitting, shown = count_fitting(column, called.field, unit, known.words)
        if likeness == 1 and fitting == 1 and called.name not in taken:
            ids = _identifiers(called.refers_to, known)
            key = called.name == table.key
            target, dressed = dress(Target(called.name, unit), column, called, ids, key=key)
            return target, "; ".join(filter(None, (f"`{called.name}` of {table.name}", shown, dressed)))
    return None


def _is_needed(target: Target | None, table: Table) -> bool:
    return target is not None and table.column(target.field).required


def _identifiers(tables: Iterable[str], known: Known) -> set[str]:
    return {one for name in tables for one in known.all_identifiers.get(name, ())}


def _find_link(sheet_map: SheetMap, table: Table) -> Link | None:
    """The column of the sheet that names the further table's records, or by which they name the sheet's."""
    own = load_tables()[sheet_map.table]
    for heading, target in sheet_map.columns.items():
        column = _whole_column(target, own)
        if column is not None and table.key and table.name in column.refers_to:
            return Link(heading, table.column(table.key), repeated=True)
        other = _column_naming(table, own.name) if column is not None and column.name == own.key else None
        if other is not None:
            return Link(heading, other, repeated=False)
    return None


def _whole_column(target: Target | None, table: Table) -> Column | None:
    """The table's column that a sheet's column is, cut into nothing."""
    if target is None or target.fields or "." in target.field:
        return None
    return next((one for one in table.columns if one.name == target.field), None)


def _column_naming(table: Table, other: str) -> Column | None:
    """The column by which a table's records name those of another."""
    naming = (column for column in table.columns if other in column.refers_to and "." not in column.name)
    return next(naming, None)
