"""Units said once, in a column's heading, and figures that stand under each other digit by digit."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from certgen.typeset.parts import Grid, Run

if TYPE_CHECKING:
    from certgen.typeset.parts import Cell, Chapter, Section

#: A figure with thousands set apart, a sign if any, and its unit.
_FIGURE: Final = re.compile(
    r"([−+-]?\s?[0-9]{1,3}(?:[\u202f\u00a0]?[0-9]{3})*(?:\.[0-9]+)?)[ \u00a0\u202f]"
    r"(mg|g|kg|%|°C|m|mm|days|points)"
)
#: Cells that say nothing was counted; they need no unit.
_NOTHING: Final = frozenset({"", "–"})
#: As wide as a digit, and (twice a narrow space) as a point: they hold the place of absent decimals.
_DIGIT: Final = "\u2007"
_POINT: Final = "\u202f\u202f"


def lift_units(chapter: Chapter) -> Chapter:
    """The chapter with the units of its tables' columns lifted into the headings."""
    return replace(chapter, sections=tuple(_lift_section(section) for section in chapter.sections))


def _lift_section(section: Section) -> Section:
    return replace(
        section, parts=tuple(lift(part) if isinstance(part, Grid) else part for part in section.parts)
    )


def lift(grid: Grid) -> Grid:
    """The table with a unit that all figures of a column share moved into its heading.

    A column that holds several units, or anything but figures, stays as it is; so does a table of one row.
    """
    if len(grid.rows) < 2:
        return grid
    heads = list(grid.heads)
    columns = [[row.cells[number] for row in grid.rows] for number in range(len(heads))]
    changed = False
    for number, head in enumerate(heads):
        if head.kind != "number":
            continue
        lifted = _lift_column(columns[number])
        if lifted is not None:
            unit, columns[number] = lifted
            heads[number] = replace(head, text=f"{head.text},\u00a0{unit}" if head.text else unit)
            changed = True
    if not changed:
        return grid
    rows = tuple(
        replace(row, cells=tuple(column[at] for column in columns)) for at, row in enumerate(grid.rows)
    )
    return replace(grid, heads=tuple(heads), rows=rows)


def _lift_column(cells: list[Cell]) -> tuple[str, list[Cell]] | None:
    said = [
        cell.runs[0].text if len(cell.runs) == 1 else "".join(run.text for run in cell.runs) for cell in cells
    ]
    found = [_FIGURE.fullmatch(text) for text in said]
    units = {match[2] for match in found if match is not None}
    if len(units) != 1 or any(
        match is None and text not in _NOTHING for match, text in zip(found, said, strict=True)
    ):
        return None
    figures = [text if match is None else match[1] for match, text in zip(found, said, strict=True)]
    places = max(len(text.partition(".")[2]) for text in figures)
    return units.pop(), [
        replace(cell, runs=(Run(_pad(text, places), cell.runs[0].href),))
        for cell, text in zip(cells, figures, strict=True)
    ]


def _pad(text: str, places: int) -> str:
    if text in _NOTHING or not places:
        return text
    have = len(text.partition(".")[2])
    return text + ("" if have else _POINT) + _DIGIT * (places - have)
