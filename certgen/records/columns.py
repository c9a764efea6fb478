"""A table as plain arrays, one a column, to ask many small questions of.

pandas takes some fifty times as long as numpy to ask one question of a small column, and examining a season
asks thousands. So the tables stay DataFrames where they are joined, added up and shown, and the rules look at
arrays.

What stands in an array, by a column's kind: text, lists and mappings as objects, with None where nothing
stands; yes and no as True, False or None; days as `datetime64[s]` with NaT; whole numbers and others as
float64 with NaN (a mass in milligrams stays exact up to 9 million tonnes). What a joined table itself counts
(`row`, `position`) is int64, what it answers (`picked`) is bool. No comparison with what is absent is true,
but that with `!=`. Arrays are shared and can't be written to.
"""

from __future__ import annotations

from itertools import repeat
from math import isnan
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Collection, Container, Iterator, Mapping

    from pandas import DataFrame, Series

    Array = np.ndarray[Any, Any]

_HOLDERS = frozenset({tuple, list, dict})


class Columns:
    """The columns of one table, each made when it is first asked for. `len` gives the rows.

    `columns["stage"]` is an array, row for row; KeyError for a column that the table doesn't have.
    """

    __slots__ = ("_arrays", "_base", "_firsts", "_known", "_size", "_whole")

    def __init__(
        self,
        arrays: Mapping[str, Array],
        *,
        size: int,
        whole: Collection[str] = (),
        base: Columns | None = None,
    ) -> None:
        """`arrays` of `size` rows each; `whole` names the float ones that hold whole numbers. What stands in
        none of them stands in `base`."""
        self._arrays: dict[str, Array] = dict(arrays)
        self._size = size
        self._whole = set(whole)
        self._base = base
        self._known: dict[str, Array] = {}
        self._firsts: dict[str, dict[Any, int]] = {}

    @classmethod
    def of(cls, frame: DataFrame) -> Columns:
        """The columns of a frame, whose rows are counted from 0 whatever its index."""
        return _FrameColumns(frame)

    def frame(self) -> DataFrame:
        """The same table as a DataFrame, with the kinds of columns that `records.frames` gives.

        The row of a record in another table (`bag_row`) is a float there: pandas looks nothing up by an
        integer that may be absent.
        """
        import pandas as pd

        made = {
            name: _as_column(array, whole=name in self._whole and not name.endswith("_row"))
            for name, array in self._arrays.items()
        }
        if self._base is None:
            return pd.DataFrame(made, index=pd.RangeIndex(self._size))
        return self._base.frame().assign(**made)

    def __len__(self) -> int:
        return self._size

    def __contains__(self, name: object) -> bool:
        return name in self._arrays or (self._base is not None and name in self._base)

    def __getitem__(self, name: str) -> Array:
        found = self._arrays.get(name)
        if found is None:
            if self._base is None:
                raise KeyError(name)
            found = self._base[name]
        return found

    def is_whole(self, name: str) -> bool:
        """Whether a column's floats are whole numbers."""
        if name in self._arrays or self._base is None:
            return name in self._whole
        return self._base.is_whole(name)

    def known(self, name: str) -> Array:
        """For each row: does something stand in the column? An empty list or mapping says nothing."""
        if self._base is not None and name not in self._arrays:
            return self._base.known(name)
        if name not in self._known:
            self._known[name] = is_known(self[name])
        return self._known[name]

    def absent(self, name: str) -> Array:
        """For each row: does nothing stand in the column?"""
        return ~self.known(name)

    def first(self, name: str) -> dict[Any, int]:
        """By value the first row that bears it, in the order of the rows; what is absent is left out."""
        if self._base is not None and name not in self._arrays:
            return self._base.first(name)
        if name not in self._firsts:
            found: dict[Any, int] = {}
            for row, value in enumerate(self[name].tolist()):
                found.setdefault(value, row)
            found.pop(None, None)
            self._firsts[name] = found
        return self._firsts[name]

    def find(self, name: str, wanted: Array) -> Array:
        """For each wanted value the first row that bears it, -1 where none does or nothing is wanted."""
        first = self.first(name)
        return np.fromiter(map(first.get, wanted.tolist(), repeat(-1)), dtype="int64", count=len(wanted))

    def at(self, name: str, rows: Array) -> Array:
        """A column's values at rows as `find` gives them: absent (False for an answer) where a row is -1."""
        return take(self[name], rows)

    def look_up(self, key: str, wanted: Array, name: str) -> Array:
        """For each wanted value of the column `key` what `name` says in the first row that bears it."""
        return self.at(name, self.find(key, wanted))

    def values(self, name: str, rows: Array | None = None) -> list[Any]:
        """What a column says as plain Python values (see `records.rows`), of all rows or of some."""
        array = self[name] if rows is None else self[name][rows]
        return plain_list(array, whole=self.is_whole(name))

    def value(self, name: str, row: int) -> Any:
        """What a column says in one row."""
        return plain_list(self[name][row : row + 1], whole=self.is_whole(name))[0]

    def entered(self, name: str) -> list[Any]:
        """What was entered in a column, row for row: None also where a list or a mapping is empty."""
        values = self.values(name)
        return [None if type(value) in _HOLDERS and not value else value for value in values]

    def rows(self, *names: str, where: Array | None = None) -> Iterator[tuple[Any, ...]]:
        """The number of each row, and what the named columns say there; of the rows where something is so."""
        chosen = np.arange(self._size) if where is None else np.flatnonzero(where)
        if len(chosen):
            yield from zip(chosen.tolist(), *(self.values(name, chosen) for name in names), strict=True)

    @property
    def names(self) -> list[str]:
        """The names of all columns, those of the base first."""
        return list(dict.fromkeys((*(self._base.names if self._base is not None else ()), *self._arrays)))

    def record(self, row: int) -> dict[str, Any]:
        """What one row says, by column."""
        return next(self.records(np.array([row])))

    def records(self, rows: Array | None = None) -> Iterator[dict[str, Any]]:
        """What each row says, by column, of all rows or of some."""
        names = self.names
        for values in zip(*(self.values(name, rows) for name in names), strict=True):
            yield dict(zip(names, values, strict=True))

    def adding(self, *, whole: Collection[str] = (), **arrays: Array) -> Columns:
        """The same rows with more columns, or others in their place; `whole` as when they are made."""
        return Columns(arrays, size=self._size, whole=whole, base=self)

    def where(self, chosen: Array, *names: str) -> Columns:
        """Some of the rows (a bool for each, or their numbers), with the named columns alone."""
        arrays = {name: self[name][chosen] for name in names}
        size = int(np.count_nonzero(chosen)) if chosen.dtype == bool else len(chosen)
        return Columns(arrays, size=size, whole=[name for name in names if self.is_whole(name)])


class _FrameColumns(Columns):
    """The columns of a frame."""

    __slots__ = ("_frame",)

    def __init__(self, frame: DataFrame) -> None:
        super().__init__({}, size=len(frame))
        self._frame = frame

    def frame(self) -> DataFrame:
        return self._frame

    def __contains__(self, name: object) -> bool:
        return name in self._frame.columns

    def __getitem__(self, name: str) -> Array:
        found = self._arrays.get(name)
        if found is None:
            found, whole = read_array(self._frame[name])
            self._arrays[name] = found
            if whole:
                self._whole.add(name)
        return found

    def is_whole(self, name: str) -> bool:
        self[name]
        return name in self._whole

    @property
    def names(self) -> list[str]:
        return list(map(str, self._frame.columns))


def read_array(column: Series[Any]) -> tuple[Array, bool]:
    """A frame's column as an array, and whether it holds whole numbers as floats."""
    kind = column.dtype
    if isinstance(kind, np.dtype) and kind.kind != "O":
        return close_array(column.to_numpy()), False
    if kind.name == "Int64":
        return close_array(column.to_numpy(dtype="float64", na_value=np.nan)), True
    values = column.to_numpy(dtype=object)
    absent = np.asarray(column.isna(), dtype=bool)
    if absent.any():
        values = values.copy()
        values[absent] = None
    return close_array(values), False


def close_array(array: Array) -> Array:
    """The array so that nobody can write to it."""
    # A view of its own: the frame's array stays as it was.
    shut = array.view()
    shut.flags.writeable = False
    return shut


def _as_column(array: Array, *, whole: bool) -> Any:
    import pandas as pd

    if whole:
        return pd.array(plain_list(array, whole=True), dtype="Int64")
    if array.dtype.kind != "O":
        return array.copy()
    kinds = {type(value) for value in array.tolist()} - {type(None)}
    if kinds <= {str}:
        return pd.array(array, dtype="str")
    return pd.array(array, dtype="boolean") if kinds == {bool} else array.copy()


def is_equal(one: Array, other: Array) -> Array:
    """For each row: do both say the same? What is absent on both sides isn't the same."""
    found: Array = np.asarray(one == other, dtype=bool)
    return found & is_known(one) if one.dtype.kind == "O" else found


def as_rows(found: Array) -> Array:
    """Rows as `find` gives them as a column of a joined table: absent where there is none."""
    return np.where(found < 0, np.nan, found)


def is_known(values: Array) -> Array:
    """For each value: is it there, and not an empty list or mapping?"""
    if values.dtype == object:
        says = [value is not None and value not in _EMPTY for value in values.tolist()]
        return np.array(says, dtype=bool)
    if values.dtype.kind in "fM":
        return np.equal(values, values)
    return np.ones(len(values), dtype=bool)


_EMPTY: tuple[Any, ...] = ((), {})


def plain_list(values: Array, *, whole: bool = False) -> list[Any]:
    """An array as plain Python values: None where nothing stands, days as dates, whole numbers as int."""
    plain: list[Any] = (values.astype("datetime64[D]") if values.dtype.kind == "M" else values).tolist()
    if values.dtype.kind != "f":
        return plain
    if whole:
        return [None if isnan(value) else int(value) for value in plain]
    return [None if isnan(value) else value for value in plain]


def take(values: Array, rows: Array) -> Array:
    """The values at some rows: absent where a row is negative, which for an answer is False."""
    lost = rows < 0
    if not len(values):
        return _nothing(values, len(rows))
    found: Array = values[rows]
    if lost.any():
        if found.dtype.kind == "i":
            found = found.astype("float64")
        found[lost] = _ABSENT[found.dtype.kind]
    return found


#: By a dtype's kind what stands for nothing.
_ABSENT: dict[str, Any] = {"O": None, "M": np.datetime64("NaT"), "f": np.nan, "b": False}


def _nothing(values: Array, size: int) -> Array:
    dtype = np.dtype("float64") if values.dtype.kind == "i" else values.dtype
    return np.full(size, _ABSENT[dtype.kind], dtype=dtype)


def is_in(values: Array, among: Container[Any]) -> Array:
    """For each value: is it one of these? What is absent is none, unless None is among them."""
    return np.fromiter(map(among.__contains__, values.tolist()), dtype=bool, count=len(values))


def repeats(values: Array) -> Array:
    """For each value: did it stand in an earlier row? What is absent repeats nothing."""
    seen: set[Any] = {None}
    found = np.zeros(len(values), dtype=bool)
    for row, value in enumerate(values.tolist()):
        if value in seen:
            found[row] = value is not None
        else:
            seen.add(value)
    return found


def is_shared(values: Array) -> Array:
    """For each value: does it stand in another row too? What is absent is shared by none."""
    groups = group_rows(values)
    return np.fromiter(
        (value is not None and len(groups[value]) > 1 for value in values.tolist()),
        dtype=bool,
        count=len(values),
    )


def group_rows(values: Array, where: Array | None = None) -> dict[Any, list[int]]:
    """By value, in the order in which they first stand, the rows that bear it; what is absent is left out.

    Of the rows where something is so, if `where` is given.
    """
    found: dict[Any, list[int]] = {}
    rows = range(len(values)) if where is None else np.flatnonzero(where).tolist()
    listed = values.tolist()
    for row in rows:
        value = listed[row]
        if value is not None:
            found.setdefault(value, []).append(row)
    return found


def days_from(first: Array, last: Array | np.datetime64) -> Array:
    """Whole days from one day to another, negative where they run backwards; NaN where either is absent."""
    between = (last - first).astype("timedelta64[D]")
    return np.where(np.isnat(between), np.nan, between.astype("float64"))


def list_elements(columns: Columns, column: str, key: str) -> Columns:
    """The elements of a table's list column, one a row: `row`, `position`, `id` (of the key, if there is one)
    and `value`."""
    lists = columns[column].tolist()
    lengths = np.fromiter((len(part) for part in lists), dtype="int64", count=len(lists))
    row = np.repeat(np.arange(len(lists)), lengths)
    values = np.empty(len(row), dtype=object)
    values[:] = [value for part in lists for value in part]
    position = np.arange(len(row)) - np.repeat(np.cumsum(lengths) - lengths, lengths)
    names = take(columns[key], row) if key else np.full(len(row), None)
    return Columns({"row": row, "position": position, "id": names, "value": values}, size=len(row))
