"""The shapes of standing and weight: a disc, a diamond, a crossed square, an empty one; their word
always stands beside."""

from __future__ import annotations

from typing import Final

from certgen.typeset import svg
from certgen.typeset.design import COLOURS

MARKS: Final = ("traced", "unproven", "rejected", "unaccounted", "advice")


def mark(name: str, x: float, y: float, size: float) -> str:
    """The shape of `name`, `size` points across, centred on (x, y). Unknown names raise KeyError."""
    half = size / 2
    colour = COLOURS["quiet"] if name == "advice" else COLOURS[name]
    if name == "traced":
        return svg.circle(x, y, half * 0.92, fill=colour)
    if name == "unproven":
        points = [(x, y - half), (x + half, y), (x, y + half), (x - half, y)]
        return svg.polygon(points, fill=COLOURS["paper"], stroke=colour, width=size / 7)
    edge = half * 0.86
    if name == "unaccounted":
        return svg.rect(
            x - edge,
            y - edge,
            2 * edge,
            2 * edge,
            fill=COLOURS["paper"],
            stroke=colour,
            stroke_width=size / 9,
        )
    if name == "rejected":
        cross = (
            f"M{svg.number(x - edge)} {svg.number(y - edge)}L{svg.number(x + edge)} {svg.number(y + edge)}"
            f"M{svg.number(x + edge)} {svg.number(y - edge)}L{svg.number(x - edge)} {svg.number(y + edge)}"
        )
        pen = size / 7
        square = svg.rect(
            x - edge, y - edge, 2 * edge, 2 * edge, fill=COLOURS["paper"], stroke=colour, stroke_width=pen
        )
        return square + svg.path(cross, width=pen, stroke=colour)
    return svg.circle(x, y, half * 0.8, fill=COLOURS["paper"], stroke=colour, width=size / 9)


def draw_mark(name: str) -> str:
    """A mark as a picture of its own, for the style sheet."""
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" width="7pt" height="7pt" viewBox="0 0 10 10">'
        + mark(name, 5, 5, 8.6)
        + "</svg>"
    )
