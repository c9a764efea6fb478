"""The fields of a table as its register shows them: what each record says, written with its links."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from certgen.lineage import Node
from certgen.report.wording import spans, write, write_quantity

if TYPE_CHECKING:
    from collections.abc import Mapping

    from certgen.records.tables import Column, Table
    from certgen.report.condensing import Runs
    from certgen.report.context import Context

#: Words for yes and no where 'yes' alone would say too little.
YES_NO: Final = {
    "other_buds_cleared": ("buds cleared", "buds not cleared"),
    "secured": ("secured", "not secured"),
    "fruit_marked": ("fruit marked", "fruit not marked"),
}
#: Mappings whose fields' titles say too little alone: a temperature of drying, of ripening.
_NAMED_WITH_PARENT: Final = frozenset({"drying", "ripening", "never_packed", "notice"})


@dataclass(frozen=True, slots=True)
class FieldValues:
    """A field through a whole table: its value in each row (None: absent), and how a value is written.

    `title` names the field, `label` before its value where it has no column of its own; a note needs none.
    """

    title: str
    label: str
    values: Sequence[Any]
    write: Callable[[Any], Runs]


def anchor_of(table_name: str, name: str, row: int) -> str:
    """What leads to a row; a lot's plain anchor is its dossier."""
    return f"row/lots/{name}" if table_name == "lots" else f"{table_name}/{name or row}"


def identifiers_of(context: Context, table: Table) -> list[str]:
    """What names each row of a table; an empty string where nothing does."""
    columns = context.season.columns(table.name)
    if not table.key:
        return [""] * len(columns)
    return ["" if name is None else str(name) for name in columns.values(table.key)]


def read_fields(
    context: Context, table: Table, identifiers: list[str], *, gathered: bool = False
) -> dict[str, FieldValues]:
    """The fields that are recorded anywhere in a table, its key always among them.

    Lists of names that stand side by side in their register are `gathered` into stretches, `B001 to B040`.
    """
    columns = context.season.columns(table.name)
    fields = {}
    for column in table.columns:
        if column.name == table.key:
            fields[column.name] = FieldValues("", "", identifiers, _link_forward(context, table.name))
            continue
        recorded = columns.entered(column.name)
        if any(value is not None for value in recorded):
            fields[column.name] = FieldValues(
                _title(column), _label(column), recorded, _writer(context, column, gathered=gathered)
            )
    return fields


def _label(column: Column) -> str:
    if column.name in {"note", "recorded_by"}:
        return "by" if column.name == "recorded_by" else ""
    return _title(column)


def _title(column: Column) -> str:
    title = column.field.title or column.name.replace("_", " ").replace(".", " ")
    parent, parted, _ = column.name.partition(".")
    if parted and parent in _NAMED_WITH_PARENT:
        title = f"{parent.replace('_', ' ')} {title.lower()}"
    return title[:1].lower() + title[1:]


def _writer(context: Context, column: Column, *, gathered: bool) -> Callable[[Any], Runs]:
    """What turns a field's value into text with links."""
    if column.name in YES_NO:
        yes, no = YES_NO[column.name]
        return lambda value: ((yes if value else no, ""),)
    if column.refers_to:
        return _link_names(context, column, gathered=gathered)
    if column.kind == "evidence":
        return lambda files: join_runs((((file, context.paper(file)),) for file in files), ", ")
    if column.field.is_quantity and column.kind != "list":
        return lambda value: ((write_quantity(write(value), column.kind), ""),)
    if column.name == "sources":
        return lambda sources: join_runs(((_link_source(context, source),) for source in sources), ", ")
    return lambda value: ((write(value), ""),)


def _link_names(context: Context, column: Column, *, gathered: bool) -> Callable[[Any], Runs]:
    """What turns the names of records into links to them."""
    places = [(table, context.order.get(table, {})) for table in column.refers_to]

    def link(name: str) -> tuple[str, str]:
        table = next((table for table, order in places if name in order), "")
        return name, table and f"{table}/{name}"

    def stretch_out(names: Sequence[Any]) -> Iterable[tuple[str, ...]]:
        listed = [write(name) for name in names]
        order = places[0][1] if gathered and len(places) == 1 else {}
        known = all(name in order for name in listed) and len(set(listed)) == len(listed)
        return spans(listed, order) if known else [(name,) for name in listed]

    if column.kind != "list":
        return lambda name: (link(str(name)),)
    return lambda names: join_runs(
        (join_runs(((link(name),) for name in stretch), " to ") for stretch in stretch_out(names)), ", "
    )


def _link_source(context: Context, source: Mapping[str, Any]) -> tuple[str, str]:
    """A batch, lot or supplier that a lot was filled from, with the weight taken."""
    table = "batches" if source.get("batch") else "lots"
    theirs = f", lot {source['supplier_lot']}" if source.get("supplier_lot") else ""
    name = source.get("batch") or source.get("lot") or f"{source.get('supplier') or 'nobody named'}{theirs}"
    href = f"{table}/{name}" if name in context.order.get(table, {}) else ""
    return f"{name} {write_quantity(str(source.get('weight') or ''), 'mass')}".strip(), href


def _link_forward(context: Context, table: str) -> Callable[[Any], Runs]:
    """A row's own identifier, which leads on to what was made of the thing."""
    lineage = context.lineage

    def lead(name: str) -> str:
        if table == "lots":
            return f"lots/{name}"
        node = Node(table, name)
        for link in lineage.uses(node):
            if not lineage.season_of(link.target) and link.kind != "sown":
                return f"{link.target.table}/{link.target.id}"
        lots = lineage.lots_reached(node)
        return f"lots/{lots[0]}" if lots else ""

    return lambda name: ((name, lead(name)),)


def join_runs(parts: Iterable[Runs], separator: str) -> Runs:
    """Parts of a cell with the separator between them."""
    runs: list[tuple[str, str]] = []
    for part in parts:
        if runs:
            runs.append((separator, ""))
        runs += part
    return tuple(runs)


def gaps_at(context: Context, node: Node) -> Iterator[Runs]:
    """The numbers of the gaps that stand at a record, each leading to its card."""
    for number in context.result.numbers_of(node):
        yield ((f"gap {number}", f"gap/{number}"),)
