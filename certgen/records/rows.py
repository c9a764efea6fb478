"""Tables as plain Python values: the one way from a column, a row or a cell to what it says.

Text is `str`, a day is a `date`, counts and masses are `int`, yes and no are `bool`, a list is a tuple and a
nested mapping a dict. Where nothing stands there is None, or an empty tuple where a list would stand.
"""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pandas import DataFrame, Series


_HOLDERS = frozenset({tuple, list, dict})


def is_absent(value: object) -> bool:
    """Whether a cell says nothing: None, a missing number or day, an empty list or mapping."""
    if isinstance(value, (tuple, list, dict)):
        return not value
    return _is_missing(value)


def _is_missing(value: object) -> bool:
    if value is None:
        return True
    if isinstance(value, (str, int)) or type(value) is date:
        return False
    if isinstance(value, (float, np.datetime64)):
        # Nothing else differs from itself.
        return bool(value != value)  # noqa: PLR0124
    import pandas as pd

    return bool(pd.isna(value))  # type: ignore[call-overload]


def plain_value(cell: Any) -> Any:
    """What one cell of a table says, out of whatever type the table keeps it in."""
    if isinstance(cell, (str, tuple, dict, list)):
        return cell
    if _is_missing(cell):
        return None
    if hasattr(cell, "to_pydatetime"):
        return cell.date()
    # numpy's own numbers are neither int nor bool.
    return cell.item() if hasattr(cell, "item") else cell


def plain_values(column: Series[Any]) -> list[Any]:
    """What a column says, row for row."""
    if column.dtype == object:
        return [cell if isinstance(cell, (tuple, str)) else plain_value(cell) for cell in column]
    values = column.dt.date.tolist() if column.dtype.kind == "M" else column.tolist()
    if not column.hasnans:
        return values
    return [None if absent else value for value, absent in zip(values, column.isna().tolist(), strict=True)]


def entered_values(column: Series[Any]) -> list[Any]:
    """What was entered in a column, row for row: None also where a list or a mapping is empty."""
    return [None if type(value) in _HOLDERS and not value else value for value in plain_values(column)]


def plain_rows(
    frame: DataFrame, *columns: str, where: Series[Any] | None = None
) -> Iterator[tuple[Any, ...]]:
    """What the named columns say, a tuple a row; of the rows where something is so, if that is given.

    To cut all columns of a frame down to a few rows, often none, takes longer than to find them.
    """
    if not frame.empty and (where is None or where.any()):
        yield from zip(*(plain_values(_cut(frame[column], where)) for column in columns), strict=True)


def indexed_rows(
    frame: DataFrame, *columns: str, where: Series[Any] | None = None
) -> Iterator[tuple[Any, ...]]:
    """The index of each row, and what the named columns say there; `where` is as in `plain_rows`."""
    if not frame.empty and (where is None or where.any()):
        index = frame.index if where is None else frame.index[where.fillna(value=False).to_numpy(dtype=bool)]
        yield from zip(
            index.tolist(), *(plain_values(_cut(frame[column], where)) for column in columns), strict=True
        )


def _cut(column: Series[Any], where: Series[Any] | None) -> Series[Any]:
    return column if where is None else column[where]


def plain_record(frame: DataFrame, row: int) -> dict[str, Any]:
    """What one row says, by column; the row counts from 0, whatever the index."""
    return {str(column): plain_value(frame[column].iat[row]) for column in frame.columns}


def plain_records(frame: DataFrame) -> Iterator[dict[str, Any]]:
    """What each row says, by column."""
    names = [str(column) for column in frame.columns]
    for values in plain_rows(frame, *names):
        yield dict(zip(names, values, strict=True))


def look_up(keys: Series[Any], values: Series[Any]) -> Series[Any]:
    """For each key the value that stands under it, missing where none does; the values keep their type.

    `Series.map` would turn text or days into floats where nothing is found.
    """
    return values.reindex(keys).set_axis(keys.index)
