"""Long tables, set by Typst a few thousand rows at a time: tagged, in our own faces and grid.

Each stretch of rows becomes a page batch, whose pages are not opened again. No row is split, unless it is
taller than a page; a table's heading row is repeated on each page.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import groupby
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from certgen.typeset.column_widths import INSET, register_widths
from certgen.typeset.compact_entries import describe_cell, describe_compact
from certgen.typeset.design import TYPE
from certgen.typeset.entries import (
    COLUMN_GAP,
    ENTRY_GAP,
    ENTRY_INDENT,
    CompactRegister,
    column_width,
    count_entries,
    cut_register,
)
from certgen.typeset.legibility import fit_to_set
from certgen.typeset.page_batch import FIRST, PLACES, cut_batch
from certgen.typeset.typst_pages import compile_typst, design_of
from certgen.typeset.typst_text import Links

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Mapping, Sequence

    from certgen.typeset.design import Settings
    from certgen.typeset.page_batch import Numbering, PageBatch
    from certgen.typeset.parts import Register, RegisterSet

    Runs = Sequence[tuple[str, str]]

TEMPLATE: Final = "registers.typ"
#: Rows that are set in one go: Typst takes 40 to 130 MB for a thousand.
BATCH_ROWS = 2_000
#: Right of a cell, above and below it, and above and below a heading cell, in points.
_INSETS: Final = {"right": INSET, "row": 1.7, "head": 2.5}
#: A cell of more lines may be taller than a page.
_TALL: Final = 40


class RegisterBatch(NamedTuple):
    """Rows that are set in one go: registers, the widths of their columns by table, and what stands above.

    What isn't the first has no heading and no lead.
    """

    registers: tuple[Register | CompactRegister, ...]
    widths: Mapping[str, Sequence[float]]
    heading: str
    lead: str
    title: str
    is_first: bool
    any_compact: bool

    @property
    def links(self) -> int:
        """How many links its entries hold, which take most memory."""
        compact = (register for register in self.registers if isinstance(register, CompactRegister))
        entries = (entry for register in compact for group in register.groups for entry in group.entries)
        return sum(bool(run.href) for entry in entries for run in entry.runs)


class SetBatch(NamedTuple):
    """Rows as Typst set them, with what their links lead to."""

    file: bytes
    links: tuple[str, ...]
    is_first: bool


def set_registers(
    registers: RegisterSet,
    settings: Settings,
    start: Numbering = FIRST,
    known: frozenset[str] | None = None,
    files: Mapping[str, int] = MappingProxyType({}),
) -> Iterator[PageBatch]:
    """The registers in page batches, one after the other down the page, below their heading.

    Objects and keys are numbered from `start` on; `known` are the anchors that links may lead to (None: all),
    `files` the attached files that they may open, by name the number of the object.
    """
    for batch in share_out(registers, settings):
        page_batch = number_batch(set_batch(batch, settings, known, files), settings, start, files)
        yield page_batch
        start = page_batch.numbering


def share_out(registers: RegisterSet, settings: Settings) -> Iterator[RegisterBatch]:
    """The registers in batches, each of which can be set by itself."""
    widths = {
        register.table: register_widths(register, settings.sheet.measure)
        for register in registers.registers
        if not isinstance(register, CompactRegister)
    }
    any_compact = any(isinstance(register, CompactRegister) for register in registers.registers)
    for number, batch in enumerate(_share_out(registers.registers)):
        own = {one.table: widths[one.table] for one in batch if not isinstance(one, CompactRegister)}
        above = ("", "") if number else (registers.heading, registers.lead)
        yield RegisterBatch(tuple(batch), own, *above, registers.heading, number == 0, any_compact)


def set_batch(
    batch: RegisterBatch,
    settings: Settings,
    known: frozenset[str] | None = None,
    files: Collection[str] = (),
) -> SetBatch:
    """A batch set; `known` and `files` are as in `set_registers`."""
    sheet, links = settings.sheet, Links(known, files)
    given = {
        **design_of(settings),
        "title": batch.title,
        "inset": _INSETS,
        # Above two columns the words take the width of both.
        "lead-width": sheet.measure if batch.any_compact else sheet.column,
        "places": PLACES,
        "compact": {"gap": COLUMN_GAP, "entry": ENTRY_GAP, "indent": ENTRY_INDENT},
        "heading": batch.heading,
        "lead": batch.lead,
        "level": 2 if batch.is_first else 1,
        "stretches": list(_describe_batch(batch.registers, batch.widths, column_width(sheet), links)),
        "opening": links.opening,
    }
    file = compile_typst(TEMPLATE, given, epoch=settings.epoch)
    return SetBatch(file, tuple(links.numbers), batch.is_first)


def number_batch(
    batch: SetBatch, settings: Settings, start: Numbering, files: Mapping[str, int]
) -> PageBatch:
    """A batch in finished pages, whose objects and keys are numbered from `start` on."""
    named = [(anchor, settings.say_link(anchor)) for anchor in batch.links]
    return cut_batch(batch.file, named, start, lowered=0 if batch.is_first else 1, files=files)


def _describe_batch(
    batch: Sequence[Register | CompactRegister],
    widths: Mapping[str, Sequence[float]],
    column: float,
    links: Links,
) -> Iterator[dict[str, Any]]:
    """The registers of a batch as the template takes them, those in two columns by themselves."""

    def describe(register: Register | CompactRegister) -> dict[str, Any]:
        if isinstance(register, CompactRegister):
            return describe_compact(register, column, links)
        return _describe(register, widths[register.table], links)

    for are_compact, stretch in groupby(batch, lambda one: isinstance(one, CompactRegister)):
        yield {"compact": are_compact, "registers": [describe(register) for register in stretch]}


def _share_out(registers: Sequence[Register | CompactRegister]) -> Iterator[list[Register | CompactRegister]]:
    """The registers in stretches of at most `BATCH_ROWS` rows; one that goes on has no title again."""
    batch: list[Register | CompactRegister] = []
    room = BATCH_ROWS
    for register in registers:
        rest = register
        while _count_rows(rest) > room:
            if room:
                first, rest = _cut(rest, room)
                batch.append(first)
            yield batch
            batch, room = [], BATCH_ROWS
        batch.append(rest)
        room -= _count_rows(rest)
    yield batch


def _count_rows(register: Register | CompactRegister) -> int:
    return count_entries(register) if isinstance(register, CompactRegister) else len(register.rows)


def _cut(
    register: Register | CompactRegister, room: int
) -> tuple[Register | CompactRegister, Register | CompactRegister]:
    """The first `room` rows of a register, and the rest."""
    if isinstance(register, CompactRegister):
        return cut_register(register, room)
    rest = replace(register, title="", lead="", rows=register.rows[room:])
    return replace(register, rows=register.rows[:room]), rest


def _describe(register: Register, widths: Sequence[float], links: Links) -> dict[str, Any]:
    """A register as the template takes it; a row is its anchor, whether it is tall, and its cells."""
    rooms = [width - INSET for width in widths]
    return {
        "title": fit_to_set(register.title),
        "lead": fit_to_set(register.lead),
        "columns": [
            {"title": fit_to_set(column.title), "width": width, "right": column.kind == "number"}
            for column, width in zip(register.columns, widths, strict=True)
        ],
        "rows": [
            [
                anchor,
                any(_is_tall(cell, room) for cell, room in zip(cells, rooms, strict=True)),
                *(describe_cell(cell, room, links) for cell, room in zip(cells, rooms, strict=True)),
            ]
            for anchor, cells in register.rows
        ],
    }


def _is_tall(cell: Runs, room: float) -> bool:
    letters = sum(len(text) for text, _ in cell)
    return letters > _TALL and letters * TYPE["register"].size > _TALL * room
