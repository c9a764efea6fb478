"""The lot's line: layers from parents to buyers, gaps marked by shape and word."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Final
from urllib.parse import quote

from certgen.report.drawings.labels import label
from certgen.typeset import svg
from certgen.typeset.design import COLOURS, RULE
from certgen.typeset.faces import shorten
from certgen.typeset.marks import mark


@dataclass(frozen=True, slots=True)
class LineNode:
    """A record on the line. `mark` and `word` say the gap that stands at it; empty when none does.

    `anchor` is the record's own where it has one to lead to.
    """

    key: str
    label: str
    detail: str = ""
    mark: str = ""
    word: str = ""
    root: bool = False
    anchor: str = ""


@dataclass(frozen=True, slots=True)
class LineLayer:
    """Records of one kind. `plural` names them when they are shown as a number."""

    title: str
    plural: str
    nodes: tuple[LineNode, ...]


@dataclass(frozen=True, slots=True)
class LinePicture:
    """Layers from left to right, links between keys, and sentences to stand below.

    Where there is an `address`, each record's box leads to it and the record's anchor.
    """

    title: str
    description: str
    layers: tuple[LineLayer, ...]
    links: tuple[tuple[str, str], ...]
    width: float
    notes: tuple[str, ...] = ()
    address: str = ""


_NOWHERE: Final[Mapping[str, frozenset[str]]] = MappingProxyType({})
#: More records than this in a layer are gathered; those with a gap stay visible as long as they fit.
MOST: Final = 12
_BOX: Final = 19.5
_PITCH: Final = 23.0
_HEAD: Final = 16.0
_GAP: Final = 20.0
_NOTE: Final = 10.0
#: Room for half a stroke at either edge.
_EDGE: Final = 0.8


def collapse(
    layer: LineLayer, most: int = MOST, leads_to: Mapping[str, frozenset[str]] = _NOWHERE
) -> tuple[LineLayer, dict[str, str]]:
    """The layer with at most `most` boxes, and for each record that was gathered the box that now stands
    for it.

    Records are gathered by where they lead, so that the bags of one picking stay together; where that leaves
    too many boxes, all in one.
    """
    if len(layer.nodes) <= most:
        return layer, {}
    shown = [node for node in layer.nodes if node.mark or node.root][: most - 1]
    kept = {node.key for node in shown}
    rest = [node for node in layer.nodes if node.key not in kept]
    groups = _group_nodes(rest, leads_to)
    if len(shown) + len(groups) > most:
        groups = [rest]
    boxes: list[LineNode] = []
    stands_for: dict[str, str] = {}
    for number, group in enumerate(groups):
        boxes.append(_gathered_box(layer, group, number))
        stands_for |= dict.fromkeys((node.key for node in group), boxes[-1].key)
    return replace(layer, nodes=(*shown, *boxes)), stands_for


def _group_nodes(nodes: Iterable[LineNode], leads_to: Mapping[str, frozenset[str]]) -> list[list[LineNode]]:
    """Records by where they lead, in the order in which they come."""
    together: dict[frozenset[str], list[LineNode]] = {}
    for node in nodes:
        together.setdefault(leads_to.get(node.key, frozenset()), []).append(node)
    return list(together.values())


def _gathered_box(layer: LineLayer, nodes: list[LineNode], number: int) -> LineNode:
    """The box that stands for some of a layer's records: how many, from which to which."""
    marks = [node.mark for node in nodes if node.mark]
    names = f"{nodes[0].label} … {nodes[-1].label}" if len(nodes) > 1 else nodes[0].label
    return LineNode(
        f"gathered/{layer.title}/{number}",
        f"{len(nodes)} {layer.plural}",
        names,
        next((mark for mark in ("rejected", "unproven") if mark in marks), ""),
        f"{len(marks)} with gaps" if marks else "",
    )


def _gather(picture: LinePicture) -> tuple[list[LineLayer], set[tuple[str, str]]]:
    """The layers that hold records, none too long, and the links between what is left to draw."""
    stands_for: dict[str, str] = {}
    targets: dict[str, set[str]] = {}
    for source, target in picture.links:
        targets.setdefault(source, set()).add(target)
    leads_to = {source: frozenset(there) for source, there in targets.items()}
    layers = []
    for layer in picture.layers:
        if layer.nodes:
            shorter, gathered = collapse(layer, leads_to=leads_to)
            layers.append(shorter)
            stands_for |= gathered
    links = {
        (stands_for.get(source, source), stands_for.get(target, target)) for source, target in picture.links
    }
    return layers, links


def _order_boxes(layers: list[LineLayer], links: set[tuple[str, str]]) -> list[LineLayer]:
    """Layers with their boxes near those they hang on, so that few lines cross."""
    sources: dict[str, list[str]] = {}
    for source, target in sorted(links):
        sources.setdefault(target, []).append(source)
    # How far down its layer each box stands, from 0 to 1.
    heights: dict[str, float] = {}

    def middle(node: LineNode) -> float:
        known = [heights[key] for key in sources.get(node.key, ()) if key in heights]
        return sum(known) / len(known) if known else 0.5

    ordered = []
    for layer in layers:
        nodes = tuple(sorted(layer.nodes, key=middle))
        heights |= {node.key: (number + 0.5) / len(nodes) for number, node in enumerate(nodes)}
        ordered.append(replace(layer, nodes=nodes))
    return ordered


def draw_line(picture: LinePicture) -> str:
    """Columns of boxes joined by curves. A layer without records is left out."""
    gathered, links = _gather(picture)
    layers = _order_boxes(gathered, links)
    height = _HEAD + max((len(layer.nodes) for layer in layers), default=1) * _PITCH
    count = max(len(layers), 1)
    room = picture.width - 2 * _EDGE
    box = min(96.0, (room - (count - 1) * _GAP) / count)
    step = (room - box) / (count - 1) if count > 1 else 0.0
    corners: dict[str, tuple[float, float]] = {}
    boxes: list[str] = []
    for column, layer in enumerate(layers):
        x = _EDGE + column * step
        boxes.append(label(x, 7, layer.title, box + _GAP - 4, size=6.8, weight=600, fill=COLOURS["quiet"]))
        top = _HEAD + (height - _HEAD - len(layer.nodes) * _PITCH) / 2
        for number, node in enumerate(layer.nodes):
            corners[node.key] = (x, top + number * _PITCH)
            drawn = _draw_box(node, *corners[node.key], box)
            boxes.append(_lead(picture.address, node, drawn))
    curves = [
        _draw_curve(corners[source], corners[target], box)
        for source, target in sorted(links)
        if source in corners and target in corners
    ]
    rule = svg.line(0, 10.5, picture.width, 10.5, width=RULE)
    notes = [
        label(0, height + number * _NOTE, note, picture.width, size=7)
        for number, note in enumerate(picture.notes, start=1)
    ]
    if notes:
        height += (len(notes) + 0.4) * _NOTE
    body = [*curves, rule, *boxes, *notes]
    role = "group" if picture.address else "img"
    return svg.document(
        picture.width, height, picture.title, picture.description, body, ident="line", role=role
    )


def _lead(address: str, node: LineNode, drawn: str) -> str:
    """A box, leading to its record where it can."""
    return svg.link(f"{address}{quote(node.anchor)}", drawn) if address and node.anchor else drawn


def _draw_curve(source: tuple[float, float], target: tuple[float, float], box: float) -> str:
    """The link between two boxes, whose upper left corners are given; nothing where it leads back."""
    if target[0] <= source[0]:
        return ""
    x1, x2 = source[0] + box, target[0]
    y1, y2 = source[1] + _BOX / 2, target[1] + _BOX / 2
    bend = min((x2 - x1) / 2, 40)
    n = svg.number
    return svg.path(
        f"M{n(x1)} {n(y1)}C{n(x1 + bend)} {n(y1)} {n(x2 - bend)} {n(y2)} {n(x2)} {n(y2)}",
        width=0.6,
        stroke=COLOURS["quiet"],
    )


def _draw_box(node: LineNode, x: float, y: float, width: float) -> str:
    outline = svg.rect(
        x,
        y,
        width,
        _BOX,
        fill=COLOURS["wash"] if node.root else COLOURS["paper"],
        stroke=COLOURS.get(node.mark, COLOURS["ink"]),
        stroke_width=1.0 if node.mark else 1.4 if node.root else 0.6,
        dash="2.4 1.6" if node.mark else "",
    )
    shape = mark(node.mark, x + 7, y + 6.2, 6.6) if node.mark else ""
    # A shape stands before the name.
    indent = 9 if node.mark else 0
    name = label(x + 4 + indent, y + 8.3, node.label, width - 8 - indent, size=7, weight=600)
    weight, fill = (600, COLOURS["ink"]) if node.word else (400, COLOURS["quiet"])
    words = shorten(node.word or node.detail, width - 8, 6.5)
    below = svg.text(x + 4, y + 16.2, words, size=6.5, weight=weight, fill=fill) if words else ""
    return outline + shape + name + below
