"""The orchard: every tree in its row and place, with its sex, its screening, whether it is a parent, and the
findings that stand at it or at its bags: those are the loudest."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, NamedTuple

from certgen.report.drawings.labels import label
from certgen.report.drawings.tree_places import in_order, natural
from certgen.typeset import svg
from certgen.typeset.design import COLOURS, RULE_HAIR
from certgen.typeset.faces import text_width
from certgen.typeset.marks import mark
from certgen.typeset.spots import Spot

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

#: What a tree's screening says -> the shape it wears.
SCREENINGS: Final = {
    "negative": "traced",
    "inconclusive": "unproven",
    "positive": "rejected",
    "not screened": "advice",
}
_LETTERS: Final = {"hermaphrodite": "H", "female": "F", "male": "M"}
#: The mark of a finding, the lightest first.
_WEIGHTS: Final = ("advice", "unproven", "rejected")


@dataclass(frozen=True, slots=True)
class OrchardFinding:
    """A finding at a tree: its number, its mark, and what it stands at if that isn't the tree itself."""

    number: int
    mark: str
    thing: str = ""


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
    findings: tuple[OrchardFinding, ...] = ()


@dataclass(frozen=True, slots=True)
class OrchardBlock:
    """A block and its trees; `said` stands beside its name. `near` are trees beside a positive one."""

    name: str
    trees: tuple[OrchardTree, ...]
    said: str = ""
    near: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class OrchardPicture:
    """All blocks of a season, or as many as one drawing takes.

    `cell` is the width of a tree's cell, by `measure_cell` of all blocks (0: by that of these).
    """

    title: str
    description: str
    blocks: tuple[OrchardBlock, ...]
    width: float
    cell: float = 0


#: Of all text in the drawing none is smaller than this.
_SMALL: Final = 6.8
#: Room for the names of rows, and for the narrowest and the widest tree.
_NAMES: Final = 40.0
_LEAST: Final = 26.0
_MOST: Final = 50.0
#: Below this no room is left for what a finding stands at: its number has to do.
_ROOMY: Final = 38.0
_HEADING: Final = 17.0
#: A tree’s shape is no wider than this.
_SHAPE: Final = 20.0
_BETWEEN: Final = 5.0
_LEGEND: Final = 44.0


class _Line(NamedTuple):
    """Trees side by side: the block they stand in, the row's name where it begins, and the line's height."""

    block: OrchardBlock
    name: str
    trees: tuple[OrchardTree, ...]
    height: float


class _Place(NamedTuple):
    """A tree's cell in the drawing: the middle of its upper edge, and its size."""

    tree: OrchardTree
    x: float
    y: float
    cell: float
    height: float
    near: bool

    @property
    def shape(self) -> float:
        return min(_SHAPE, self.cell * 0.44)

    @property
    def middle(self) -> float:
        return self.y + 8 + self.shape / 2


def share_out(blocks: Sequence[OrchardBlock], width: float, depth: float) -> list[tuple[OrchardBlock, ...]]:
    """The blocks by drawing, so that each is at most `depth` points high; a block may go on in the next."""
    cell = measure_cell(blocks, width)
    drawings: list[list[OrchardBlock]] = []
    room = 0.0
    for block in blocks:
        begun = False
        for line in _lines(block, cell, width):
            needs = line.height + (0 if begun else _HEADING + _BETWEEN)
            if not drawings or needs > room:
                drawings.append([])
                room, begun = depth - _LEGEND, False
                needs = line.height + _HEADING + _BETWEEN
            if begun:
                last = drawings[-1].pop()
                drawings[-1].append(replace(last, trees=(*last.trees, *line.trees)))
            else:
                again = line.trees[0] != next(iter(_lines(block, cell, width))).trees[0]
                name = f"{block.name}, continued" if again else block.name
                drawings[-1].append(replace(block, name=name, trees=line.trees))
            begun, room = True, room - needs
    return [tuple(drawing) for drawing in drawings]


def measure_cell(blocks: Iterable[OrchardBlock], width: float) -> float:
    """How wide each tree's cell is: as the longest row and the widest name ask for."""
    trees = [tree for block in blocks for tree in block.trees]
    rows: dict[tuple[str, str], int] = {}
    for block in blocks:
        for tree in block.trees:
            rows[block.name, tree.row] = rows.get((block.name, tree.row), 0) + 1
    # A few names longer than all others are cut rather than let them set the size of the drawing.
    widths = sorted(text_width(tree.tree, _SMALL) for tree in trees) or [0.0]
    named = widths[int(0.95 * (len(widths) - 1))] + 4
    least = min(max(_LEAST, named), _MOST)
    return max(least, min(_MOST, (width - _NAMES) / max(rows.values(), default=1)))


def _lines(block: OrchardBlock, cell: float, width: float) -> Iterator[_Line]:
    """The lines of a block, at most so many trees in each as fit; the first line of a row is named."""
    most = max(1, int((width - _NAMES) / cell + 1e-6))
    for name in in_order(tree.row for tree in block.trees):
        row = sorted(
            (tree for tree in block.trees if tree.row == name),
            key=lambda tree: (natural(tree.position), natural(tree.tree)),
        )
        for start in range(0, len(row), most):
            trees = tuple(row[start : start + most])
            title = f"Row {name}" if name else "No place"
            told = cell >= _ROOMY and any(one.thing for tree in trees for one in tree.findings)
            height = 8 + min(_SHAPE, cell * 0.44) + 10 + (8 if told else 0) + 5
            yield _Line(block, title if start == 0 else "", trees, height)


def _lay_out(picture: OrchardPicture) -> Iterator[tuple[float, _Line, list[_Place]]]:
    """Each line with the height it begins at and the places of its trees."""
    cell = picture.cell or measure_cell(picture.blocks, picture.width)
    y = 0.0
    for block in picture.blocks:
        y += _HEADING
        for line in _lines(block, cell, picture.width):
            places = [
                _Place(tree, _NAMES + (at + 0.5) * cell, y, cell, line.height, tree.tree in block.near)
                for at, tree in enumerate(line.trees)
            ]
            yield y, line, places
            y += line.height
        y += _BETWEEN


def draw_orchard(picture: OrchardPicture) -> str:
    """Blocks below one another, rows as lines of trees; long rows go on in the next line."""
    body: list[str] = []
    told: OrchardBlock | None = None
    end = 0.0
    for y, line, places in _lay_out(picture):
        if line.block is not told:
            told = line.block
            body += _draw_heading(told, y - 6, picture.width)
        if line.name:
            row = label(0, places[0].middle + 2.4, line.name, _NAMES - 4, size=7, fill=COLOURS["quiet"])
            body.append(row)
        body += [_draw_tree(place) for place in places]
        end = y + line.height + _BETWEEN
    body += _draw_legend(end, picture.width)
    return svg.document(
        picture.width, end + _LEGEND, picture.title, picture.description, body, ident="orchard"
    )


def find_spots(picture: OrchardPicture) -> tuple[Spot, ...]:
    """Where in the drawing a finding's number leads to the finding."""
    lines = list(_lay_out(picture))
    if not lines:
        return ()
    y, line, _ = lines[-1]
    height = y + line.height + _BETWEEN + _LEGEND
    return tuple(
        Spot.of(
            f"gap/{place.tree.findings[0].number}",
            f"Finding {place.tree.findings[0].number} at tree {place.tree.tree}",
            (place.x - place.cell / 2, place.y, place.cell, place.height),
            (picture.width, height),
        )
        for _, _, places in lines
        for place in places
        if place.tree.findings
    )


def _draw_heading(block: OrchardBlock, baseline: float, width: float) -> list[str]:
    name = label(0, baseline, block.name, width * 0.55, size=8.4, weight=600)
    left = min(text_width(block.name, 8.4, weight=600), width * 0.55) + 8
    said = label(left, baseline, block.said, max(width - left, 1), size=7, fill=COLOURS["quiet"])
    rule = svg.line(0, baseline - 10, width, baseline - 10, width=RULE_HAIR, stroke=COLOURS["rule"])
    return [rule, name, said]


def _draw_tree(place: _Place) -> str:
    tree = place.tree
    parts = []
    if place.near:
        side = max(place.shape + 10, min(place.cell - 3, text_width(tree.tree, _SMALL) + 5))
        top = place.middle - place.shape / 2 - 5
        parts.append(_draw_near(place.x - side / 2, top, side, place.shape + 18))
    if tree.findings:
        parts.append(_draw_box(place))
    parts += [*_draw_shape(place), *_draw_names(place)]
    if tree.findings:
        parts += _draw_numbers(tree, place.x + place.cell / 2 - 1, place.y, place.cell)
    return "".join(parts)


def _draw_shape(place: _Place) -> Iterator[str]:
    """The tree itself: its screening as a shape, its sex in it, a ring around a parent, a stroke."""
    tree, x, middle, shape = place.tree, place.x, place.middle, place.shape
    if tree.parent:
        yield svg.circle(x, middle, shape / 2 + 2.2, stroke=COLOURS["ink"], width=0.9)
    bare = tree.screening == "not screened" and tree.parent
    yield mark("unproven" if bare else SCREENINGS[tree.screening], x, middle, shape)
    if tree.screening != "positive":
        fill = COLOURS["paper"] if tree.screening == "negative" else COLOURS["ink"]
        size = max(_SMALL, shape * 0.46)
        base = middle + size * 0.36
        yield svg.text(x, base, _letter(tree), size=size, weight=700, anchor="middle", fill=fill)
    if tree.removed:
        reach = shape / 2 + 3
        yield svg.line(x - reach, middle + reach, x + reach, middle - reach, width=1)


def _letter(tree: OrchardTree) -> str:
    return _LETTERS.get(tree.sex, "?")


def _draw_names(place: _Place) -> Iterator[str]:
    """The tree's name, and below it what its heaviest finding stands at."""
    tree, room = place.tree, place.cell
    # The crossed square has no room for the sex, which stands behind the name.
    name = f"{tree.tree} {_letter(tree)}" if tree.screening == "positive" else tree.tree
    below = place.middle + place.shape / 2 + 9.6
    bold = 600 if tree.findings else 400
    yield label(place.x, below, name, room - 1.5, size=_SMALL, weight=bold, anchor="middle")
    thing = next((one.thing for one in reversed(_by_weight(tree)) if one.thing), "")
    if text_width(thing, _SMALL, weight=600) > room - 5:
        # `sample S26-044`: where there is no room for both, the identifier says it.
        thing = thing.partition(" ")[2] or thing
    if thing and room >= _ROOMY:
        yield label(place.x, below + 7.8, thing, room - 3, size=_SMALL, weight=600, anchor="middle")


def _by_weight(tree: OrchardTree) -> list[OrchardFinding]:
    """A tree's findings, the heaviest last."""
    return sorted(tree.findings, key=lambda one: _WEIGHTS.index(one.mark))


def _colour(weight: str) -> str:
    return COLOURS["quiet"] if weight == "advice" else COLOURS[weight]


def _draw_box(place: _Place) -> str:
    """The box around a tree with a finding: heavy, and heaviest where the finding rejects."""
    worst = _by_weight(place.tree)[-1].mark
    stroke = {"advice": 0.8, "unproven": 1.4, "rejected": 2.0}[worst]
    return svg.rect(
        place.x - place.cell / 2 + 2, place.y + 2.5, place.cell - 4, place.height - 5.5,
        fill=COLOURS["paper"] if worst == "advice" else COLOURS["wash"], stroke=_colour(worst),
        stroke_width=stroke,
    )  # fmt: skip


def _draw_numbers(tree: OrchardTree, right: float, top: float, room: float) -> list[str]:
    """The numbers of the findings on the edge of their box, behind the shape of the heaviest."""
    worst = _by_weight(tree)[-1].mark
    numbers = ", ".join(str(one.number) for one in tree.findings)
    if text_width(numbers, 7, weight=700) > room - 13:
        numbers = f"{tree.findings[0].number} +{len(tree.findings) - 1}"
    width = text_width(numbers, 7, weight=700) + 13
    colour = _colour(worst)
    return [
        svg.rect(right - width, top - 1.5, width, 9.6, fill=COLOURS["paper"], stroke=colour, stroke_width=1),
        mark(worst, right - width + 5.2, top + 3.3, 6.4),
        svg.text(right - width + 10, top + 5.9, numbers, size=7, weight=700),
    ]


def _draw_near(x: float, y: float, width: float, height: float) -> str:
    """The box around a tree beside a positive one."""
    return svg.rect(x, y, width, height, stroke=COLOURS["rejected"], stroke_width=0.8, dash="2 1.4")


def _draw_legend(top: float, width: float) -> list[str]:
    """What shapes and letters mean, below a short rule."""
    middle, baseline = top + 9, top + 11.5
    body = [svg.line(0, top, _NAMES, top, width=RULE_HAIR, stroke=COLOURS["rule"])]
    x = 4.0
    for screening, shape in SCREENINGS.items():
        body += [mark(shape, x, middle, 8), svg.text(x + 7, baseline, screening, size=7)]
        x += 13 + text_width(screening, 7) + 8
    letters = "H hermaphrodite · F female · M male · ? sex not recorded"
    body.append(label(x, baseline, letters, width - x, size=7))
    middle, baseline, x = middle + 14, baseline + 14, 6.0
    drawn = (
        (svg.circle(0, middle, 5.2, stroke=COLOURS["ink"], width=0.9), "ring: parent of a lot"),
        (mark("unproven", 0, middle, 8) + svg.circle(0, middle, 5.2, stroke=COLOURS["ink"], width=0.9),
         "parent, not screened"),
        (svg.line(-4, middle + 4.4, 4, middle - 4.4, width=1), "struck: removed"),
        (_draw_near(-4.5, middle - 4.5, 9, 9), "next to a positive"),
    )  # fmt: skip
    for shape, words in drawn:
        body += [f'<g transform="translate({svg.number(x)} 0)">{shape}</g>']
        body.append(svg.text(x + 8, baseline, words, size=7))
        x += 22 + text_width(words, 7)
    body += _legend_of_findings(middle + 14)
    return body


def _legend_of_findings(middle: float) -> list[str]:
    words = "boxed: a finding, by its number, at the tree or what stands below it:"
    body = [
        svg.rect(0, middle - 5, 12, 10, fill=COLOURS["wash"], stroke=COLOURS["rejected"], stroke_width=2),
        svg.text(17, middle + 2.5, words, size=7),
    ]
    x = 17 + text_width(words, 7) + 10
    for shape, said in (("rejected", "rejects"), ("unproven", "unproven"), ("advice", "advice")):
        body += [mark(shape, x, middle, 7), svg.text(x + 7, middle + 2.5, said, size=7)]
        x += 19 + text_width(said, 7)
    return body
