"""The lot's line: layers from parents to buyers, gaps marked by shape and word."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from certgen.typeset import svg
from certgen.typeset.design import COLOURS, RULE
from certgen.typeset.faces import shorten
from certgen.typeset.marks import mark


@dataclass(frozen=True, slots=True)
class LineNode:
    """A record on the line. `mark` and `word` say the gap that stands at it; empty when none does."""

    key: str
    label: str
    detail: str = ""
    mark: str = ""
    word: str = ""
    root: bool = False


@dataclass(frozen=True, slots=True)
class LineLayer:
    """Records of one kind. `plural` names them when they are shown as a number."""

    title: str
    plural: str
    nodes: tuple[LineNode, ...]


@dataclass(frozen=True, slots=True)
class LinePicture:
    """Layers from left to right, links between keys, and sentences to stand below."""

    title: str
    description: str
    layers: tuple[LineLayer, ...]
    links: tuple[tuple[str, str], ...]
    width: float
    notes: tuple[str, ...] = ()


#: More records than this in a layer are gathered; those with a gap stay visible as long as they fit.
MOST: Final = 12
_BOX: Final = 19.0
_PITCH: Final = 22.5
_HEAD: Final = 16.0
_GAP: Final = 20.0
_NOTE: Final = 10.0
#: Room for half a stroke at either edge.
_EDGE: Final = 0.8


def collapse(layer: LineLayer, most: int = MOST) -> tuple[LineLayer, dict[str, str]]:
    """The layer with at most `most` boxes, and for each record that was gathered the box that now stands
    for it."""
    if len(layer.nodes) <= most:
        return layer, {}
    marked = [node for node in layer.nodes if node.mark or node.root]
    shown = marked[: most - 1]
    kept = {node.key for node in shown}
    rest = [node for node in layer.nodes if node.key not in kept]
    worst = next((name for name in ("rejected", "unproven") if any(node.mark == name for node in rest)), "")
    faulty = sum(1 for node in rest if node.mark)
    key = f"gathered/{layer.title}"
    gathered = LineNode(
        key,
        f"{len(rest)} {'more ' if shown else ''}{layer.plural}",
        "with no gap" if not faulty else "",
        worst,
        f"{faulty} with gaps" if faulty else "",
    )
    return replace(layer, nodes=(*shown, gathered)), {node.key: key for node in rest}


def _ordered(layers: list[LineLayer], links: set[tuple[str, str]]) -> list[LineLayer]:
    """Layers with their boxes near those they hang on, so that few lines cross."""
    placed: dict[str, float] = {}
    done = []
    before: dict[str, list[str]] = {}
    for source, target in sorted(links):
        before.setdefault(target, []).append(source)
    for layer in layers:

        def middle(node: LineNode) -> float:
            known = [placed[key] for key in before.get(node.key, ()) if key in placed]
            return sum(known) / len(known) if known else 0.5

        nodes = tuple(sorted(layer.nodes, key=middle))
        for number, node in enumerate(nodes):
            placed[node.key] = (number + 0.5) / len(nodes)
        done.append(replace(layer, nodes=nodes))
    return done


def draw_line(picture: LinePicture) -> str:
    """Columns of boxes joined by curves. A layer without records is left out."""
    stands_for: dict[str, str] = {}
    layers = []
    for layer in picture.layers:
        if layer.nodes:
            smaller, gathered = collapse(layer)
            layers.append(smaller)
            stands_for |= gathered
    links = {
        (stands_for.get(source, source), stands_for.get(target, target)) for source, target in picture.links
    }
    layers = _ordered(layers, links)
    deepest = max((len(layer.nodes) for layer in layers), default=0)
    height = _HEAD + max(deepest, 1) * _PITCH
    count = max(len(layers), 1)
    room = picture.width - 2 * _EDGE
    box = min(96.0, (room - (count - 1) * _GAP) / count)
    step = (room - box) / (count - 1) if count > 1 else 0.0
    at: dict[str, tuple[float, float]] = {}
    body: list[str] = []
    boxes: list[str] = []
    for column, layer in enumerate(layers):
        x = _EDGE + column * step
        boxes.append(
            svg.text(
                x,
                7,
                shorten(layer.title, box + _GAP - 4, 6.8, weight=600),
                size=6.8,
                weight=600,
                fill=COLOURS["quiet"],
            )
        )
        top = _HEAD + (height - _HEAD - len(layer.nodes) * _PITCH) / 2
        for number, node in enumerate(layer.nodes):
            y = top + number * _PITCH
            at[node.key] = (x, y + _BOX / 2)
            boxes.append(_draw_box(node, x, y, box))
    for source, target in sorted(links):
        if source in at and target in at:
            (x1, y1), (x2, y2) = at[source], at[target]
            if x2 > x1:
                body.append(_curve(x1 + box, y1, x2, y2))
    body.append(svg.line(0, 10.5, picture.width, 10.5, width=RULE))
    notes = [
        svg.text(0, height + (number + 1) * _NOTE, shorten(note, picture.width, 7))
        for number, note in enumerate(picture.notes)
    ]
    whole = height + (len(notes) + 0.4) * _NOTE if notes else height
    return svg.document(
        picture.width, whole, picture.title, picture.description, body + boxes + notes, ident="line"
    )


def _curve(x1: float, y1: float, x2: float, y2: float) -> str:
    bend = min((x2 - x1) / 2, 40)
    n = svg.number
    return svg.path(
        f"M{n(x1)} {n(y1)}C{n(x1 + bend)} {n(y1)} {n(x2 - bend)} {n(y2)} {n(x2)} {n(y2)}",
        width=0.6,
        stroke=COLOURS["rule"],
    )


def _draw_box(node: LineNode, x: float, y: float, width: float) -> str:
    pen = 1.4 if node.root else 0.6
    stroke = COLOURS[node.mark] if node.mark in COLOURS else COLOURS["ink"]
    parts = [
        svg.rect(
            x,
            y,
            width,
            _BOX,
            fill=COLOURS["wash"] if node.root else COLOURS["paper"],
            stroke=stroke,
            stroke_width=pen if not node.mark else 1.0,
            dash="2.4 1.6" if node.mark else "",
        )
    ]
    room = width - 8
    left = x + 4
    if node.mark:
        parts.append(mark(node.mark, x + 7, y + 6.2, 6.6))
        left += 9
        room -= 9
    parts.append(svg.text(left, y + 8.3, shorten(node.label, room, 7, weight=600), size=7, weight=600))
    second = node.word or node.detail
    if second:
        parts.append(
            svg.text(
                x + 4,
                y + 15.8,
                shorten(second, width - 8, 6),
                size=6,
                weight=600 if node.word else 400,
                fill=COLOURS["ink"] if node.word else COLOURS["quiet"],
            )
        )
    return "".join(parts)
