"""Compact registers and the cells of registers as Typst templates take them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from certgen.typeset import faces
from certgen.typeset.column_widths import UNIT
from certgen.typeset.design import TYPE
from certgen.typeset.entries import ENTRY_INDENT, CompactRegister, share_lines
from certgen.typeset.legibility import fit_to_set
from certgen.typeset.typst_text import Links, fit_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from certgen.typeset.parts import Run

    Runs = Sequence[tuple[str, str]]

_NO_BREAK: Final = "\N{NO-BREAK SPACE}"


def describe_compact(register: CompactRegister, width: float, links: Links) -> dict[str, Any]:
    """A compact register as the template takes it.

    A line is the entries that are set on, each with its anchor, the width of its place (0: it has lines of
    its own) and its runs.
    """
    # Cells are measured in the type of a register's columns.
    room = (width - ENTRY_INDENT) * TYPE["register"].size / TYPE["entry"].size

    def describe(runs: Sequence[Run]) -> list[list[str]]:
        described = describe_cell([(run.text, run.href) for run in runs], room, links)
        return [[described, ""]] if isinstance(described, str) else described

    return {
        "anchor": register.anchor,
        "title": fit_to_set(register.title),
        "lead": fit_to_set(register.lead),
        "common": describe(register.common) if register.common else [],
        "groups": [
            {
                "head": describe(group.head) if group.head else [],
                "lines": [
                    [
                        (entry.anchor, taken, describe(entry.runs[:1]), describe(entry.runs[1:]))
                        for entry, taken in line
                    ]
                    for line in share_lines(group.entries, width)
                ],
            }
            for group in register.groups
        ],
    }


def describe_cell(cell: Runs, room: float, links: Links) -> str | list[list[str]]:
    """A text, or texts with their addresses where one of them leads somewhere."""
    runs: list[list[str]] = []
    wraps = faces.text_width("".join(text for text, _ in cell), TYPE["register"].size) > room
    for text, anchor in cell:
        fitted, address = _fit(text, room if wraps else None), links.address(anchor)
        if runs and runs[-1][1] == address:
            runs[-1][0] += fitted
        else:
            runs.append([fitted, address])
    if len(runs) == 1 and not runs[0][1]:
        return runs[0][0]
    return runs or ""


def _fit(text: str, room: float | None) -> str:
    """A register's text: a figure beside its unit."""
    return fit_words(UNIT.sub(_NO_BREAK, text), room, TYPE["register"].size)
