"""A lot's line and its time line, gathered from the records for drawing."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from datetime import date
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final

from certgen.lineage import Node
from certgen.report.chapters.lot.parents import samples_of
from certgen.report.chapters.lot.seed import describe_lot
from certgen.report.drawings.glance import draw_glance
from certgen.report.drawings.ledger import draw_ledger
from certgen.report.drawings.line import LineLayer, LineNode, LinePicture
from certgen.report.drawings.timeline import Lane, TimePicture, draw_timeline
from certgen.report.wording import count_of, say_days, spans, whole, write
from certgen.rules.wording import noun
from certgen.typeset.parts import Picture

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from certgen.dossier.trace_matrix import Open
    from certgen.report.context import Context
    from certgen.typeset.parts import Part

#: Layers of the drawing of a lot's line: table, heading.
_LAYERS: Final = (
    ("plantings", "Plantings"),
    ("screening", "Samples"),
    ("trees", "Parents"),
    ("bagging", "Bags"),
    ("harvests", "Pickings"),
    ("batches", "Batches"),
    ("lots", "Lots"),
    ("movements", "Movements"),
)
#: The fields that stand beside a record's number; beside a tree stands what its samples say.
_DETAILS: Final = {
    "plantings": ("variety",),
    "screening": ("method", "result"),
    "bagging": ("covered",),
    "harvests": ("date",),
    "batches": ("dry_weight",),
    "lots": ("weight",),
    "movements": ("kind", "weight"),
}


def line_of(context: Context, name: str) -> set[Node]:
    """The lot and every record its claim rests on."""
    return set(context.lineage.line_of_lot(name)) | {Node("lots", name)}


def gather_lot_picture(context: Context, name: str, width: float, address: str = "") -> LinePicture:
    """The line of a lot with what was moved or blended out of it, ready to be drawn.

    Where there is an `address`, each box leads to it and the record's anchor.
    """
    lot = Node("lots", name)
    moved = {link.target for link in context.lineage.uses(lot) if link.kind in {"moved", "blended"}}
    line = line_of(context, name)
    nodes = line | _samples(context, line) | moved
    return replace(gather_picture(context, f"The line of lot {name}", nodes, {lot}, width), address=address)


def gather_picture(
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

    def box(node: Node) -> LineNode:
        return _box(context, node, details.get(node, ""), lacking.get(node, ""), root=node in roots)

    drawn = tuple(
        LineLayer(heading, noun(table, 2), tuple(map(box, _in_order(context, table, nodes))))
        for table, heading in layers
    )
    tables = {table for table, _ in layers}
    kept = {node for node in nodes if node.table in tables}
    links = tuple(
        (_key_of(link.source), _key_of(node))
        for node in sorted(kept)
        for link in context.lineage.sources(node)
        if link.source in kept
    )
    return LinePicture(title, _say_layers(context, layers, drawn), drawn, links, width)


def _key_of(node: Node) -> str:
    return f"{node.table}/{node.id}"


def _in_order(context: Context, table: str, nodes: set[Node]) -> list[Node]:
    """The records of a table, this season's first, as they stand in their register."""
    order = context.order.get(table, {})
    return sorted(
        (node for node in nodes if node.table == table),
        key=lambda node: (context.lineage.season_of(node), order.get(node.id, len(order)), node.id),
    )


def _box(context: Context, node: Node, detail: str, lacking: str, *, root: bool) -> LineNode:
    found = context.matrices.find_open([node])
    earlier = context.lineage.season_of(node)
    mark, word = _mark_of(found), _say_open(found) or lacking
    if node.table == "trees" and not word:
        # A tree whose sample something is open at isn't plainly negative.
        of_samples = [Node("screening", row["sample"]) for row in samples_of(context, node.id)]
        found = context.matrices.find_open(of_samples)
        mark, word = _mark_of(found), f"{detail}, sample’s {_say_open(found)}" if found.numbers else ""
    return LineNode(
        _key_of(node),
        node.id,
        detail or (f"season {earlier}" if earlier else ""),
        mark or ("unproven" if lacking else ""),
        word,
        root,
        _key_of(node) if not earlier and node.id in context.order.get(node.table, {}) else "",
    )


def _mark_of(found: Open) -> str:
    return found.standing if found.numbers else ""


def _say_open(found: Open) -> str:
    return f"gap {', '.join(map(str, found.numbers))}" if found.numbers else ""


def _details(context: Context, nodes: set[Node]) -> dict[Node, str]:
    """A few words beside each record: a tree's screening, a bag's day, a weight, a buyer."""
    details = {node: context.verdicts.get(node.id, "") for node in nodes if node.table == "trees"}
    for table, fields in _DETAILS.items():
        key = context.key_of(table)
        for row in context.rows_of(table, nodes):
            words = [write(row[field]) for field in fields if row[field] is not None]
            details[Node(table, row[key])] = " ".join(words)
    return details


def _say_layers(context: Context, layers: Sequence[tuple[str, str]], drawn: Sequence[LineLayer]) -> str:
    """Each layer with all its records, in stretches of those of which the same is said."""
    sentences = []
    for (table, _), layer in zip(layers, drawn, strict=True):
        by_word: defaultdict[str, list[str]] = defaultdict(list)
        for node in layer.nodes:
            by_word[node.word].append(node.label)
        said = []
        for word, names in by_word.items():
            stretches = ", ".join(" to ".join(one) for one in spans(names, context.order.get(table, {})))
            said.append(f"{stretches} ({word})" if word else stretches)
        if said:
            sentences.append(f"{layer.title}: {', '.join(said)}.")
    return " ".join(sentences)


def describe_timeline(context: Context, name: str, line: set[Node], width: float) -> TimePicture | None:
    """A lot's time line, ready to be drawn; None where no day is recorded."""
    lanes = _lanes(context, name, line)
    if not any(lane.days for lane in lanes):
        return None
    description = f"Time line of lot {name}: {'; '.join(lane.words for lane in lanes)}."
    return TimePicture(f"Time line of lot {name}", description, lanes, width)


def show_timeline(context: Context, name: str, line: set[Node], width: float) -> list[Part]:
    """The drawing of a lot's time line, if any day is recorded."""
    picture = describe_timeline(context, name, line, width)
    if picture is None:
        return []
    return [Picture(f"time-of-{name}", draw_timeline(picture), picture.description)]


def show_glance(context: Context, name: str, line: set[Node], width: float) -> list[Part]:
    """A lot's time line and its ledger's bars in one drawing, or what there is of the two."""
    timeline, ledger = describe_timeline(context, name, line, width), describe_lot(context, name, width)
    if timeline is None or ledger is None:
        alone = (
            [] if ledger is None else [Picture(f"ledger-of-{name}", draw_ledger(ledger), ledger.description)]
        )
        return [*show_timeline(context, name, line, width), *alone]
    title = f"Lot {name}: when it was done, and where its grams went"
    said = f"{timeline.description} {ledger.description}"
    return [Picture(f"glance-of-{name}", draw_glance(title, timeline, ledger, width), said)]


def _lanes(context: Context, name: str, line: set[Node]) -> tuple[Lane, ...]:
    """The days of each kind of work on a lot, in the order in which the work should happen."""
    samples = context.rows_of("screening", _samples(context, line))
    screened = _days_in(samples, "collected")
    lots = context.rows_of("lots", {Node("lots", name)})
    packed = _days_in(lots, "packed")
    movements = context.rows_by("movements", "lot").get(name, [])
    others = [row for row in movements if row["kind"] not in {"sold", "counted"}]
    sales = [row for row in movements if row["kind"] == "sold"]
    bags, pickings, batches = (context.rows_of(table, line) for table in ("bagging", "harvests", "batches"))
    tests = context.rows_by("tests", "lot").get(name, [])
    return (
        _lane("screening", samples, "collected"),
        _lane("bagging", bags, "covered", after=screened),
        _lane("harvests", pickings, "date"),
        _lane("batches", batches, "date"),
        Lane(f"packed, {say_days(packed)}" if packed else "packing: no day recorded", packed),
        _lane("tests", tests, "date"),
        _lane("movements", others, "date"),
        _lane("sale", sales, "date", after=packed),
    )


def _samples(context: Context, line: set[Node]) -> set[Node]:
    """The samples on a line and all others of its trees."""
    links = (link for node in line if node.table == "trees" for link in context.lineage.sources(node))
    of_trees = {link.source for link in links if link.kind == "screened"}
    return of_trees | {node for node in line if node.table == "screening"}


def _days_in(rows: Sequence[Mapping[str, Any]], field: str) -> tuple[date, ...]:
    return tuple(row[field] for row in rows if row[field])


def _lane(what: str, rows: Sequence[Mapping[str, Any]], field: str, *, after: tuple[date, ...] = ()) -> Lane:
    """A lane in words, `13 samples, 6 January 2026`; its days before the first of `after`, if there is any,
    break the order."""
    worked = _days_in(rows, field)
    if not worked:
        return Lane(f"{noun(what, 2)}: {'no day' if rows else 'none'} recorded", ())
    first = min(after, default=date.min)
    early = tuple(day for day in worked if day < first)
    words = f"{count_of(what, len(rows))}, {say_days(worked)}"
    return Lane(f"{words}; {whole(len(early))} too early" if early else words, worked, early)
