"""The registers: every record of every table, a row each, in columns chosen for the eye.

A field that has no column of its own stands in the last one with its name, so nothing recorded is left out,
and a table that is new to the contract gets its register without a line of code here.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from certgen.lineage import Node
from certgen.records.rows import entered_values, plain_values
from certgen.report.chapters.register_columns import COLUMNS, FieldColumn
from certgen.report.wording import write
from certgen.typeset.parts import Register, RegisterColumn

if TYPE_CHECKING:
    from collections.abc import Mapping

    from certgen.records.tables import Column, Table
    from certgen.report.context import Context

#: What stands in a cell: stretches of text, each with the anchor it leads to or an empty string.
Runs = tuple[tuple[str, str], ...]


#: Words for yes and no where 'yes' alone would say too little.
YES_NO: Final = {
    "other_buds_cleared": ("buds cleared", "buds not cleared"),
    "secured": ("secured", "not secured"),
    "fruit_marked": ("fruit marked", "fruit not marked"),
}
#: The page that tells of a table's records where nothing is made of them.
_PAGES: Final = {
    "blocks": "land",
    "plantings": "land",
    "observations": "selection",
    "materials": "materials",
    "compost": "compost",
    "inputs": "inputs",
    "scouting": "scouting",
    "water_tests": "water-tests",
    "cleaning": "cleaning",
    "visits": "inspections",
    "incidents": "incidents",
    "recalls": "recalls",
}
#: What tells what happened to lots, or says why: told whole, whatever it is about.
_ALWAYS: Final = frozenset({"movements", "visits", "incidents", "recalls", "explanations"})


@dataclass(frozen=True, slots=True)
class _FieldValues:
    """A field through a whole table: its value in each row (None: absent), and how a value is written.

    `label` names the field where it has no column of its own; a note needs none.
    """

    label: str
    values: Sequence[Any]
    write: Callable[[Any], Runs]


#: A column and the fields that it joins.
_JoinedFields = tuple[RegisterColumn, list[_FieldValues]]


def build_registers(context: Context, choice: str) -> tuple[Register, ...]:
    """All registers (`full`), the records that lots rest on (`lots`), or none (`none`)."""
    if choice == "none":
        return ()
    behind_lots = _records_behind_lots(context) if choice == "lots" else {}
    registers = (
        build_register(context, name, behind_lots.get(name))
        for name in context.tables
        if len(context.season.table(name))
    )
    return tuple(register for register in registers if register.rows)


def _records_behind_lots(context: Context) -> dict[str, frozenset[str]]:
    """What lots rest on, for each table but those that tell what happened to lots or say why."""
    behind: dict[str, set[str]] = {name: set() for name in context.tables if name not in _ALWAYS}
    for lot in context.order["lots"]:
        for node in context.lineage.line_of_lot(lot):
            if node.table in behind and not context.lineage.season_of(node):
                behind[node.table].add(node.id)
    return {name: frozenset(identifiers) for name, identifiers in behind.items()}


def build_register(context: Context, table_name: str, wanted: frozenset[str] | None = None) -> Register:
    """The register of a table; `wanted` keeps only these identifiers (None: all)."""
    table = context.tables[table_name]
    identifiers = _identifiers(context, table)
    rows = [row for row, name in enumerate(identifiers) if wanted is None or name in wanted]
    chosen, rest = _choose_columns(table, _read_fields(context, table, identifiers))
    columns = [column for column, _ in chosen]
    cells = [[_join_fields(fields, row) for row in rows] for _, fields in chosen]
    others = [_tell_others(context, Node(table_name, identifiers[row]), rest, row) for row in rows]
    if rest or any(others):
        columns.append(RegisterColumn("Also recorded", 2.4))
        cells.append(others)
    anchors = [_anchor(table_name, identifiers[row], row) for row in rows]
    return Register(
        table_name,
        table.title,
        table.description,
        tuple(columns),
        tuple(zip(anchors, zip(*cells, strict=True), strict=True)),
    )


def _anchor(table_name: str, name: str, row: int) -> str:
    """What leads to a row; a lot's plain anchor is its dossier."""
    return f"row/lots/{name}" if table_name == "lots" else f"{table_name}/{name or row}"


def _choose_columns(
    table: Table, fields: Mapping[str, _FieldValues]
) -> tuple[list[_JoinedFields], list[_FieldValues]]:
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


def _identifiers(context: Context, table: Table) -> list[str]:
    """What names each row of a table; an empty string where nothing does."""
    frame = context.season.table(table.name)
    if not table.key:
        return [""] * len(frame)
    return ["" if name is None else str(name) for name in plain_values(frame[table.key])]


def _read_fields(context: Context, table: Table, identifiers: list[str]) -> dict[str, _FieldValues]:
    """The fields that are recorded anywhere in a table, its key always among them."""
    frame = context.season.table(table.name)
    fields = {}
    for column in table.columns:
        if column.name == table.key:
            fields[column.name] = _FieldValues("", identifiers, _link_forward(context, table.name))
            continue
        recorded = entered_values(frame[column.name])
        if any(value is not None for value in recorded):
            fields[column.name] = _FieldValues(_label(column), recorded, _writer(context, column))
    return fields


def _label(column: Column) -> str:
    if column.name in {"note", "recorded_by"}:
        return "by" if column.name == "recorded_by" else ""
    title = column.field.title or column.name.replace("_", " ").replace(".", " ")
    return title[:1].lower() + title[1:]


def _writer(context: Context, column: Column) -> Callable[[Any], Runs]:
    """What turns a field's value into text with links."""
    places = [(table, context.order.get(table, {})) for table in column.refers_to]

    def link(name: str) -> tuple[str, str]:
        table = next((table for table, order in places if name in order), "")
        return name, table and f"{table}/{name}"

    if column.name in YES_NO:
        yes, no = YES_NO[column.name]
        return lambda value: ((yes if value else no, ""),)
    if column.refers_to and column.kind == "list":
        return lambda names: _join(((link(write(name)),) for name in names), ", ")
    if column.refers_to:
        return lambda name: (link(str(name)),)
    if column.kind == "evidence":
        return lambda files: _join((((file, context.paper(file)),) for file in files), ", ")
    if column.name == "sources":
        return lambda sources: _join(((_link_source(context, source),) for source in sources), ", ")
    return lambda value: ((write(value), ""),)


def _link_source(context: Context, source: Mapping[str, Any]) -> tuple[str, str]:
    """A batch, lot or supplier that a lot was filled from, with the weight taken."""
    table = "batches" if source.get("batch") else "lots"
    theirs = f", lot {source['supplier_lot']}" if source.get("supplier_lot") else ""
    name = source.get("batch") or source.get("lot") or f"{source.get('supplier') or 'nobody named'}{theirs}"
    href = f"{table}/{name}" if name in context.order.get(table, {}) else ""
    return f"{name} {source.get('weight') or ''}".strip(), href


def _link_forward(context: Context, table: str) -> Callable[[Any], Runs]:
    """A row's own identifier, which leads on to what was made of the thing."""
    lineage = context.lineage

    def lead(name: str) -> str:
        if table == "lots":
            return f"lots/{name}"
        if table in _PAGES:
            return _PAGES[table]
        node = Node(table, name)
        for link in lineage.uses(node):
            if not lineage.season_of(link.target) and link.kind != "sown":
                return f"{link.target.table}/{link.target.id}"
        lots = lineage.lots_reached(node)
        return f"lots/{lots[0]}" if lots else "registers"

    return lambda name: ((name, lead(name)),)


def _join(parts: Iterable[Runs], separator: str) -> Runs:
    """Parts of a cell with the separator between them."""
    runs: list[tuple[str, str]] = []
    for part in parts:
        if runs:
            runs.append((separator, ""))
        runs += part
    return tuple(runs)


def _join_fields(fields: Sequence[_FieldValues], row: int) -> Runs:
    """What a row's fields say, side by side."""
    return _join((field.write(field.values[row]) for field in fields if field.values[row] is not None), ", ")


def _tell_others(context: Context, node: Node, fields: Sequence[_FieldValues], row: int) -> Runs:
    """The gaps that stand at a record, and its fields without a column, each behind its name."""
    gaps = (((f"gap {number}", f"gap/{number}"),) for number in context.result.numbers_of(node))
    named = (
        (((f"{field.label} ", ""),) if field.label else ()) + field.write(field.values[row])
        for field in fields
        if field.values[row] is not None
    )
    return _join((_join(gaps, ", "), *named), "; ")
