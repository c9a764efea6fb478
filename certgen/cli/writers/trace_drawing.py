"""The lines of a trace as a drawing: the report's own, for any record."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

from certgen.report.chapters.lot.line import gather_picture
from certgen.report.context import Context
from certgen.report.drawings.line import draw_line
from certgen.rules.wording import join, noun

if TYPE_CHECKING:
    from certgen.dossier.line import Trace
    from certgen.lineage import Node

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


def draw_trace(trace: Trace) -> str:
    """One SVG drawing of all lines together, with the gaps on them named below."""
    used = {node.table for node in trace.nodes} & {table for table, _ in _LAYERS}
    roots = [line.root for line in trace.lines]
    picture = gather_picture(
        Context(trace.result),
        f"The line of {join(f'{noun(root.table)} {root.id}' for root in roots)}",
        set(trace.nodes),
        set(roots),
        max(_LEAST_WIDTH, len(used) * _LAYER_WIDTH),
        layers=_LAYERS,
        lacking=_name_lacking(trace),
    )
    gaps = _name_gaps(trace)
    description = " ".join([picture.description, *gaps])
    shown = gaps if len(gaps) <= _NOTES else [*gaps[:_NOTES], f"And {len(gaps) - _NOTES} more gaps."]
    return draw_line(replace(picture, description=description, notes=tuple(shown))) + "\n"


def _name_lacking(trace: Trace) -> dict[Node, str]:
    """What this season's records lack, by record."""
    line, lineage = trace.lines[0], trace.result.lineage
    lacking = {}
    for node in trace.nodes:
        if not lineage.season_of(node):
            missing = [f"no {_bare(what)}" for what in line.missing(node)]
            lacking[node] = "no record" if node in lineage.missing else ", ".join(missing)
    return {node: text for node, text in lacking.items() if text}


def _bare(what: str) -> str:
    """What is lacking, behind a `no`."""
    return what.removeprefix("a ").removeprefix("its ").removeprefix("the ")


def _name_gaps(trace: Trace) -> list[str]:
    """The gaps at records of the lines, under the numbers that they bear in the report."""
    result = trace.result
    numbers = sorted({number for node in trace.nodes for number in result.numbers_of(node)})
    gaps = [(number, result.gap(number)) for number in numbers]
    return [f"Gap {number}: {gap.message}" for number, gap in gaps if gap.weight != "advice"]
