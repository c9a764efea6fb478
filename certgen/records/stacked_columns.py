"""Tables made of others: some rows of one, or several one below the other.

Nothing is laid out that isn't asked for.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from certgen.records.columns import Columns, close_array

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pandas import DataFrame

    from certgen.records.columns import Array


class TakenColumns(Columns):
    """Some rows of a table, by their numbers."""

    __slots__ = ("_rows", "_source")

    def __init__(self, source: Columns, rows: Array) -> None:
        super().__init__({}, size=len(rows))
        self._source = source
        self._rows = rows

    def frame(self) -> DataFrame:
        """The rows as a DataFrame, under the numbers that they have in the whole table."""
        return self._source.frame().iloc[self._rows]

    def __contains__(self, name: object) -> bool:
        return name in self._source

    def __getitem__(self, name: str) -> Array:
        if name not in self._arrays:
            self._arrays[name] = close_array(self._source[name][self._rows])
        return self._arrays[name]

    def is_whole(self, name: str) -> bool:
        """Whether a column's floats are whole numbers."""
        return self._source.is_whole(name)

    @property
    def names(self) -> list[str]:
        """The names of all columns."""
        return self._source.names


class StackedColumns(Columns):
    """Tables with the same columns, one below the other; one at least."""

    __slots__ = ("_parts",)

    def __init__(self, parts: Sequence[Columns]) -> None:
        super().__init__({}, size=sum(map(len, parts)))
        self._parts = parts

    def frame(self) -> DataFrame:
        """The whole as a DataFrame, its rows counted from 0."""
        from certgen.records.frames import stack_frames

        return stack_frames([part.frame() for part in self._parts])

    def __contains__(self, name: object) -> bool:
        return name in self._parts[0]

    def __getitem__(self, name: str) -> Array:
        if name not in self._arrays:
            self._arrays[name] = close_array(np.concatenate([part[name] for part in self._parts]))
        return self._arrays[name]

    def is_whole(self, name: str) -> bool:
        """Whether a column's floats are whole numbers."""
        return self._parts[0].is_whole(name)

    @property
    def names(self) -> list[str]:
        """The names of all columns."""
        return self._parts[0].names
