"""Typed records to tables: one DataFrame a table, with every column even when no record has it.

Columns by kind: text as pandas `str`, dates as `datetime64[s]`, whole numbers as `Int64`, numbers
as float, yes/no as `boolean`; a quantity stays as typed and has its converted value beside it
(`weight`, `weight_mg`); lists are tuples. `file` and `at` say where a record stands: the file, and
its index in that file's list.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

import numpy as np
import pandas as pd

from certgen.records.quantities import SUFFIXES, parse_quantity
from certgen.records.tables import TEXT_KINDS, Column, Field, Table

_NOTHING: Mapping[str, Any] = {}


def build_frame(
    table: Table, records: Sequence[Mapping[str, Any]], files: Sequence[str], at: Sequence[int]
) -> pd.DataFrame:
    """The table of all sound records, in reading order; `files[i]` and `at[i]` say where record i stands."""
    present: set[str] = set()
    for record in records:
        present.update(record)
    columns: dict[str, Any] = {}
    for column in table.columns:
        if column.path[0] in present:
            values = _pick(records, column.path)
        else:
            values = [None] * len(records)
        columns.update(_typed(column, values))
    columns["file"] = pd.Categorical(files, categories=sorted(set(files)))
    columns["at"] = np.asarray(at, dtype="int64")
    return pd.DataFrame(columns, index=pd.RangeIndex(len(records)))


def _pick(records: Sequence[Mapping[str, Any]], path: tuple[str, ...]) -> list[Any]:
    if len(path) == 1:
        name = path[0]
        return [record.get(name) for record in records]
    first, rest = path[0], path[1:]
    return _pick([record.get(first) or _NOTHING for record in records], rest)


def _typed(column: Column, values: list[Any]) -> dict[str, Any]:
    kind, name = column.kind, column.name
    if kind in TEXT_KINDS:
        return {name: pd.Series(values, dtype="str")}
    if kind == "date":
        return {name: np.array([value or "NaT" for value in values], dtype="datetime64[s]")}
    if kind == "whole":
        return {name: pd.array(values, dtype="Int64")}
    if kind == "number":
        return {name: np.array([np.nan if value is None else value for value in values], dtype="float64")}
    if kind == "yes_no":
        return {name: pd.array(values, dtype="boolean")}
    if kind in SUFFIXES:
        converted = [None if value is None else parse_quantity(value, kind).si for value in values]
        typed = pd.Series(values, dtype="str")
        if kind == "mass":
            return {name: typed, column.computed: pd.array(converted, dtype="Int64")}
        numbers = np.array([np.nan if value is None else value for value in converted], dtype="float64")
        return {name: typed, column.computed: numbers}
    if kind == "mapping":
        return {name: _objects([value if value is None else dict(value) for value in values])}
    return _listed(column, values)


def _listed(column: Column, values: list[Any]) -> dict[str, Any]:
    """A list's column of tuples, and beside a list of quantities the converted ones."""
    item = column.field.item
    if item is not None and item.kind == "mapping":
        return {
            column.name: _objects([tuple(_convert(item, part) for part in value or ()) for value in values])
        }
    found = {column.name: _objects([tuple(value or ()) for value in values])}
    if item is not None and item.is_quantity:
        converted = [tuple(parse_quantity(part, item.kind).si for part in value or ()) for value in values]
        found[f"{column.name}_{SUFFIXES[item.kind]}"] = _objects(converted)
    return found


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


def _objects(values: list[Any]) -> Any:
    # np.array would look into the tuples and build a matrix of them.
    found = np.empty(len(values), dtype=object)
    found[:] = values if values else []
    return found
