"""The line of a record as a drawing: the report's own, for any record."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

from certgen.report.chapters.lot.line import gather_picture
from certgen.report.context import Context
from certgen.report.drawings.line import draw_line
from certgen.rules.wording import join, noun

if TYPE_CHECKING:
    from collections.abc import Sequence

    from certgen.cli.line import Line

#: Every table with numbers of its own, in the order of the work: table, heading.
_LAYERS: Final = (
    ("inputs", "Inputs"),
    ("blocks", "Blocks"),
    ("plantings", "Plantings"),
    ("screening", "Samples"),
    ("trees", "Trees"),
    ("bagging", "Bags"),
    ("harvests", "Pickings"),
    ("cleaning", "Cleaning"),
    ("batches", "Batches"),
    ("tests", "Tests"),
    ("lots", "Lots"),
    ("movements", "Movements"),
)
#: Width of a layer with its links, in points.
_LAYER_WIDTH: Final = 112.0
_LEAST_WIDTH: Final = 448.0
_NOTES: Final = 12


def draw_lines(lines: Sequence[Line]) -> str:
    """One SVG drawing of lines of one result, taken together, with the gaps on them named below."""
    first = lines[0]
    nodes = {node for line in lines for node in line.nodes}
    lacking = {}
    for node in nodes:
        missing = ["no record"] if node in first.lineage.missing else [f"no {_bare(one)}" for one in
                                                                       first.missing(node)]  # fmt: skip
        if missing and not first.lineage.season_of(node):
            lacking[node] = ", ".join(missing)
    used = sum(any(node.table == table for node in nodes) for table, _ in _LAYERS)
    roots = [f"{noun(line.root.table)} {line.root.id}" for line in lines]
    picture = gather_picture(
        Context(first.result),
        f"The line of {join(roots)}",
        nodes,
        {line.root for line in lines},
        max(_LEAST_WIDTH, used * _LAYER_WIDTH),
        layers=_LAYERS,
        lacking=lacking,
    )
    gaps = _name_gaps(lines)
    said = " ".join([picture.description, *gaps])
    shown = gaps if len(gaps) <= _NOTES else [*gaps[:_NOTES], f"And {len(gaps) - _NOTES} more gaps."]
    return draw_line(replace(picture, description=said, notes=tuple(shown))) + "\n"


def _bare(what: str) -> str:
    """What is lacking, behind a `no`."""
    return what.removeprefix("a ").removeprefix("its ").removeprefix("the ")


def _name_gaps(lines: Sequence[Line]) -> list[str]:
    """The gaps at records of the lines, under the numbers that they bear in the report."""
    result = lines[0].result
    numbers = {number for line in lines for node in line.nodes for number in result.numbers_of(node)}
    gaps = [(number, result.gap(number)) for number in sorted(numbers)]
    return [f"Gap {number}: {gap.message}" for number, gap in gaps if gap.weight != "advice"]
