"""The land: blocks by their measured corners, to scale, with their buffers, a scale bar and north."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from certgen.report.drawings.labels import label
from certgen.typeset import svg
from certgen.typeset.design import COLOURS, RULE, RULE_HAIR

if TYPE_CHECKING:
    from certgen.figures.land_map import Point


@dataclass(frozen=True, slots=True)
class MapBlock:
    """A block: its name, what stands below it, its status, its corners in metres, and its buffer's width."""

    name: str
    words: str
    status: str
    corners: tuple[Point, ...]
    buffer_m: float = 0.0


@dataclass(frozen=True, slots=True)
class MapPicture:
    """The blocks of a farm on one flat map.

    `north` is how many degrees to the right of up it lies, None where nobody says. `origin` names the point
    that corners are counted from, where that lies on the map. `notes` are told beside it.
    """

    title: str
    description: str
    blocks: tuple[MapBlock, ...]
    width: float
    north: float | None = None
    origin: str = ""
    notes: tuple[str, ...] = ()


#: The column beside the map, and the most that a map is high, in points.
_COLUMN: Final = 138.0
_HIGH: Final = 330.0
#: The least height: the column beside the map takes it.
_LEAST: Final = 150.0
#: A buffer wider than this part of the map would hide it.
_WIDEST: Final = 0.2
_LINES: Final = {"organic": "", "transitional": "5 2", "conventional": "1.2 1.8"}


@dataclass(frozen=True, slots=True)
class _Scale:
    """From metres to points: the map's left and upper edge in metres, and points a metre."""

    left: float
    top: float
    points: float

    def at(self, point: Point) -> Point:
        return (point[0] - self.left) * self.points, (self.top - point[1]) * self.points


def draw_land_map(picture: MapPicture) -> str:
    """Blocks on the left; north, the scale bar and what the lines mean in a column on the right."""
    scale, span, height = _fit(picture)
    body = [_draw_buffer(block, scale, span) for block in picture.blocks if _keeps_buffer(block)]
    body += [_draw_outline(block, scale) for block in picture.blocks]
    for block in picture.blocks:
        body += _name_block(block, scale)
    if picture.origin:
        body += _draw_origin(scale.at((0.0, 0.0)))
    body += _draw_column(picture, scale.points, picture.width - _COLUMN, height)
    return svg.document(picture.width, height, picture.title, picture.description, body, ident="land-map")


def _fit(picture: MapPicture) -> tuple[_Scale, float, float]:
    """The scale at which all blocks fit, how far the blocks reach in metres, and the drawing's height."""
    corners = list(itertools.chain.from_iterable(block.corners for block in picture.blocks))
    (left, right), (low, high) = ((min(values), max(values)) for values in zip(*corners, strict=True))
    span = max(right - left, high - low)
    buffers = (min(block.buffer_m, _WIDEST * span) for block in picture.blocks if _keeps_buffer(block))
    margin = max(buffers, default=0.0) + 0.03 * span
    if picture.origin:
        left, right, low, high = min(left, 0.0), max(right, 0.0), min(low, 0.0), max(high, 0.0)
    deep = high - low + 2 * margin
    points = min((picture.width - _COLUMN - 12) / (right - left + 2 * margin), _HIGH / deep)
    return _Scale(left - margin, high + margin, points), span, max(deep * points, _LEAST)


def _keeps_buffer(block: MapBlock) -> bool:
    """Land that isn't organic keeps nothing off itself."""
    return block.buffer_m > 0 and block.status != "conventional"


def _outline(block: MapBlock, scale: _Scale) -> str:
    steps = (f"{svg.number(x)} {svg.number(y)}" for x, y in map(scale.at, block.corners))
    return f"M{'L'.join(steps)}Z"


def _draw_buffer(block: MapBlock, scale: _Scale, span: float) -> str:
    """A strip of the buffer's width outside the block: half of a stroke that is twice as wide."""
    width = 2 * min(block.buffer_m, _WIDEST * span) * scale.points
    return svg.path(_outline(block, scale), width=width, stroke=COLOURS["wash"], fill=COLOURS["wash"])


def _draw_outline(block: MapBlock, scale: _Scale) -> str:
    dash = _LINES.get(block.status, "")
    fill = COLOURS["hair"] if block.status == "organic" else COLOURS["paper"]
    return svg.path(_outline(block, scale), width=0.9, fill=fill, dash=dash)


def _name_block(block: MapBlock, scale: _Scale) -> list[str]:
    """The block's name and words in its middle, and its corners' numbers inside it."""
    shape = [scale.at(corner) for corner in block.corners]
    x, y = (sum(values) / len(shape) for values in zip(*shape, strict=True))
    room = max(px for px, _ in shape) - min(px for px, _ in shape) - 4
    high = max(py for _, py in shape) - min(py for _, py in shape)
    if high < 26:
        words = f"{block.name}, {block.words}" if block.words else block.name
        return [label(x, y + 2.4, words, room, size=6.8, weight=600, anchor="middle")]
    body = [
        label(x, y, block.name, room, size=8, weight=600, anchor="middle"),
        label(x, y + 9.5, block.words, room, size=6.8, fill=COLOURS["quiet"], anchor="middle"),
    ]
    numbered = high > 60 and room > 60 and len(shape) <= 12
    return [*body, *_number_corners(shape, (x, y))] if numbered else body


def _number_corners(shape: list[Point], middle: Point) -> list[str]:
    """The corners' numbers, a little towards the middle."""
    body = []
    for number, (x, y) in enumerate(shape, 1):
        away = 9 / (math.dist((x, y), middle) or 9.0)
        at = x + (middle[0] - x) * away, y + (middle[1] - y) * away + 2.2
        body.append(svg.text(*at, str(number), size=6, fill=COLOURS["quiet"], anchor="middle"))
    return body


def _draw_origin(at: Point) -> list[str]:
    x, y = at
    return [svg.line(x - 4, y, x + 4, y, width=RULE), svg.line(x, y - 4, x, y + 4, width=RULE),
            svg.circle(x, y, 2, stroke=COLOURS["ink"], width=RULE)]  # fmt: skip


def _draw_column(picture: MapPicture, points: float, left: float, height: float) -> list[str]:
    body: list[str] = []
    y = 6.0
    if picture.north is not None:
        body += _draw_north(left + 16, 26, picture.north)
        y = 58.0
    body += _draw_scale_bar(left, y, points)
    y += 26
    for status, dash in _LINES.items():
        if any(block.status == status for block in picture.blocks):
            fill = COLOURS["hair"] if status == "organic" else COLOURS["paper"]
            body.append(
                svg.path(f"M{svg.number(left)} {svg.number(y)}h16v8h-16Z", width=0.9, fill=fill, dash=dash)
            )
            body.append(svg.text(left + 22, y + 6.4, status, size=6.8))
            y += 13
    if any(map(_keeps_buffer, picture.blocks)):
        body.append(svg.rect(left, y, 16, 8, fill=COLOURS["wash"]))
        body.append(svg.text(left + 22, y + 6.4, "buffer, as wide as recorded", size=6.8))
        y += 13
    if picture.origin:
        body += _draw_origin((left + 8, y + 4))
        body.append(label(left + 22, y + 6.4, picture.origin, _COLUMN - 22, size=6.8))
        y += 13
    for note in picture.notes:
        if y + 10 < height:
            body.append(label(left, y + 8, note, _COLUMN, size=6.4, fill=COLOURS["quiet"]))
            y += 9
    return body


def _draw_north(x: float, y: float, degrees: float) -> list[str]:
    """An arrow that points north, its letter beyond its head."""
    turn = math.radians(degrees)
    right, up = math.sin(turn), -math.cos(turn)

    def at(along: float, across: float) -> Point:
        return x + along * right - across * up, y + along * up + across * right

    head = [at(16, 0), at(4, 4.2), at(7, 0), at(4, -4.2)]
    body = [svg.line(*at(-14, 0), *at(7, 0), width=0.9), svg.polygon(head, fill=COLOURS["ink"])]
    nx, ny = at(21.5, 0)
    return [*body, svg.text(nx, ny + 2.6, "N", size=7.2, weight=700, anchor="middle")]


def _draw_scale_bar(left: float, top: float, points: float) -> list[str]:
    """A bar of a round number of metres in two halves."""
    most = (_COLUMN - 24) / points
    ten = 10.0 ** math.floor(math.log10(most))
    metres = max(step * ten for step in (1, 2, 5) if step * ten <= most)
    half = metres * points / 2
    ends = ((0.0, "0"), (half, f"{metres / 2:g}"), (2 * half, f"{metres:g} m"))
    return [
        svg.rect(left, top, half, 3.6, fill=COLOURS["ink"]),
        svg.rect(left, top, 2 * half, 3.6, stroke=COLOURS["ink"], stroke_width=RULE_HAIR),
        *(
            svg.text(left + x, top + 12, words, size=6.8, anchor="start" if x == 0 else "middle")
            for x, words in ends
        ),
    ]
