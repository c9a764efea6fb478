"""Typed records to tables: one DataFrame a table, with every column even when no record has it.

Columns by kind: text as pandas `str`, dates as `datetime64[s]`, whole numbers as `Int64`, numbers
as float, yes/no as `boolean`; a quantity stays as typed and has its converted value beside it
(`weight`, `weight_mg`); lists are tuples. `file` and `at` say where a record stands: the file, and
its index in that file's list.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import date
from functools import cache
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from certgen.records.columns import Columns, close_array, read_array
from certgen.records.quantities import SUFFIXES, QuantityError, parse_quantity
from certgen.records.tables import TEXT_KINDS, Column, Field, Table

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pandas as pd

    from certgen.records.columns import Array
    from certgen.records.record_files.extracts import Stretch


#: The columns of each table without records, with the table that they were laid out for.
_EMPTY: dict[str, tuple[Table, RecordColumns]] = {}


class RecordColumns(Columns):
    """The columns of a table as its records were read. Its DataFrame is laid out when it is first asked for:
    the checks do without most of them."""

    __slots__ = ("_frame", "_stretches", "_table")

    def __init__(self, table: Table, stretches: Sequence[tuple[str, Stretch]]) -> None:
        super().__init__({}, size=sum(len(stretch.at) for _, stretch in stretches))
        self._table = table
        self._stretches = stretches
        self._frame: pd.DataFrame | None = None

    def frame(self) -> pd.DataFrame:
        """The table; the values as they were read are let go once they stand in it."""
        if self._frame is None:
            self._frame = _lay_out(self._table, self._stretches)
            self._stretches = ()
        return self._frame

    def __reduce__(self) -> tuple[Callable[[pd.DataFrame], Columns], tuple[pd.DataFrame]]:
        # What the table's schema says stays behind when it is sent to another process.
        return Columns.of, (self.frame(),)

    def __contains__(self, name: object) -> bool:
        return name in ("file", "at") or name in _owners(self._table)

    def __getitem__(self, name: str) -> Array:
        found = self._arrays.get(name)
        if found is None:
            if self._frame is None:
                self._lay_in(name)
            else:
                found, whole = read_array(self._frame[name])
                self._arrays[name] = found
                self._whole |= {name} if whole else set()
            found = self._arrays[name]
        return found

    def _lay_in(self, name: str) -> None:
        """Lays the column to which a name belongs, with what is converted beside it, into arrays."""
        if name == "file":
            made = {name: objects([file for file, stretch in self._stretches for _ in stretch.at])}
        elif name == "at":
            at = [index for _, stretch in self._stretches for index in stretch.at]
            made = {name: np.asarray(at, dtype="int64")}
        else:
            column = _owners(self._table)[name]
            made = _typed_arrays(column, self._read(column))
            self._whole.update(_whole_among(column, made))
        self._arrays |= {one: close_array(array) for one, array in made.items()}

    def _read(self, column: Column) -> list[Any]:
        """A column's values as the records hold them."""
        values: list[Any] = []
        for _, stretch in self._stretches:
            values.extend(stretch.columns.get(column.name, ()) or [None] * len(stretch.at))
        return values

    def is_whole(self, name: str) -> bool:
        """Whether a column's floats are whole numbers."""
        self[name]
        return name in self._whole

    @property
    def names(self) -> list[str]:
        """The names of all columns, as they stand in the table."""
        return [*_owners(self._table), "file", "at"]


#: By a table's name the columns by each of the names that they have, with the table.
_OWNERS: dict[str, tuple[Table, dict[str, Column]]] = {}


def _owners(table: Table) -> dict[str, Column]:
    """The column to which each name in the table belongs: its own, and that of what is converted beside."""
    found = _OWNERS.get(table.name)
    if found is None or found[0] is not table:
        named = ((name, column) for column in table.columns for name in _names(column))
        found = _OWNERS[table.name] = (table, dict(named))
    return found[1]


def _names(column: Column) -> tuple[str, ...]:
    """What a column is called in the table, and what is converted beside it, as `typed_column` gives them."""
    name, item = column.name, column.field.item
    if column.kind in SUFFIXES:
        return (name, column.computed)
    if item is not None and item.is_quantity:
        return (name, f"{name}_{SUFFIXES[item.kind]}")
    return (name,)


def build_columns(table: Table, stretches: Sequence[tuple[str, Stretch]]) -> RecordColumns:
    """The table of all sound records in reading order, from each file's name and stretch of the table.

    The stretches' columns are taken out of them once the table is laid out: a value stands either there or
    in the table.
    """
    stretches = [(file, stretch) for file, stretch in stretches if stretch.at]
    if stretches:
        return RecordColumns(table, stretches)
    # Most tables of a small season hold nothing, and share what they don't hold.
    if table.name not in _EMPTY or _EMPTY[table.name][0] is not table:
        _EMPTY[table.name] = (table, RecordColumns(table, ()))
    return _EMPTY[table.name][1]


def build_frame(table: Table, stretches: Sequence[tuple[str, Stretch]]) -> pd.DataFrame:
    """The same table as a DataFrame."""
    return build_columns(table, stretches).frame().copy(deep=False)


class Tables(Mapping[str, "pd.DataFrame"]):
    """A season's tables: the DataFrame of each, made when it is first asked for, and its columns."""

    def __init__(self, tables: Mapping[str, Columns]) -> None:
        self._tables = dict(tables)
        self._frames: dict[str, pd.DataFrame] = {}

    def __getitem__(self, name: str) -> pd.DataFrame:
        if name not in self._frames:
            self._frames[name] = self._tables[name].frame()
        return self._frames[name]

    def __contains__(self, name: object) -> bool:
        # A mapping's own way would lay the table out.
        return name in self._tables

    def __iter__(self) -> Iterator[str]:
        return iter(self._tables)

    def __len__(self) -> int:
        return len(self._tables)

    def columns(self, name: str) -> Columns:
        """A table's columns as arrays; KeyError for a table that isn't among them."""
        return self._tables[name]

    def replacing(self, changed: Mapping[str, pd.DataFrame | Columns]) -> Tables:
        """The same tables with others in the place of some."""
        columns = {
            name: table if isinstance(table, Columns) else Columns.of(table)
            for name, table in changed.items()
        }
        other = Tables({**self._tables, **columns})
        other._frames = {name: frame for name, frame in self._frames.items() if name not in changed}
        return other


def as_tables(tables: Mapping[str, pd.DataFrame]) -> Tables:
    """Tables of DataFrames, or such as they are."""
    return tables if isinstance(tables, Tables) else Tables({}).replacing(tables)


def _lay_out(table: Table, stretches: Sequence[tuple[str, Stretch]]) -> pd.DataFrame:
    import pandas as pd

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


def fill_column(records: Columns, column: Column, values: list[Any]) -> Columns:
    """A table with other values in a column, as its records would hold them, and in what is converted beside
    it."""
    made = _typed_arrays(column, values)
    return records.adding(whole=_whole_among(column, made), **made)


def _whole_among(column: Column, names: Iterable[str]) -> list[str]:
    """Which of a column's arrays hold whole numbers."""
    return [name for name in names if column.kind == "whole" or name.endswith("_mg")]


def _typed_arrays(column: Column, values: list[Any]) -> dict[str, Any]:
    """A column out of values as the records hold them, as `typed_column` gives it, but as arrays."""
    kind, name = column.kind, column.name
    if kind in SUFFIXES:
        converted = [None if value is None else parse_quantity(value, kind).si for value in values]
        return {name: objects(values), column.computed: _numbers(converted)}
    if kind in TEXT_KINDS or kind == "yes_no":
        return {name: objects(values)}
    return {name: _numbers(values)} if kind == "whole" else typed_column(column, values)


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


@cache
def _kinds() -> tuple[Any, Any, Any]:
    """pandas' kinds of texts, whole numbers and yes or no. By name each would be looked up among all that
    pandas knows, once a column; and pandas itself is a third of what a command takes to start."""
    import pandas as pd

    return pd.array([], dtype="str").dtype, pd.Int64Dtype(), pd.BooleanDtype()


def _extended(values: list[Any], kind: int) -> Any:
    import pandas as pd

    return pd.array(values, dtype=_kinds()[kind])


def _texts(values: list[Any]) -> Any:
    return _extended(values, 0)


def _wholes(values: list[Any]) -> Any:
    return _extended(values, 1)


def _yes_nos(values: list[Any]) -> Any:
    return _extended(values, 2)


def _numbers(values: list[Any]) -> Any:
    return np.array([np.nan if value is None else value for value in values], dtype="float64")


#: By a column's kind the array of a table that holds its values.
_ARRAYS: Final[Mapping[str, Callable[[list[Any]], Any]]] = {
    "date": lambda values: np.array([value or "NaT" for value in values], dtype="datetime64[s]"),
    "whole": _wholes,
    "number": _numbers,
    "yes_no": _yes_nos,
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


def objects(values: list[Any]) -> Array:
    """An array of values that may themselves be lists."""
    # np.array would look into the tuples and build a matrix of them.
    found = np.empty(len(values), dtype=object)
    found[:] = values or []
    return found


def stack_frames(frames: Sequence[pd.DataFrame]) -> pd.DataFrame:
    """Frames with the same columns, one below the other, with their kinds kept."""
    import pandas as pd

    full = [frame for frame in frames if len(frame)]
    if len(full) < 2:
        return (full[0] if full else frames[0]).reset_index(drop=True)
    kinds = full[0].dtypes
    stacked = pd.concat([frame.assign(file=frame["file"].astype("str")) for frame in full], ignore_index=True)
    return stacked.astype({name: kind for name, kind in kinds.items() if name != "file"})
