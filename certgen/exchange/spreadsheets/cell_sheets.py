"""Sheets of a workbook that is written row by row, for rows that are cells already.

openpyxl's own sheet tries each cell as a value first and words its refusal with the cell's place: a third of
all that a long sheet cost.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from openpyxl.worksheet._write_only import WriteOnlyWorksheet

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator


class CellSheet(WriteOnlyWorksheet):
    """A sheet whose rows are cells without links, None where one is left out."""

    def _values_to_row(self, values: Iterable[Any], row_idx: int) -> Iterator[Any]:
        for column, cell in enumerate(values, 1):
            if cell is not None:
                cell.row, cell.column = row_idx, column
                yield cell


def begin_sheet(book: Any, name: str) -> Any:  # its stubs know little of a sheet that is only written
    """A new sheet at the end of a workbook that was begun with `write_only`."""
    sheet = CellSheet(book, name)
    book._add_sheet(sheet)  # noqa: SLF001 (as `create_sheet` does with the sheets that it makes)
    return sheet
