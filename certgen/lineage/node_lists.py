"""Some records of one table, without a list of their own: thousands of faults may reach thousands each."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, overload

import numpy as np

from certgen.lineage.graph import Node
from certgen.records.tables import load_tables

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.records.columns import Array, Columns


class NodeList(Sequence[Node]):
    """The records of a table at some rows, in their order. `every` are the nodes of all its rows."""

    __slots__ = ("every", "rows")

    def __init__(self, every: Array, rows: Array) -> None:
        self.every = every
        self.rows = rows

    @classmethod
    def of_table(cls, table: str, columns: Columns) -> NodeList:
        """All records of a table, whose columns these are."""
        nodes = [Node(table, name) for name in columns[load_tables()[table].key].tolist()]
        every = np.empty(len(nodes), dtype=object)
        every[:] = nodes
        return cls(every, np.arange(len(nodes)))

    def at(self, rows: Array) -> NodeList:
        """Those of the table at other rows."""
        return NodeList(self.every, rows)

    def __len__(self) -> int:
        return len(self.rows)

    def __iter__(self) -> Iterator[Node]:
        return iter(self.every[self.rows].tolist())

    @overload
    def __getitem__(self, at: int) -> Node: ...
    @overload
    def __getitem__(self, at: slice) -> NodeList: ...
    def __getitem__(self, at: int | slice) -> Node | NodeList:
        if isinstance(at, slice):
            return self.at(self.rows[at])
        found: Node = self.every[self.rows[at]]
        return found

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Sequence) and tuple(self) == tuple(other)

    def __hash__(self) -> int:
        return hash(tuple(self))

    def __repr__(self) -> str:
        return f"NodeList({tuple(self)!r})"


class Union:
    """The records of several lists, each once."""

    def __init__(self) -> None:
        self._others: dict[Node, None] = {}
        self._tables: dict[int, tuple[Array, Array]] = {}
        self._last: Sequence[Node] = ()

    def add(self, nodes: Sequence[Node]) -> None:
        """Adds a list; the same one again costs nothing."""
        if nodes is self._last:
            return
        self._last = nodes
        if isinstance(nodes, NodeList):
            every = nodes.every
            hit = self._tables.setdefault(id(every), (every, np.zeros(len(every), dtype=bool)))[1]
            hit[nodes.rows] = True
        else:
            self._others.update(dict.fromkeys(nodes))

    def list(self) -> tuple[Node, ...]:
        """Them all: those of lists of a table in its order, then the others."""
        of_tables = (node for every, hit in self._tables.values() for node in every[hit].tolist())
        return tuple(dict.fromkeys((*of_tables, *self._others)))
