"""The orchard: every tree in its row and place, with its sex, its screening, and whether it is a parent."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from certgen.report.drawings.labels import label
from certgen.typeset import svg
from certgen.typeset.design import COLOURS, RULE_HAIR
from certgen.typeset.marks import mark

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

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
_LEGEND: Final = 29.0
#: A number in a name. Of thousands of digits, which a record may hold, Python makes no number.
_NUMBER: Final = re.compile(r"(\d{1,18})")


def natural(text: str) -> tuple[tuple[int, int, str], ...]:
    """A key that sorts `2` before `10` and `A2` before `A10`."""
    return tuple(
        (0, int(piece), "") if piece.isdecimal() else (1, 0, piece) for piece in _NUMBER.split(text) if piece
    )


def _in_order(names: Iterable[str]) -> list[str]:
    """Each name once, in natural order; `1` and `01` stay as the records have them."""
    return sorted(dict.fromkeys(names), key=natural)


def neighbours_of_positive(trees: tuple[OrchardTree, ...]) -> frozenset[str]:
    """Trees that stand next to a positive tree: one place away along the row, or the same place one row
    away."""
    places = _places(trees)
    at = {place: tree for tree, place in places.items()}
    positive = {tree.tree for tree in trees if tree.screening == "positive"}
    beside = {
        (row + down, position + along)
        for row, position in (places[tree] for tree in positive & places.keys())
        for down, along in ((0, 1), (0, -1), (1, 0), (-1, 0))
    }
    return frozenset(at[place] for place in beside & at.keys()) - positive


def _places(trees: tuple[OrchardTree, ...]) -> dict[str, tuple[int, int]]:
    """Row and position of each tree that has both, as numbers in which neighbours are one apart."""
    placed = [tree for tree in trees if tree.row and tree.position]
    rows = _in_order(tree.row for tree in trees if tree.row)
    positions = _in_order(tree.position for tree in placed)
    row_number = {row: number for number, row in enumerate(rows)}
    position_number = {
        position: int(position) if _NUMBER.fullmatch(position) else number
        for number, position in enumerate(positions)
    }
    return {tree.tree: (row_number[tree.row], position_number[tree.position]) for tree in placed}


def draw_orchard(picture: OrchardPicture) -> str:
    """Blocks below one another, rows as lines of trees; long rows go on in the next line."""
    most = max(1, int((picture.width - _NAMES) / _CELL))
    body: list[str] = []
    y = 0.0
    for block in picture.blocks:
        near = neighbours_of_positive(block.trees)
        body.append(svg.text(0, y + 9, block.name, size=8, weight=600))
        y += 15
        for name, trees in _lines(block, most):
            if name:
                body.append(label(0, y + 10, name, _NAMES - 6, size=6.8, fill=COLOURS["quiet"]))
            for place, tree in enumerate(trees):
                body.append(_draw_tree(tree, _NAMES + place * _CELL + _CELL / 2, y + 8, tree.tree in near))
            y += _PITCH
        y += 5
    body += _draw_legend(y)
    return svg.document(picture.width, y + _LEGEND, picture.title, picture.description, body, ident="orchard")


def _lines(block: OrchardBlock, most: int) -> Iterator[tuple[str, list[OrchardTree]]]:
    """The lines of a block, at most so many trees in each; the first line of a row is named."""
    for name in _in_order(tree.row for tree in block.trees):
        row = sorted(
            (tree for tree in block.trees if tree.row == name),
            key=lambda tree: (natural(tree.position), natural(tree.tree)),
        )
        for start in range(0, len(row), most):
            title = f"Row {name}" if name else "No place"
            yield title if start == 0 else "", row[start : start + most]


def _draw_tree(tree: OrchardTree, x: float, y: float, near: bool) -> str:
    parts = []
    if near:
        parts.append(_draw_near(x - 8.6, y - 8, 17.2, 22.6))
    if tree.parent:
        parts.append(svg.circle(x, y, 7, stroke=COLOURS["ink"], width=0.9))
    parts.append(mark(SCREENINGS[tree.screening], x, y, 10.4))
    if tree.screening != "positive":
        fill = COLOURS["paper"] if tree.screening == "negative" else COLOURS["ink"]
        letter = _LETTERS.get(tree.sex, "?")
        parts.append(svg.text(x, y + 2.1, letter, size=5.6, weight=700, anchor="middle", fill=fill))
    if tree.removed:
        parts.append(svg.line(x - 8, y + 7.4, x + 8, y - 7.4, width=0.9))
    parts.append(label(x, y + 12.4, tree.tree, _CELL - 1.5, size=5, anchor="middle"))
    return "".join(parts)


def _draw_near(x: float, y: float, width: float, height: float) -> str:
    """The box around a tree beside a positive one."""
    return svg.rect(x, y, width, height, stroke=COLOURS["rejected"], stroke_width=0.8, dash="2 1.4")


def _draw_legend(top: float) -> list[str]:
    """What shapes and letters mean, below a short rule."""
    middle, baseline = top + 10, top + 12.5
    body = [svg.line(0, top, _NAMES, top, width=RULE_HAIR, stroke=COLOURS["rule"])]
    x = 4.0
    for screening, shape in SCREENINGS.items():
        body += [mark(shape, x, middle, 8), svg.text(x + 7, baseline, screening, size=6.8)]
        x += 62
    body.append(svg.circle(x, middle, 5.6, stroke=COLOURS["ink"], width=0.9))
    body.append(svg.text(x + 9, baseline, "ring: parent of a lot", size=6.8))
    x += 82
    body.append(svg.line(x - 4, middle + 4.4, x + 4, middle - 4.4, width=0.9))
    body.append(svg.text(x + 8, baseline, "struck: removed", size=6.8))
    x += 66
    body.append(_draw_near(x - 4, middle - 5, 8, 10))
    body.append(svg.text(x + 8, baseline, "box: next to a positive", size=6.8))
    letters = "H hermaphrodite · F female · M male · ? not recorded"
    body.append(svg.text(0, middle + 14, letters, size=6.8, fill=COLOURS["quiet"]))
    return body
