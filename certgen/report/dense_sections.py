"""Sections of an appendix set small, in two columns: paragraphs as they are, tables by their differences.

A row becomes an entry: its first cell is the name, the others stand behind their headings; what most rows say
is said once above them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.report.condensing import Plan, Told, condense
from certgen.report.tables import NOTHING
from certgen.typeset.entries import CompactRegister, Entry, EntryGroup
from certgen.typeset.parts import Grid, Prose, Run

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from certgen.report.condensing import Runs
    from certgen.typeset.parts import Cell, Section

#: Headings that say no more than the words below them.
_PLAIN: Final = frozenset(
    {"", "Asks", "Figure", "Formula", "In words", "Kind", "Source", "Usual", "With the numbers put in"}
)
#: What holds the place of decimals that a figure of a column lacks.
_PADDING: Final = "\u2007\u202f"
_MOST_SAY: Final = "Unless a line says otherwise: "


def set_small(section: Section) -> CompactRegister:
    """A section as one register of entries; its pictures and other parts have no place in it (TypeError)."""
    groups: list[EntryGroup] = []
    for part in section.parts:
        if isinstance(part, Prose):
            groups.append(EntryGroup((), tuple(_tell_paragraph(text) for text in part.paragraphs)))
        elif isinstance(part, Grid):
            groups += _tell_grid(part)
        else:
            message = f"a {type(part).__name__} can't be set as entries"
            raise TypeError(message)
    return CompactRegister(
        section.anchor, section.title, section.lead, (), tuple(groups), anchor=section.anchor
    )


def _tell_paragraph(text: str) -> Entry:
    """A paragraph; its first sentence is its name where it is a heading of few words."""
    name, parted, rest = text.partition(". ")
    if parted and len(name.split()) <= 4:
        return Entry("", (Run(f"{name}."), Run(f" {rest}")))
    return Entry("", (Run(""), Run(text)))


def _tell_grid(grid: Grid) -> Iterator[EntryGroup]:
    """A table's rows as entries, below its caption, what most of them say, and its note."""
    names = [f"{number} {head.text}" for number, head in enumerate(grid.heads)]
    fields = {
        name: [_read(row.cells[number]) for row in grid.rows] for number, name in enumerate(names) if number
    }
    labels = {name: head.text for name, head in zip(names, grid.heads, strict=True)}
    condensed = condense(fields, range(len(grid.rows)), Plan())
    words = [f"{grid.caption}." if grid.caption else ""]
    if condensed.shared:
        told = "; ".join(_plain(_tell(one, labels)) for one in condensed.shared)
        words.append(f"{_MOST_SAY}{told}.")
    words.append(grid.note)
    entries = []
    # A table of nothing has no group at all.
    for member in (member for group in condensed.groups for member in group.members):
        row = grid.rows[member.row]
        entries.append(Entry(row.anchor, _entry_runs(row.cells[0], member.told, labels)))
    yield EntryGroup((Run(" ".join(filter(None, words))),), tuple(entries))


def _entry_runs(first: Cell, told: Sequence[Told], labels: dict[str, str]) -> tuple[Run, ...]:
    """The name of a row, and what it says."""
    name, *more = first.runs
    runs = [Run(name.text, name.href), *more]
    for number, one in enumerate(told):
        runs.append(Run("; " if number else " "))
        runs += [Run(text, href) for text, href in _tell(one, labels)]
    return tuple(runs)


def _read(cell: Cell) -> Runs | None:
    """What a cell says; None for a dash or nothing."""
    runs = tuple((run.text.strip(_PADDING), run.href) for run in cell.runs)
    return None if "".join(text for text, _ in runs) in {"", NOTHING} else runs


def _tell(told: Told, labels: dict[str, str]) -> Runs:
    """A value behind its heading; a unit that the heading says stands behind the figure again."""
    label, parted, unit = labels[told.name].rpartition(",\u00a0")
    if not parted:
        label, unit = unit, ""
    if told.value is None:
        return ((f"{_lower(label)} {NOTHING}", ""),)
    lead = () if label in _PLAIN else ((f"{_lower(label)} ", ""),)
    return (*lead, *told.value, *(((f"\u00a0{unit}", ""),) if unit else ()))


def _plain(runs: Runs) -> str:
    return "".join(text for text, _ in runs)


def _lower(label: str) -> str:
    """A heading within a line: its first letter is small unless it is a name's."""
    return label[:1].lower() + label[1:] if label[1:2].islower() else label
