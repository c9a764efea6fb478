"""The registers: every record of every table, told by its differences (`register_entries`) in the packet.

Here stand which of them a packet holds, and the registers in columns, a row a record, as the binder shows
them. A field that has no column of its own stands in the last one with its name, so nothing recorded is left
out, and a table that is new to the contract gets its register without a line of code here.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.lineage import Node
from certgen.report.chapters.land import tables_told
from certgen.report.chapters.register_columns import COLUMNS, FieldColumn
from certgen.report.chapters.register_entries import build_entries
from certgen.report.chapters.register_fields import (
    FieldValues,
    anchor_of,
    gaps_at,
    identifiers_of,
    join_runs,
    read_fields,
)
from certgen.typeset.parts import Register, RegisterColumn

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from certgen.records.tables import Table
    from certgen.report.condensing import Runs
    from certgen.report.context import Context
    from certgen.typeset.entries import CompactRegister

#: What tells what happened to lots, or says why: told whole, whatever it is about.
_ALWAYS: Final = frozenset({"movements", "visits", "incidents", "recalls", "explanations"})

#: A column and the fields that it joins.
_JoinedFields = tuple[RegisterColumn, list[FieldValues]]


def build_registers(context: Context, choice: str) -> tuple[CompactRegister, ...]:
    """All registers (`full`), the records that lots rest on (`lots`), or none (`none`).

    What the chapters of the land and of recalls tell whole, with any choice, has no register beside them.
    """
    if choice == "none":
        return ()
    told = tables_told(context) | {"recalls"}
    behind_lots = _records_behind_lots(context) if choice == "lots" else {}
    registers = (
        build_entries(context, name, behind_lots.get(name))
        for name in context.tables
        if name not in told and len(context.season.columns(name))
    )
    return tuple(register for register in registers if any(register.anchors))


def _records_behind_lots(context: Context) -> dict[str, frozenset[str]]:
    """What lots rest on, for each table but those that tell what happened to lots or say why."""
    behind: dict[str, set[str]] = {name: set() for name in context.tables if name not in _ALWAYS}
    for lot in context.order["lots"]:
        for node in context.lineage.line_of_lot(lot):
            if node.table in behind and not context.lineage.season_of(node):
                behind[node.table].add(node.id)
    return {name: frozenset(identifiers) for name, identifiers in behind.items()}


def build_register(context: Context, table_name: str) -> Register:
    """The register of a table in columns."""
    table = context.tables[table_name]
    identifiers = identifiers_of(context, table)
    rows = range(len(identifiers))
    chosen, rest = _choose_columns(table, read_fields(context, table, identifiers))
    columns = [column for column, _ in chosen]
    cells = [[_join_fields(fields, row) for row in rows] for _, fields in chosen]
    others = [_tell_others(context, Node(table_name, identifiers[row]), rest, row) for row in rows]
    if rest or any(others):
        columns.append(RegisterColumn("Also recorded", 2.4))
        cells.append(others)
    anchors = [anchor_of(table_name, identifiers[row], row) for row in rows]
    return Register(
        table_name,
        table.title,
        table.description,
        tuple(columns),
        tuple(zip(anchors, zip(*cells, strict=True), strict=True)),
    )


def _choose_columns(
    table: Table, fields: Mapping[str, FieldValues]
) -> tuple[list[_JoinedFields], list[FieldValues]]:
    """A register's columns, each with the fields it joins, and the fields that have no column."""
    chosen: list[_JoinedFields] = []
    left = dict(fields)
    for column in COLUMNS.get(table.name) or _plain_columns(table):
        joined = [left.pop(name) for name in column.fields if name in left]
        # A column in which nobody has written anything only takes room; the first one names the row.
        if joined or not chosen:
            chosen.append((RegisterColumn(column.title, column.share, column.kind), joined))
    return chosen, list(left.values())


def _plain_columns(table: Table) -> tuple[FieldColumn, ...]:
    """A column each for the first fields of a table that has no columns chosen for it."""
    kept = [column for column in table.columns if column.name not in {"note", "recorded_by", "evidence"}]
    return tuple(FieldColumn(column.field.title or column.name, (column.name,)) for column in kept[:8])


def _join_fields(fields: Sequence[FieldValues], row: int) -> Runs:
    """What a row's fields say, side by side."""
    return join_runs(
        (field.write(field.values[row]) for field in fields if field.values[row] is not None), ", "
    )


def _tell_others(context: Context, node: Node, fields: Sequence[FieldValues], row: int) -> Runs:
    """The gaps that stand at a record, and its fields without a column, each behind its name."""
    gaps = gaps_at(context, node)
    named = (
        (((f"{field.label} ", ""),) if field.label else ()) + field.write(field.values[row])
        for field in fields
        if field.values[row] is not None
    )
    return join_runs((join_runs(gaps, ", "), *named), "; ")
