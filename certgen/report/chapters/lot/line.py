"""A lot's line and its time line, gathered from the records for drawing."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING, Final

from certgen.lineage import Node
from certgen.report.drawings.line import LineLayer, LineNode, LinePicture, draw_line
from certgen.report.drawings.timeline import Lane, TimePicture, draw_timeline
from certgen.report.wording import days, whole, write
from certgen.rules.wording import noun
from certgen.typeset.design import WEIGHT_MARKS
from certgen.typeset.parts import Picture

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from certgen.report.context import Context
    from certgen.typeset.parts import Part

_WORST: Final = ("rejected", "unproven")
#: Layers of the line's drawing: table, heading.
_LAYERS: Final = (
    ("plantings", "Plantings"),
    ("trees", "Parents"),
    ("bagging", "Bags"),
    ("harvests", "Pickings"),
    ("batches", "Batches"),
    ("lots", "Lots"),
    ("movements", "Movements"),
)


def line_of(context: Context, name: str) -> set[Node]:
    """The lot and every record its claim rests on."""
    return set(context.lineage.line_of_lot(name)) | {Node("lots", name)}


def gather_line(context: Context, name: str, width: float) -> LinePicture:
    """The line of a lot with what was moved or blended out of it, ready to be drawn."""
    root = Node("lots", name)
    moved = {link.target for link in context.lineage.uses(root) if link.kind in {"moved", "blended"}}
    nodes = line_of(context, name) | moved
    return picture_nodes(context, f"The line of lot {name}", nodes, {root}, width)


def picture_nodes(
    context: Context,
    title: str,
    nodes: set[Node],
    roots: set[Node],
    width: float,
    *,
    layers: Sequence[tuple[str, str]] = _LAYERS,
    lacking: Mapping[Node, str] = MappingProxyType({}),
) -> LinePicture:
    """Records and the links between them, ready to be drawn.

    `layers` are (table, heading) from left to right; records of other tables are left out. `roots` are drawn
    as what was asked for. `lacking` says in a word or two what a record without a gap of its own lacks.
    """
    details = _details(context, nodes)
    drawn = []
    for table, heading in layers:
        order = context.order.get(table, {})
        found = sorted(
            (node for node in nodes if node.table == table),
            key=lambda node: (context.lineage.season_of(node), order.get(node.id, len(order)), node.id),
        )
        boxes = tuple(
            _line_node(context, node, details, node in roots, lacking.get(node, "")) for node in found
        )
        drawn.append(LineLayer(heading, noun(table, 2), boxes))
    kept = {node for node in nodes if node.table in dict(layers)}
    links = tuple(
        (_key_of(link.source), _key_of(node))
        for node in sorted(kept)
        for link in context.lineage.sources(node)
        if link.source in kept
    )
    return LinePicture(title, _say_line(drawn), tuple(drawn), links, width)


def show_line(context: Context, name: str, width: float) -> Picture:
    """The drawing of a lot's line."""
    picture = gather_line(context, name, width)
    return Picture(
        f"line-of-{name}",
        draw_line(picture),
        f"{picture.title}, from left to right. {picture.description}",
        "A dashed box with a shape marks a gap. Long layers are gathered; the tables below name every"
        " record.",
    )


def _key_of(node: Node) -> str:
    return f"{node.table}/{node.id}"


def _line_node(
    context: Context, node: Node, details: dict[Node, str], root: bool, lacking: str = ""
) -> LineNode:
    gaps = context.gaps_at(node)
    earlier = context.lineage.season_of(node)
    marks = [WEIGHT_MARKS[gap.weight] for _, gap in gaps]
    worst = next((mark for mark in _WORST if mark in marks), "")
    numbers = [str(number) for number, gap in gaps if gap.weight != "advice"]
    return LineNode(
        _key_of(node),
        node.id,
        details.get(node, "") or (f"season {earlier}" if earlier else ""),
        worst or ("unproven" if lacking else ""),
        f"gap {', '.join(numbers)}" if worst else lacking,
        root,
    )


def _details(context: Context, nodes: set[Node]) -> dict[Node, str]:
    """A few words beside each record: a tree's screening, a bag's day, a weight, a buyer."""
    found: dict[Node, str] = {}
    for node in nodes:
        if node.table == "trees":
            found[node] = context.verdicts.get(node.id, "")
    for table, fields in (
        ("plantings", ("variety",)),
        ("bagging", ("covered",)),
        ("harvests", ("date",)),
        ("batches", ("dry_weight",)),
        ("lots", ("weight",)),
        ("movements", ("kind", "weight")),
    ):
        for row in context.rows_of(table, nodes):
            name = row[context.key_of(table)]
            found[Node(table, name)] = " ".join(
                write(row[field]) for field in fields if row[field] is not None
            )
    return found


def _say_line(layers: Sequence[LineLayer]) -> str:
    said = []
    for layer in layers:
        if layer.nodes:
            names = [node.label + (f" ({node.word})" if node.word else "") for node in layer.nodes]
            shown = ", ".join(names[:8]) + (f" and {len(names) - 8} more" if len(names) > 8 else "")
            said.append(f"{layer.title}: {shown}.")
    return " ".join(said)


def show_timeline(context: Context, name: str, line: set[Node], width: float) -> list[Part]:
    """The drawing of a lot's time line, if any day is recorded."""
    lanes = []
    screened = {
        link.source
        for node in line
        if node.table == "trees"
        for link in context.lineage.sources(node)
        if link.kind == "screened"
    } | {node for node in line if node.table == "screening"}
    cleared = [row["collected"] for row in context.rows_of("screening", screened) if row["collected"]]
    bags = context.rows_of("bagging", line)
    covered = [row["covered"] for row in bags if row["covered"]]
    pickings = [row["date"] for row in context.rows_of("harvests", line) if row["date"]]
    runs = [row["date"] for row in context.rows_of("batches", line) if row["date"]]
    lot_rows = context.rows_of("lots", {Node("lots", name)})
    packed = [row["packed"] for row in lot_rows if row["packed"]]
    tests = [row["date"] for row in context.rows_by("tests", "lot").get(name, []) if row["date"]]
    movements = [
        row
        for row in context.rows_by("movements", "lot").get(name, [])
        if row["date"] and row["kind"] != "counted"
    ]
    sold = [row["date"] for row in movements if row["kind"] == "sold"]
    other = [row["date"] for row in movements if row["kind"] != "sold"]
    before_clearing = [day for day in covered if cleared and day < min(cleared)]
    for title, found, faults in (
        ("Screening", cleared, []),
        ("Covering", covered, before_clearing),
        ("Picking", pickings, []),
        ("Batches", runs, []),
        ("Packing", packed, []),
        ("Tests", tests, []),
        ("Movements", other, []),
        ("Sales", sold, [day for day in sold if packed and day < min(packed)]),
    ):
        words = f"{whole(len(found))}: {days(found)}" if found else "none recorded"
        lanes.append(Lane(title, tuple(found), words, tuple(faults)))
    if not any(lane.days for lane in lanes):
        return []
    said = "; ".join(f"{lane.name}, {lane.words}" for lane in lanes)
    picture = TimePicture(f"Time line of lot {name}", said, tuple(lanes), width)
    return [
        Picture(
            f"time-of-{name}",
            draw_timeline(picture),
            f"Time line of lot {name}: {said}.",
            "A stroke is a day of work. A diamond marks a day that comes before what it should follow.",
        )
    ]
