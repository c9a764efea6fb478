"""Offenders out of a table, as plain Python values."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pandas import DataFrame, Series


def rows(frame: DataFrame, *columns: str) -> Iterator[tuple[Any, ...]]:
    """The index and the named columns of each row: text, `date`, whole numbers, or None where nothing stands.

    For the few records that a rule has selected; selecting itself is done on whole columns.
    """
    if frame.empty:
        return
    yield from zip(frame.index.tolist(), *(plain(frame[column]) for column in columns), strict=True)


def look_up(keys: Series[Any], values: Series[Any]) -> Series[Any]:
    """For each key the value that stands under it, missing where none does; the values keep their type.

    `Series.map` would turn text or days into floats where nothing is found.
    """
    return values.reindex(keys).set_axis(keys.index)


def plain(column: Series[Any]) -> list[Any]:
    """A column as a list of plain values: days as `date`, missing ones as None."""
    if column.dtype == object:
        return [
            value if isinstance(value, (tuple, dict, str)) or not is_missing(value) else None
            for value in column
        ]
    missing = column.isna().tolist()
    values = column.dt.date.tolist() if column.dtype.kind == "M" else column.tolist()
    return [None if absent else value for value, absent in zip(values, missing, strict=True)]


def is_missing(value: object) -> bool:
    """Whether a plain value stands for nothing."""
    import pandas as pd

    return value is None or bool(pd.isna(value))  # type: ignore[call-overload]
