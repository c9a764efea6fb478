"""Long tables, set by Typst a few thousand rows at a time: tagged, in our own faces and grid.

Each stretch of rows becomes a page batch, whose pages are not opened again. No row is split, unless it is
taller than a page; a table's heading row is repeated on each page.
"""

from __future__ import annotations

import re
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from functools import lru_cache
from itertools import groupby
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final

from certgen.process_pool import ApartContext
from certgen.typeset import faces
from certgen.typeset.addresses import SCHEME
from certgen.typeset.column_widths import INSET, UNIT, register_widths
from certgen.typeset.design import TYPE
from certgen.typeset.entries import (
    COLUMN_GAP,
    ENTRY_GAP,
    ENTRY_INDENT,
    CompactRegister,
    column_width,
    count_entries,
    cut_register,
    share_lines,
)
from certgen.typeset.legibility import fit_to_set
from certgen.typeset.page_batch import FIRST, PLACES, cut_batch
from certgen.typeset.typst_pages import compile_typst, design_of

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Mapping, Sequence

    from certgen.typeset.design import Settings
    from certgen.typeset.page_batch import Numbering, PageBatch
    from certgen.typeset.parts import Register, RegisterSet, Run

    Runs = Sequence[tuple[str, str]]

TEMPLATE: Final = "registers.typ"
#: Rows that are set in one go. Typst takes some 130 MB for a thousand and keeps them until its process ends.
BATCH_ROWS = 2_000
#: Right of a cell, above and below it, and above and below a heading cell, in points.
_INSETS: Final = {"right": INSET, "row": 1.7, "head": 2.5}
#: A cell of more lines may be taller than a page.
_TALL: Final = 40
_NO_BREAK: Final = "\N{NO-BREAK SPACE}"
#: Where a word may break that is wider than its cell. The template takes it out again, as it does the next
#: one, so nobody copies it.
_MAY_BREAK: Final = "\N{ZERO WIDTH SPACE}"
#: Around a word that Typst would break, at a hyphen or a stroke, though a line has room for all of it.
_HELD: Final = "\N{WORD JOINER}"
_BREAKS: Final = re.compile(r"\w[-/–—]\w")
_BLANKS: Final = str.maketrans("\t\r", "  ")


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
    sheet = settings.sheet
    widths = {
        register.table: register_widths(register, sheet.measure)
        for register in registers.registers
        if not isinstance(register, CompactRegister)
    }
    any_compact = any(isinstance(register, CompactRegister) for register in registers.registers)
    design = {
        **design_of(settings),
        "title": registers.heading,
        "inset": _INSETS,
        # Above two columns the words take the width of both.
        "lead-width": sheet.measure if any_compact else sheet.column,
        "places": PLACES,
        "compact": {"gap": COLUMN_GAP, "entry": ENTRY_GAP, "indent": ENTRY_INDENT},
    }
    batches = list(_share_out(registers.registers))
    for number, batch in enumerate(batches):
        links = _Links(known, files)
        given = {
            **design,
            "heading": "" if number else registers.heading,
            "lead": "" if number else registers.lead,
            "level": 1 if number else 2,
            "stretches": list(_describe_batch(batch, widths, column_width(sheet), links)),
        }
        alone = len(batches) == 1
        given["opening"] = links.opening
        file = (compile_typst if alone else _compile_apart)(TEMPLATE, given, epoch=settings.epoch)
        named = [(anchor, settings.say_link(anchor)) for anchor in links.numbers]
        page_batch = cut_batch(file, named, start, lowered=1 if number else 0, files=files)
        yield page_batch
        start = page_batch.numbering


def _describe_batch(
    batch: Sequence[Register | CompactRegister],
    widths: Mapping[str, Sequence[float]],
    column: float,
    links: _Links,
) -> Iterator[dict[str, Any]]:
    """The registers of a batch as the template takes them, those in two columns by themselves."""

    def describe(register: Register | CompactRegister) -> dict[str, Any]:
        if isinstance(register, CompactRegister):
            return _describe_compact(register, column, links)
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


def _compile_apart(template: str, given: dict[str, Any], *, epoch: int) -> bytes:
    """Set a batch in a process of its own, which gives its memory back."""
    with ProcessPoolExecutor(1, mp_context=ApartContext()) as process:
        return process.submit(compile_typst, template, given, epoch=epoch).result()


class _Links:
    """The anchors that a batch leads to, numbered: an address that is a number needs no reading later."""

    def __init__(self, known: frozenset[str] | None, files: Collection[str]) -> None:
        self._known = known
        self._files = files
        #: The addresses that open an attached file, for the template's sign before them.
        self.opening: dict[str, bool] = {}
        self.numbers: dict[str, int] = {}

    def address(self, anchor: str) -> str:
        """What the template is given of a link, or an empty text where it leads nowhere."""
        opens = anchor in self._files
        if not anchor or not (opens or self._known is None or anchor in self._known):
            return ""
        address = f"{SCHEME}{self.numbers.setdefault(anchor, len(self.numbers))}"
        if opens:
            self.opening[address] = True
        return address


def _describe(register: Register, widths: Sequence[float], links: _Links) -> dict[str, Any]:
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
                *(_describe_cell(cell, room, links) for cell, room in zip(cells, rooms, strict=True)),
            ]
            for anchor, cells in register.rows
        ],
    }


def _describe_compact(register: CompactRegister, width: float, links: _Links) -> dict[str, Any]:
    """A compact register as the template takes it.

    A line is the entries that are set on, each with its anchor, the width of its place (0: it has lines of
    its own) and its runs.
    """
    # Cells are measured in the type of a register's columns.
    room = (width - ENTRY_INDENT) * TYPE["register"].size / TYPE["entry"].size

    def describe(runs: Sequence[Run]) -> list[list[str]]:
        described = _describe_cell([(run.text, run.href) for run in runs], room, links)
        return [[described, ""]] if isinstance(described, str) else described

    return {
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


def _is_tall(cell: Runs, room: float) -> bool:
    letters = sum(len(text) for text, _ in cell)
    return letters > _TALL and letters * TYPE["register"].size > _TALL * room


def _describe_cell(cell: Runs, room: float, links: _Links) -> str | list[list[str]]:
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


@lru_cache(maxsize=20_000)
def _fit(text: str, room: float | None) -> str:
    """The text fit to be set: a figure beside its unit, and words that may break only where they must.

    `room` is the width of the cell, if its texts fill several lines (None: no line ends in it).
    """
    held = fit_to_set(UNIT.sub(_NO_BREAK, text.translate(_BLANKS)))
    return held if room is None else "".join(_hold(word, room) for word in re.split(r"([ \n]+)", held))


def _hold(word: str, room: float) -> str:
    """A word of a text that fills several lines, with marks for the template."""
    if faces.text_width(word, TYPE["register"].size) > room:
        return _MAY_BREAK.join(word)
    return f"{_HELD}{word}{_HELD}" if _BREAKS.search(word) else word
