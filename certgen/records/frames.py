"""Typed records to tables: one DataFrame a table, with every column even when no record has it.

Columns by kind: text as pandas `str`, dates as `datetime64[s]`, whole numbers as `Int64`, numbers
as float, yes/no as `boolean`; a quantity stays as typed and has its converted value beside it
(`weight`, `weight_mg`); lists are tuples. `file` and `at` say where a record stands: the file, and
its index in that file's list.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import pandas as pd

from certgen.records.quantities import SUFFIXES, QuantityError, parse_quantity
from certgen.records.tables import TEXT_KINDS, Column, Field, Table

if TYPE_CHECKING:
    from collections.abc import Sequence

    from certgen.records.record_files.extracts import Stretch


# By name each would be looked up among all that pandas knows, once a column.
_TEXT: Final = pd.array([], dtype="str").dtype
_WHOLE: Final = pd.Int64Dtype()
_YES_NO: Final = pd.BooleanDtype()
#: The empty frame of each table, with the table that it was laid out for.
_EMPTY: dict[str, tuple[Table, pd.DataFrame]] = {}


def build_frame(table: Table, stretches: Sequence[tuple[str, Stretch]]) -> pd.DataFrame:
    """The table of all sound records in reading order, from each file's name and stretch of the table.

    The stretches' columns are taken out of them: a value stands either there or in the table.
    """
    stretches = [(file, stretch) for file, stretch in stretches if stretch.at]
    if not stretches:
        # Most tables of a small season hold nothing, and to lay out thirty empty columns takes milliseconds.
        if table.name not in _EMPTY:
            _EMPTY[table.name] = (table, _lay_out(table, ()))
        of_table, empty = _EMPTY[table.name]
        return empty.copy(deep=False) if of_table is table else _lay_out(table, ())
    return _lay_out(table, stretches)


def _lay_out(table: Table, stretches: Sequence[tuple[str, Stretch]]) -> pd.DataFrame:
    rows = sum(len(stretch.at) for _, stretch in stretches)
    columns: dict[str, Any] = {}
    for column in table.columns:
        values: list[Any] = []
        for _, stretch in stretches:
            values.extend(stretch.columns.pop(column.name, ()) or [None] * len(stretch.at))
        columns.update(typed_column(column, values))
    files = [file for file, _ in stretches]
    code = np.repeat(np.arange(len(files)), [len(stretch.at) for _, stretch in stretches])
    columns["file"] = pd.Categorical.from_codes(code.tolist(), categories=pd.Index(files, dtype="str"))
    at = [index for _, stretch in stretches for index in stretch.at]
    columns["at"] = np.asarray(at, dtype="int64")
    return pd.DataFrame(columns, index=pd.RangeIndex(rows))


def typed_column(column: Column, values: list[Any]) -> dict[str, Any]:
    """A column out of values as the records hold them, with its converted one if it takes quantities."""
    kind, name = column.kind, column.name
    if kind in SUFFIXES:
        converted = [None if value is None else parse_quantity(value, kind).si for value in values]
        build = _wholes if kind == "mass" else _numbers
        return {name: _texts(values), column.computed: build(converted)}
    if kind in TEXT_KINDS:
        return {name: _texts(values)}
    return {name: _ARRAYS[kind](values)} if kind in _ARRAYS else _listed(column, values)


def drop_untyped(table: Table, record: Mapping[str, Any]) -> dict[str, Any]:
    """A record without the fields whose values no column of the table can hold, such as a mass in feet."""
    kept = dict(record)
    for column in table.columns:
        value: Any = record
        for step in column.path:
            value = value.get(step) if isinstance(value, Mapping) else None
        try:
            typed_column(column, [value])
        except (QuantityError, ValueError, TypeError, AttributeError, KeyError):
            kept.pop(column.path[0], None)
    return kept


def _texts(values: list[Any]) -> Any:
    return pd.array(values, dtype=_TEXT)


def _wholes(values: list[Any]) -> Any:
    return pd.array(values, dtype=_WHOLE)


def _numbers(values: list[Any]) -> Any:
    return np.array([np.nan if value is None else value for value in values], dtype="float64")


#: By a column's kind the array of a table that holds its values.
_ARRAYS: Final[Mapping[str, Callable[[list[Any]], Any]]] = {
    "date": lambda values: np.array([value or "NaT" for value in values], dtype="datetime64[s]"),
    "whole": _wholes,
    "number": _numbers,
    "yes_no": lambda values: pd.array(values, dtype=_YES_NO),
    "mapping": lambda values: objects([value if value is None else dict(value) for value in values]),
}


def _listed(column: Column, values: list[Any]) -> dict[str, Any]:
    """A list's column of tuples, and beside a list of quantities the converted ones."""
    name, item = column.name, column.field.item
    if item is None:
        return {name: _tuples(values)}
    if item.kind == "mapping":
        return {name: _tuples(values, lambda part: _convert(item, part))}
    if not item.is_quantity:
        return {name: _tuples(values)}
    converted = _tuples(values, lambda part: parse_quantity(part, item.kind).si)
    return {name: _tuples(values), f"{name}_{SUFFIXES[item.kind]}": converted}


def _tuples(values: list[Any], convert: Callable[[Any], Any] | None = None) -> Any:
    """Each value's parts as a tuple, converted if need be; an empty one where nothing stands."""
    if convert is None:
        return objects([tuple(value or ()) for value in values])
    return objects([tuple(map(convert, value or ())) for value in values])


def _convert(field: Field, record: Mapping[str, Any]) -> dict[str, Any]:
    """A mapping inside a list, with dates as dates and converted quantities beside the typed ones."""
    found: dict[str, Any] = {}
    for name, value in record.items():
        part = field.fields.get(name)
        if part is None:
            found[name] = value
        elif part.kind == "date":
            found[name] = date.fromisoformat(value)
        elif part.kind == "mapping":
            found[name] = _convert(part, value)
        else:
            found[name] = tuple(value) if isinstance(value, list) else value
            if part.is_quantity:
                found[f"{name}_{SUFFIXES[part.kind]}"] = parse_quantity(value, part.kind).si
    return found


def objects(values: list[Any]) -> Any:
    """An array of values that may themselves be lists."""
    # np.array would look into the tuples and build a matrix of them.
    found = np.empty(len(values), dtype=object)
    found[:] = values or []
    return found


def stack_frames(frames: Sequence[pd.DataFrame]) -> pd.DataFrame:
    """Frames with the same columns, one below the other, with their kinds kept."""
    full = [frame for frame in frames if len(frame)]
    if len(full) < 2:
        return (full[0] if full else frames[0]).reset_index(drop=True)
    kinds = full[0].dtypes
    stacked = pd.concat([frame.assign(file=frame["file"].astype("str")) for frame in full], ignore_index=True)
    return stacked.astype({name: kind for name, kind in kinds.items() if name != "file"})
