"""The orchard: every tree in its row and place, with its sex, its screening, and whether it is a parent."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from certgen.typeset import svg
from certgen.typeset.design import COLOURS, RULE_HAIR
from certgen.typeset.faces import shorten
from certgen.typeset.marks import mark

#: What a tree's screening says -> the shape it wears.
SCREENINGS: Final = {
    "negative": "traced",
    "inconclusive": "unproven",
    "positive": "rejected",
    "not screened": "advice",
}
_LETTERS: Final = {"hermaphrodite": "H", "female": "F", "male": "M"}


@dataclass(frozen=True, slots=True)
class OrchardTree:
    """A tree in its place. `screening` is a key of `SCREENINGS`."""

    tree: str
    row: str
    position: str
    sex: str
    screening: str
    parent: bool
    removed: bool


@dataclass(frozen=True, slots=True)
class OrchardBlock:
    """A block and its trees."""

    name: str
    trees: tuple[OrchardTree, ...]


@dataclass(frozen=True, slots=True)
class OrchardPicture:
    """All blocks of a season, or as many as one drawing takes."""

    title: str
    description: str
    blocks: tuple[OrchardBlock, ...]
    width: float


_CELL: Final = 20.0
_PITCH: Final = 24.0
_NAMES: Final = 46.0


def natural(text: str) -> tuple[tuple[int, int, str], ...]:
    """A key that sorts `2` before `10` and `A2` before `A10`."""
    return tuple(
        (0, int(piece), "") if piece.isdecimal() else (1, 0, piece)
        for piece in re.split(r"(\d+)", text)
        if piece
    )


def neighbours_of_positive(trees: tuple[OrchardTree, ...]) -> frozenset[str]:
    """Trees that stand next to a positive tree: one place away along the row, or the same place one row
    away."""
    rows = {
        name: number
        for number, name in enumerate(
            sorted(dict.fromkeys(tree.row for tree in trees if tree.row), key=natural)
        )
    }
    places = {tree.tree: (rows[tree.row], tree.position) for tree in trees if tree.row and tree.position}
    order = sorted(dict.fromkeys(position for _, position in places.values()), key=natural)
    rank = {
        position: int(position) if position.isdecimal() else number for number, position in enumerate(order)
    }
    at = {(row, rank[position]): tree for tree, (row, position) in places.items()}
    found = set()
    for tree in trees:
        if tree.screening == "positive" and tree.tree in places:
            row, position = places[tree.tree][0], rank[places[tree.tree][1]]
            for step in ((0, 1), (0, -1), (1, 0), (-1, 0)):
                beside = at.get((row + step[0], position + step[1]))
                if beside is not None:
                    found.add(beside)
    return frozenset(found - {tree.tree for tree in trees if tree.screening == "positive"})


def draw_orchard(picture: OrchardPicture) -> str:
    """Blocks below one another, rows as lines of trees; long rows go on in the next line."""
    a_line = max(1, int((picture.width - _NAMES) / _CELL))
    body: list[str] = []
    y = 0.0
    for block in picture.blocks:
        near = neighbours_of_positive(block.trees)
        body.append(svg.text(0, y + 9, block.name, size=8, weight=600))
        y += 15
        names = sorted(dict.fromkeys(tree.row for tree in block.trees), key=natural)
        for name in names:
            row = sorted(
                (tree for tree in block.trees if tree.row == name),
                key=lambda tree: (natural(tree.position), natural(tree.tree)),
            )
            for start in range(0, len(row), a_line):
                if start == 0:
                    label = f"Row {name}" if name else "No place"
                    body.append(
                        svg.text(0, y + 10, shorten(label, _NAMES - 6, 6.8), size=6.8, fill=COLOURS["quiet"])
                    )
                for place, tree in enumerate(row[start : start + a_line]):
                    body.append(
                        _draw_tree(tree, _NAMES + place * _CELL + _CELL / 2, y + 8, tree.tree in near)
                    )
                y += _PITCH
        y += 5
    y = _legend(body, y)
    return svg.document(picture.width, y, picture.title, picture.description, body, ident="orchard")


def _draw_tree(tree: OrchardTree, x: float, y: float, near: bool) -> str:
    parts = []
    if near:
        parts.append(
            svg.rect(x - 8.6, y - 8, 17.2, 22.6, stroke=COLOURS["rejected"], stroke_width=0.8, dash="2 1.4")
        )
    if tree.parent:
        parts.append(svg.circle(x, y, 7, stroke=COLOURS["ink"], width=0.9))
    parts.append(mark(SCREENINGS[tree.screening], x, y, 10.4))
    inside = COLOURS["paper"] if tree.screening == "negative" else COLOURS["ink"]
    if tree.screening != "positive":
        letter = _LETTERS.get(tree.sex, "?")
        parts.append(svg.text(x, y + 2.1, letter, size=5.6, weight=700, anchor="middle", fill=inside))
    if tree.removed:
        parts.append(svg.line(x - 8, y + 7.4, x + 8, y - 7.4, width=0.9))
    parts.append(svg.text(x, y + 12.4, shorten(tree.tree, _CELL - 1.5, 5), size=5, anchor="middle"))
    return "".join(parts)


def _legend(body: list[str], y: float) -> float:
    body.append(svg.line(0, y, _NAMES, y, width=RULE_HAIR, stroke=COLOURS["rule"]))
    y += 10
    x = 4.0
    for screening, shape in SCREENINGS.items():
        body.append(mark(shape, x, y, 8))
        body.append(svg.text(x + 7, y + 2.5, screening, size=6.8))
        x += 62
    body.append(svg.circle(x, y, 5.6, stroke=COLOURS["ink"], width=0.9))
    body.append(svg.text(x + 9, y + 2.5, "ring: parent of a lot", size=6.8))
    x += 82
    body.append(svg.line(x - 4, y + 4.4, x + 4, y - 4.4, width=0.9))
    body.append(svg.text(x + 8, y + 2.5, "struck: removed", size=6.8))
    x += 66
    body.append(svg.rect(x - 4, y - 5, 8, 10, stroke=COLOURS["rejected"], stroke_width=0.8, dash="2 1.4"))
    body.append(svg.text(x + 8, y + 2.5, "box: next to a positive", size=6.8))
    body.append(
        svg.text(
            0, y + 14, "H hermaphrodite · F female · M male · ? not recorded", size=6.8, fill=COLOURS["quiet"]
        )
    )
    return y + 19
