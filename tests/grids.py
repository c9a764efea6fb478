"""Sheets of somebody's own, laid out for tests of what is read from them."""

from __future__ import annotations

from certgen.exchange.importing.grids import Cell, Sheet


def lay(headings: list[str], *rows: list[object], name: str = "Book") -> Sheet:
    """A sheet: headings in row 1, the rows below them; None is an empty cell."""
    heads = {i: Cell(heading, f"{'ABCDEFGH'[i]}1") for i, heading in enumerate(headings)}
    placed = tuple(
        {i: Cell(value, f"{'ABCDEFGH'[i]}{number}") for i, value in enumerate(row) if value is not None}
        for number, row in enumerate(rows, 2)
    )
    return Sheet(name, heads, placed)
