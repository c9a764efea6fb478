"""The map: blocks by their measured corners, whether such blocks can be, and their areas."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from certgen.figures.land_map import (
    Point,
    area_m2,
    crosses_itself,
    is_on_earth,
    overlap,
    project,
    read_corner,
)
from certgen.rules.findings import Finding
from certgen.rules.registry import rule
from certgen.rules.wording import count, name

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from certgen.records.columns import Columns
    from certgen.rules.case import Case

#: More corners than anybody measures by hand. Comparing them costs their square.
_MOST_CORNERS: Final = 200
#: More blocks than one map shows. Comparing them costs their square, too.
MOST_BLOCKS: Final = 300


@dataclass(frozen=True, slots=True)
class BlockShape:
    """A block on the map, in metres, with its sides' descriptions as typed. `fault` says why it can't be one;
    then it has no shape."""

    block: str
    row: int
    corners: tuple[Point, ...]
    sides: tuple[str, ...]
    fault: str = ""


def lay_out_blocks(case: Case) -> tuple[BlockShape, ...]:
    """Every block with corners on one flat map, in the order of the records."""
    told = _list_measured(case.columns("blocks"))
    if not told:
        return ()
    degrees = map_details(case).get("measured_in") == "degrees"
    read = {block: _without_repeats([read_corner(one) for one in corners]) for _, block, corners, _ in told}
    faults = {block: _fault(shape, degrees=degrees) for block, shape in read.items()}
    shapes = {block: shape for block, shape in read.items() if not faults[block]}
    if degrees:
        try:
            shapes = project(shapes)
        except ValueError:
            # Each is a place on earth: so it is the way between them.
            faults.update(dict.fromkeys(shapes, "the corners lie more than 100 km apart"))
            shapes = {}
    faults.update({block: _shape_fault(shape) for block, shape in shapes.items()})
    return tuple(
        BlockShape(block, row, () if faults[block] else tuple(shapes[block]), sides, faults[block])
        for row, block, _, sides in told
    )


def _list_measured(blocks: Columns) -> list[tuple[Any, ...]]:
    """Row, number, corners and sides of each block with corners; of two of one number the first counts."""
    rows = blocks.first("block")
    told = blocks.rows("block", "corners", "sides", where=blocks.known("corners"))
    return [one for one in told if rows.get(one[1]) == one[0]]


def _shape_fault(shape: Sequence[Point]) -> str:
    if crosses_itself(shape):
        return "its sides cross each other"
    return "there is no ground between its corners" if area_m2(shape) < 1 else ""


def _without_repeats(shape: Sequence[Point]) -> list[Point]:
    """A walk around a field often ends with the corner that it began at."""
    return [corner for at, corner in enumerate(shape) if corner != shape[at - 1] or len(shape) == 1]


def _fault(shape: Sequence[Point], *, degrees: bool) -> str:
    if len(shape) < 3:
        return f"it has {count(len(shape), 'corner')}, and an area needs three"
    if len(shape) > _MOST_CORNERS:
        return f"it has {len(shape)} corners, and a map here takes {_MOST_CORNERS}"
    if degrees and not all(map(is_on_earth, shape)):
        return "one of its corners is no latitude and longitude"
    return ""


@rule(
    weight="advice",
    clauses=("us-nop:205.202(c)", "codex:annex 3 A unit"),
    remedy="Give the corners in the order in which one walks around the block, all from the point that the "
    "season's `map` names.",
)
def block_map_impossible(case: Case) -> Iterator[Finding]:
    """By its measured corners a block can't lie as it is drawn, or two lie on the same ground.

    A map that can't be is no map. Which corner is wrong only a tape can tell.
    """
    slack = case.practice("map_step_m")
    laid = lay_out_blocks(case)
    for one in laid:
        if one.fault:
            message = f"Block {one.block} can't be drawn: {one.fault}."
            yield Finding("blocks", one.block, one.row, ("corners",), message, reaches=())
    sound = [one for one in laid if not one.fault][:MOST_BLOCKS]
    for at, one in enumerate(sound):
        over = [
            other.block
            for other in sound[at + 1 :]
            if slack is not None and overlap(one.corners, other.corners, float(slack.usual or 0))
        ]
        if over:
            yield Finding(
                "blocks",
                one.block,
                one.row,
                ("corners",),
                f"By their corners block {one.block} and {name('blocks', over)} lie on the same ground.",
                reaches=(),
            )


@rule(
    weight="advice",
    clauses=("us-nop:205.202(c)", "codex:annex 3 A unit", "practice:map_area_differs_pct"),
    remedy="Measure again, or correct the area.",
    after=("block-map-impossible",),
)
def block_area_differs(case: Case) -> Iterator[Finding]:
    """A block's stated area isn't the area between its measured corners.

    Areas come from deeds, from steps or from a map; rates and yields are reckoned with them.
    """
    limit = case.practice("map_area_differs_pct")
    if limit is None or limit.high is None:
        return
    blocks = case.columns("blocks")
    stated, areas = blocks.values("area"), blocks.values("area_m2")
    for one in lay_out_blocks(case):
        text, area = stated[one.row], areas[one.row]
        if one.fault or not area:
            continue
        measured = area_m2(one.corners)
        differs = 100 * abs(measured - area) / area
        if differs > limit.high:
            yield Finding(
                "blocks",
                one.block,
                one.row,
                ("area",),
                f"Block {one.block} is said to be {text} large; between its corners lie"
                f" {tell_area(measured)}, {differs:.0f} % {'more' if measured > area else 'less'}."
                f" Usual is {limit.told()}.",
                reaches=(),
            )


def tell_area(square_metres: float) -> str:
    """An area in hectares, and in square metres below a tenth of one."""
    return f"{square_metres / 10_000:.2f} ha" if square_metres >= 1000 else f"{square_metres:.0f} m²"


def map_details(case: Case) -> Mapping[str, object]:
    """What the season says of its map, as typed."""
    return dict(case.season.details.raw.get("map") or {})
