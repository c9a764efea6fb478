"""The shapes of standing and weight: a disc, a diamond, a crossed square, an empty one; their word
always stands beside."""

from __future__ import annotations

from typing import Final

from certgen.typeset import svg
from certgen.typeset.design import COLOURS

MARKS: Final = ("traced", "unproven", "rejected", "unaccounted", "advice")
#: The sign before a text that opens an attached file: a paper clip, in a square of ten by ten, as the points
#: of a stroke. A step of one point is a line to it, one of three a curve to the last.
CLIP: Final = (
    ((7.6, 3.2),), ((4.2, 6.6),), ((3.2, 7.6), (1.7, 6.1), (2.7, 5.1)), ((6.6, 1.3),),
    ((8.27, -0.37), (10.77, 2.13), (9.1, 3.8)), ((5.0, 7.9),), ((2.54, 10.36), (-1.16, 6.66), (1.3, 4.2)),
    ((4.9, 0.6),),
)  # fmt: skip
#: As wide as its pen, in the same square.
CLIP_PEN: Final = 0.9


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


def draw_clip() -> str:
    """The sign before a text that opens an attached file, as a picture of its own."""
    start, *steps = CLIP
    letters = {1: "L", 3: "C"}
    stroke = "".join(
        letters.get(len(points), "") + " ".join(f"{svg.number(x)} {svg.number(y)}" for x, y in points)
        for points in steps
    )
    ((x, y),) = start
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" width="7pt" height="7pt" viewBox="0 0 10 10">'
        + svg.path(f"M{svg.number(x)} {svg.number(y)}{stroke}", width=CLIP_PEN)
        + "</svg>"
    )


def draw_mark(name: str) -> str:
    """A mark as a picture of its own, for the style sheet."""
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" width="7pt" height="7pt" viewBox="0 0 10 10">'
        + mark(name, 5, 5, 8.6)
        + "</svg>"
    )
