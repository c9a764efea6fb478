"""Which looks a bag keeps where rounds looked at thousands of bags on thousands of days.

Beside its own each bag keeps the first and the last, the first that found it open since it was put on, and
the last that found it intact before that and before it came off. How long it protected follows from these: a
look that isn't kept was no earlier sign of a failure, and shows no more days. Where a bag's record doesn't
say when it came off, a picking may end its days before the last look that is kept: it is worse off for that,
never better.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from certgen.records.columns import Array, Columns

    Look = Mapping[str, Any]

_EARLY: Final = np.datetime64("0001-01-01", "s")
_LATE: Final = np.datetime64("9999-12-31", "s")
_DAY: Final = np.timedelta64(1, "D")


def keep_looks(seen: Sequence[tuple[Array, Look]], bags: Columns) -> list[tuple[Look, ...]]:
    """By bag's row the looks that it keeps of those that rounds took, in their order.

    `seen` are the rows that each look is of. The last that a bag keeps says how many more there were.
    """
    return _Kept(seen, bags).list()


class _Kept:
    """Looks are known by their rank: by day, and on one day in the order in which they were taken down."""

    def __init__(self, seen: Sequence[tuple[Array, Look]], bags: Columns) -> None:
        days = np.array([look["date"] for _, look in seen], dtype="datetime64[s]")
        self.order = np.argsort(days, kind="stable")
        self.days = days[self.order]
        self.looks = [seen[at][1] for at in self.order.tolist()]
        intact = np.array([look["condition"] == "intact" for look in self.looks])
        #: The looks of each list of rows, as ranks.
        of_rows: dict[int, list[int]] = {}
        for rank, at in enumerate(self.order.tolist()):
            of_rows.setdefault(id(seen[at][0]), []).append(rank)
        rows_of = {id(rows): rows for rows, _ in seen}
        size, none = len(bags), len(seen)
        self.count = np.zeros(size, dtype="int64")
        self.first, self.failed = np.full(size, none), np.full(size, none)
        self.last, self.good = np.full(size, -1), np.full(size, -1)
        covered = _or_else(bags["covered"], _EARLY)
        for place, listed in of_rows.items():
            rows, ranks = rows_of[place], np.array(listed)
            self.count[rows] += len(ranks)
            self.first[rows] = np.minimum(self.first[rows], ranks[0])
            self.last[rows] = np.maximum(self.last[rows], ranks[-1])
            if len(bad := ranks[~intact[ranks]]):
                after = np.searchsorted(self.days[bad], covered[rows])
                self.failed[rows] = np.minimum(self.failed[rows], np.append(bad, none)[after])
        until = self._bound(bags)
        for place, listed in of_rows.items():
            rows, ranks = rows_of[place], np.array(listed)
            if len(good := ranks[intact[ranks]]):
                before = np.searchsorted(self.days[good], until[rows], side="right")
                found = np.insert(good, 0, -1)[before]
                counts = (found >= 0) & (self.days[found] >= covered[rows])
                self.good[rows] = np.maximum(self.good[rows], np.where(counts, found, -1))

    def _bound(self, bags: Columns) -> Array:
        """By bag the last day on which a look can show it intact: before any failure, and while it hung."""
        failed = np.append(self.days, _LATE)[self.failed]
        covered = _or_else(bags["covered"], _EARLY)
        own = bags["checks"].tolist()
        for row in [at for at, looks in enumerate(own) if looks]:
            for look in own[row]:
                if look.get("date") and look.get("condition") not in {"intact", None}:
                    day = np.datetime64(look["date"], "s")
                    failed[row] = min(failed[row], day) if day >= covered[row] else failed[row]
        until: Array = np.minimum(failed - _DAY, _or_else(bags["uncovered"], _LATE))
        return until

    def list(self) -> list[tuple[Look, ...]]:
        """By bag's row its looks."""
        kept = zip(*(one.tolist() for one in (self.first, self.failed, self.good, self.last)), strict=True)
        known: dict[tuple[int, ...], tuple[Look, ...]] = {}
        found: list[tuple[Look, ...]] = []
        for ranks, count in zip(kept, self.count.tolist(), strict=True):
            if (*ranks, count) not in known:
                known[*ranks, count] = self._tell(set(ranks), count) if count else ()
            found.append(known[*ranks, count])
        return found

    def _tell(self, ranks: Iterable[int], count: int) -> tuple[Look, ...]:
        there = [rank for rank in ranks if 0 <= rank < len(self.looks)]
        told = [dict(self.looks[rank]) for rank in sorted(there, key=self.order.__getitem__)]
        if count > len(told):
            told[-1]["by"] = f"{told[-1]['by']}, and {count - len(told)} more looks"
        return tuple(told)


def _or_else(days: Array, other: np.datetime64) -> Array:
    known: Array = np.where(np.isnat(days), other, days)
    return known
