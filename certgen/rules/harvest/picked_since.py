"""What was picked from some land since a day: what came onto it then may be in no fruit picked before.

Thousands of inputs and incidents may each stand at thousands of pickings, so the pickings are held as rows.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Collection
    from datetime import date

    from certgen.lineage.node_lists import NodeList
    from certgen.records.columns import Array
    from certgen.rules.case import Case

#: So many rows are kept of what was found, to be found again.
_KEPT: Final = 1_000_000


class PickedSince:
    """The pickings from blocks on a day and after, each once, in the order of the records."""

    def __init__(self, case: Case) -> None:
        self._case = case
        picked = case.joined("picked")
        self._days = picked["date"]
        first = case.columns("harvests").first("harvest")
        named = zip(picked["harvest"].tolist(), picked["harvest_row"].tolist(), strict=True)
        self._rows = np.fromiter((first.get(name, row) for name, row in named), "int64", len(picked))
        self._is_ordered = bool((np.diff(self._rows) >= 0).all())
        self._of_block: dict[str, list[int]] = {}
        for at, block in enumerate(picked["block"].tolist()):
            self._of_block.setdefault(block, []).append(at)
        self._land: tuple[frozenset[str], Array] = (frozenset(), np.zeros(0, dtype="int64"))
        self._found: dict[tuple[frozenset[str], date, bool], NodeList] = {}
        self._left = _KEPT

    def find(self, blocks: Collection[str], when: date, *, undated: bool = True) -> NodeList:
        """The pickings; `undated` ones may have been made at any time."""
        asked = (frozenset(blocks), when, undated)
        found = self._found.get(asked)
        if found is None:
            found = self._case.nodes("harvests", self._find(*asked))
            self._left -= len(found)
            if self._left >= 0:
                self._found[asked] = found
        return found

    def _find(self, blocks: frozenset[str], when: date, undated: bool) -> Array:
        if self._land[0] != blocks:
            there = [at for block in blocks for at in self._of_block.get(block, ())]
            self._land = blocks, np.sort(np.array(there, dtype="int64"))
        at, day = self._land[1], np.datetime64(when, "s")
        days = self._days[at]
        rows = self._rows[at[~(days < day) if undated else days >= day]]
        if self._is_ordered:
            return rows[np.diff(rows, prepend=-1) != 0]
        each, first = np.unique(rows, return_index=True)
        return each[np.argsort(first)]
