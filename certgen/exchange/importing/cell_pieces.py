"""Cells taken apart: into pieces, into the identifiers that a range names, without a prefix."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Final

from certgen.exchange.importing.cells import as_text, shorten_dashes
from certgen.exchange.importing.column_evidence import RANGE
from certgen.exchange.spreadsheets.rows import BLANKS

if TYPE_CHECKING:
    from certgen.exchange.importing.column_maps import SheetMap, Target
    from certgen.exchange.importing.grids import Cell, Sheet

#: A range of more is a slip of the pen.
LONGEST_RANGE: Final = 5_000
#: A cell is cut into at most so many entries.
ENTRIES: Final = 200


def rename(text: str, target: Target) -> str:
    """An identifier as the season has it: without the map's prefix, filled up to its digits."""
    text = text.strip()
    prefix = target.drop_prefix.casefold()
    if prefix and text.casefold().startswith(prefix):
        text = text[len(prefix) :].strip()
    if target.digits and text.isascii() and text.isdigit():
        text = text.zfill(target.digits)
    return shorten_dashes(f"{target.add_prefix}{text}")


def part_text(text: str, cut: str, wanted: int) -> list[str]:
    """A text cut into at most as many pieces as are wanted, the last with all that follows."""
    if not cut.strip():
        return text.split(None, wanted - 1)
    return [piece.strip(BLANKS) for piece in text.split(cut, wanted - 1)]


def cut_cell(cell: Cell, target: Target) -> list[list[str]]:
    """The pieces of a cell that is cut, of each of its entries."""
    if cell.formula or not target.fields:
        return []
    text = as_text(cell.value)
    entries = text.split(target.entries) if target.entries else [text]
    return [
        part_text(entry.strip(BLANKS), target.cut, len(target.fields))
        for entry in entries[:ENTRIES]
        if entry.strip(BLANKS)
    ]


def list_keys(sheet: Sheet, part: SheetMap, key: str) -> list[str]:
    """The identifiers that a sheet gives the records of a table, its ranges taken apart."""
    found: list[str] = []
    for index, heading in sheet.headings.items():
        target = part.columns.get(str(heading.value).strip())
        if target is not None and target.field == key and not target.fields:
            cells = (row[index] for row in sheet.rows if index in row)
            for cell in cells:
                found += [] if cell.formula else _name_each(as_text(cell.value), target)
    return found


def _name_each(text: str, target: Target) -> Iterator[str]:
    """What a cell names: itself, or each of its range."""
    many = RANGE.fullmatch(text.strip()) if target.ranges else None
    first, last = (int(many[2]), int(many[3])) if many is not None else (0, 0)
    if many is None or not first < last < first + LONGEST_RANGE:
        yield rename(text, target)
        return
    for number in range(first, last + 1):
        yield rename(f"{number:0{len(many[2])}d}", target)
