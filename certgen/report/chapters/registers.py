"""The registers: every record of every table, a row each, in columns chosen for the eye.

A field that has no column of its own stands in the last one with its name, so nothing recorded is left out,
and a
table that is new to the contract gets its register without a line of code here.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from certgen.lineage import Node
from certgen.report.wording import is_absent, values, write
from certgen.typeset.parts import Register, RegisterColumn

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from certgen.report.context import Context

Pairs = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Shown:
    """A column of a register: its heading, the fields it joins, its part of the width."""

    title: str
    fields: tuple[str, ...]
    share: float = 1.0
    kind: str = "text"


#: Words for yes and no where 'yes' alone would say too little.
YES_NO: Final = {
    "other_buds_cleared": ("buds cleared", "buds not cleared"),
    "secured": ("secured", "not secured"),
    "fruit_marked": ("fruit marked", "fruit not marked"),
}
COLUMNS: Final[dict[str, tuple[Shown, ...]]] = {
    "blocks": (
        Shown("Block", ("block",)),
        Shown("Name", ("name",), 2),
        Shown("Status", ("status",)),
        Shown("Organic since", ("organic_since",)),
        Shown("Last prohibited", ("last_prohibited_substance",), 1.2),
        Shown("Area", ("area",), 1, "number"),
        Shown("Boundary and buffer", ("boundary", "buffer"), 3),
        Shown("Nearest same crop", ("nearest_same_crop",)),
    ),
    "plantings": (
        Shown("Planting", ("planting",)),
        Shown("Block", ("block",)),
        Shown("Variety", ("variety",), 1.5),
        Shown("Planted", ("planted",)),
        Shown("Material", ("material", "material_status"), 1.6),
        Shown("Origin", ("origin.lot", "origin.supplier", "origin.certificate"), 2),
        Shown("Generation", ("generation",), 0.6, "number"),
    ),
    "trees": (
        Shown("Tree", ("tree",)),
        Shown("Planting", ("planting",)),
        Shown("Row", ("row",), 0.6),
        Shown("Place", ("position",), 0.6),
        Shown("Sex", ("sex",), 1.2),
        Shown("Removed", ("removed", "removed_because"), 2),
    ),
    "screening": (
        Shown("Sample", ("sample",)),
        Shown("Tree", ("tree", "trees"), 1.2),
        Shown("Mark", ("mark",)),
        Shown("Collected", ("collected",)),
        Shown("Method and targets", ("method", "targets"), 1.6),
        Shown("Controls", ("controls",)),
        Shown("Result", ("result",), 1.1),
        Shown("Laboratory and report", ("laboratory", "report", "reported"), 2.4),
    ),
    "bagging": (
        Shown("Bag", ("bag",)),
        Shown("Tree", ("tree",)),
        Shown("Covered", ("covered",)),
        Shown("Tag says", ("tag.date", "tag.variety", "tag.tree"), 1.8),
        Shown("Flower", ("flower", "stage"), 1.5),
        Shown("Care", ("other_buds_cleared", "secured", "bag_use"), 1.8),
        Shown("Checks", ("checks",), 1.3),
        Shown("Uncovered", ("uncovered",)),
        Shown("Outcome", ("outcome", "fruit_marked"), 1.2),
    ),
    "harvests": (
        Shown("Picking", ("harvest",)),
        Shown("Date", ("date",)),
        Shown("Bags", ("bags",), 3),
        Shown("Trees", ("trees",)),
        Shown("Fruit", ("fruits",), 0.6, "number"),
        Shown("Weight", ("weight",), 0.8, "number"),
        Shown("Stage", ("stage",)),
        Shown("Status", ("status",)),
        Shown("Ripening", ("ripening.temperature", "ripening.until", "ripening.colour"), 1.5),
    ),
    "batches": (
        Shown("Batch", ("batch",)),
        Shown("Date", ("date",)),
        Shown("Pickings", ("harvests",), 1.5),
        Shown("Status", ("status",)),
        Shown("Equipment", ("equipment", "blade", "runs"), 2),
        Shown("Rinses", ("rinses", "floated_off"), 1),
        Shown("Wet", ("wet_weight",), 0.8, "number"),
        Shown("Drying", ("drying.method", "drying.temperature", "drying.from", "drying.to"), 1.6),
        Shown("Dry", ("dry_weight",), 0.8, "number"),
        Shown("Moisture", ("moisture",), 0.7, "number"),
    ),
    "cleaning": (
        Shown("Cleaning", ("cleaning",)),
        Shown("Date", ("date",)),
        Shown("Equipment", ("equipment",), 2.4),
        Shown("How", ("method",), 2.4),
        Shown("Before batch", ("before",)),
    ),
    "lots": (
        Shown("Lot", ("lot",)),
        Shown("Variety", ("variety",), 1.2),
        Shown("Packed", ("packed",)),
        Shown("From", ("sources",), 1.8),
        Shown("Weight", ("weight",), 0.8, "number"),
        Shown("Status", ("status",)),
        Shown("Packing", ("containers", "packaging", "container_use"), 1.8),
        Shown("Storage", ("storage",)),
        Shown("Label says", ("label.lot", "label.variety", "label.status", "label.germination"), 1.8),
    ),
    "tests": (
        Shown("Test", ("test",)),
        Shown("Lot", ("lot",)),
        Shown("Date", ("date",)),
        Shown("Kind", ("kind",)),
        Shown(
            "Figures",
            ("replicates", "per_replicate", "moisture", "weighings", "pure", "other", "inert", "pools"),
            2.6,
        ),
        Shown("How", ("temperature", "substrate", "counts"), 2),
        Shown("Laboratory and report", ("laboratory", "report"), 1.8),
    ),
    "movements": (
        Shown("Movement", ("movement",)),
        Shown("Date", ("date",)),
        Shown("Lot", ("lot",)),
        Shown("Kind", ("kind",)),
        Shown("Weight", ("weight",), 0.8, "number"),
        Shown("Party", ("party",), 2),
        Shown("Document", ("document",)),
        Shown("Planting", ("planting",)),
    ),
    "inputs": (
        Shown("Input", ("input",)),
        Shown("Date", ("date",)),
        Shown("Block", ("block",)),
        Shown("Material", ("material",), 1.6),
        Shown("Purpose and rate", ("purpose", "rate"), 1.8),
        Shown("Allowed by", ("allowed_by",), 1.8),
        Shown("Supplier", ("supplier",), 1.2),
    ),
    "incidents": (
        Shown("Incident", ("incident",)),
        Shown("Date", ("date",)),
        Shown("Kind", ("kind",)),
        Shown("About", ("about",), 1.5),
        Shown("Action", ("action",), 3),
        Shown("Closed", ("closed",)),
        Shown("Certifier told", ("certifier_notified",)),
    ),
    "explanations": (
        Shown("Rule", ("rule",), 1.4),
        Shown("About", ("about",), 1.4),
        Shown("Reason", ("reason",), 4),
        Shown("By", ("by",)),
        Shown("Date", ("date",)),
    ),
}


def build_register(context: Context, table_name: str, wanted: frozenset[str] | None = None) -> Register:
    """The register of a table; `wanted` keeps only these identifiers (None: all)."""
    table = context.tables[table_name]
    frame = context.season.table(table_name)
    known = {column.name: column for column in table.columns}
    shown = [
        (one, [name for name in one.fields if name in known])
        for one in COLUMNS.get(table_name, _plain_columns(known))
    ]
    # A column in which nobody has written anything only takes room.
    shown = [
        (one, names)
        for number, (one, names) in enumerate(shown)
        if number == 0 or any(_is_used(frame, name) for name in names)
    ]
    taken = {name for _, names in shown for name in names}
    rest = [name for name in known if name not in taken and _is_used(frame, name)]
    used = [name for name in known if name in taken or name in rest]
    lists = {name: values(frame, name) for name in used}
    links = {name: _linker(context, known[name]) for name in used}
    forward = _forward(context, table_name)
    key = table.key
    rows = []
    for number in range(len(frame)):
        name = str(lists[key][number]) if key and lists[key][number] is not None else ""
        if wanted is not None and name not in wanted:
            continue
        anchor = f"row/lots/{name}" if table_name == "lots" else f"{table_name}/{name or number}"
        cells: list[Pairs] = []
        for position, (_, names) in enumerate(shown):
            if position == 0 and key and names == [key]:
                cells.append(((name, forward(name)),))
            else:
                cells.append(_joined(names, lists, number, links))
        cells.append(_others(context, table_name, name, rest, lists, number, known, links))
        rows.append((anchor, tuple(cells)))
    columns = [RegisterColumn(one.title, one.share, one.kind) for one, _ in shown]
    if rest or any(row[1][-1] for row in rows):
        columns.append(RegisterColumn("Also recorded", 2.4))
    else:
        rows = [(anchor, cells[:-1]) for anchor, cells in rows]
    return Register(table_name, table.title, table.description, tuple(columns), tuple(rows))


def _plain_columns(known: Mapping[str, Any]) -> tuple[Shown, ...]:
    names = [name for name in known if name not in {"note", "recorded_by", "evidence"}][:8]
    return tuple(Shown(known[name].field.title or name, (name,)) for name in names)


def _is_used(frame: Any, name: str) -> bool:
    column = frame[name]
    if column.dtype == object:
        return any(not is_absent(value) for value in column.tolist())
    return bool(column.notna().any())


def _linker(context: Context, column: Any) -> Callable[[Any], Pairs]:
    """What turns a field's value into text with links."""
    name = column.name

    def link(value: str) -> str:
        for table in column.refers_to:
            if value in context.order.get(table, {}):
                return f"{table}/{value}"
        return ""

    if name in YES_NO:
        return lambda value: ((YES_NO[name][0 if value else 1], ""),)
    if column.refers_to and column.kind == "list":
        return lambda value: _with_commas([(write(one), link(write(one))) for one in value])
    if column.refers_to:
        return lambda value: ((str(value), link(str(value))),)
    if name == "sources":
        return lambda value: _with_commas([_source(context, one) for one in value])
    return lambda value: ((write(value), ""),)


def _source(context: Context, one: Mapping[str, Any]) -> tuple[str, str]:
    table, name = ("batches", one.get("batch")) if one.get("batch") else ("lots", one.get("lot"))
    href = f"{table}/{name}" if name in context.order.get(table, {}) else ""
    return f"{name} {one.get('weight') or ''}".strip(), href


def _with_commas(pairs: Sequence[tuple[str, str]]) -> Pairs:
    found: list[tuple[str, str]] = []
    for pair in pairs:
        if found:
            found.append((", ", ""))
        found.append(pair)
    return tuple(found)


def _joined(
    names: Sequence[str],
    lists: Mapping[str, Sequence[Any]],
    number: int,
    links: Mapping[str, Callable[[Any], Pairs]],
) -> Pairs:
    found: list[tuple[str, str]] = []
    for name in names:
        value = lists[name][number]
        if value is None:
            continue
        if found:
            found.append((", ", ""))
        found.extend(links[name](value))
    return tuple(found)


def _others(
    context: Context,
    table: str,
    name: str,
    rest: Sequence[str],
    lists: Mapping[str, Sequence[Any]],
    number: int,
    known: Mapping[str, Any],
    links: Mapping[str, Callable[[Any], Pairs]],
) -> Pairs:
    found: list[tuple[str, str]] = []
    for gap in context.result.numbers_of(Node(table, name)):
        if found:
            found.append((", ", ""))
        found.append((f"gap {gap}", f"gap/{gap}"))
    for field_name in rest:
        value = lists[field_name][number]
        if value is None:
            continue
        if found:
            found.append(("; ", ""))
        if field_name != "note":
            title = "by" if field_name == "recorded_by" else _title(known, field_name)
            found.append((f"{title} ", ""))
        found.extend(links[field_name](value))
    return tuple(found)


def _title(known: Mapping[str, Any], name: str) -> str:
    title = known[name].field.title or name.replace("_", " ").replace(".", " ")
    return title[:1].lower() + title[1:]


def _forward(context: Context, table: str) -> Callable[[str], str]:
    """Where a row's own identifier leads: on to what was made of the thing."""
    if table == "lots":
        return lambda name: f"lots/{name}"
    if table in {"inputs", "cleaning", "incidents", "blocks", "plantings"}:
        return lambda _name: "land" if table in {"blocks", "plantings"} else table
    lineage = context.lineage

    def lead(name: str) -> str:
        node = Node(table, name)
        for link in lineage.uses(node):
            if not lineage.season_of(link.target) and link.kind != "sown":
                return f"{link.target.table}/{link.target.id}"
        lots = lineage.lots_reached(node)
        return f"lots/{lots[0]}" if lots else "registers"

    return lead


def build_registers(context: Context, choice: str) -> tuple[Register, ...]:
    """All registers (`full`), the records that lots rest on (`lots`), or none (`none`)."""
    if choice == "none":
        return ()
    kept: dict[str, set[str]] | None = None
    if choice == "lots":
        kept = {}
        for lot in context.order["lots"]:
            for node in context.lineage.line_of_lot(lot):
                if not context.lineage.season_of(node):
                    kept.setdefault(node.table, set()).add(node.id)
    built = []
    for name in context.tables:
        if len(context.season.table(name)) == 0:
            continue
        wanted = None
        if kept is not None and name not in {"movements", "incidents", "explanations"}:
            wanted = frozenset(kept.get(name, ()))
        register = build_register(context, name, wanted)
        if register.rows:
            built.append(register)
    return tuple(built)
