"""What each lot's claim rests on and what rests on it, of all lots at once, where blends go through many.

A lot that was blended of a lot that was blended of a lot has all their records behind it. Walked lot by lot,
a chain of them costs a square; here each lot's records are bits, made of those of the lots blended into it,
and lots that go round in a circle share theirs.
"""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING, Final

from certgen.lineage.reach import close, list_bits, set_bits

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    Following = Callable[[int], Iterable[int]]

#: So many pairs of lots of which one rests on the other are walked lot by lot: a chain of 450 has as many.
MOST_PAIRS: Final = 100_000


class Closure:
    """What is reached from points of a lineage, as bits: each stands for a point, or for a lot's number."""

    def __init__(
        self, tables: Sequence[str], is_missing: Callable[[int], bool], into: Following, out: Following
    ) -> None:
        """`tables` hold the table of each point; `into` and `out` follow the claim's links either way."""
        self._tables = tables
        self._is_missing = is_missing
        self._into, self._out = into, out
        self._lots = [at for at, table in enumerate(tables) if table == "lots"]
        self._numbers = {at: number for number, at in enumerate(self._lots)}
        self._reached: dict[int, int] = {}
        self._lines: dict[int, int] = {}

    @property
    def lots(self) -> Sequence[int]:
        """The points of all lots, by number."""
        return self._lots

    @cached_property
    def is_vast(self) -> bool:
        """Whether more pairs of lots rest on one another than anybody walks one by one."""
        blended = sum(any(other in self._numbers for other in self._out(at)) for at in self._lots)
        # Of so few that are blended on so many pairs can't come.
        if blended * len(self._lots) <= MOST_PAIRS:
            return False
        return sum(map(int.bit_count, self._resting)) > MOST_PAIRS

    def bit(self, at: int) -> int:
        """That of a lot alone; none for a point that is no lot."""
        return 1 << self._numbers[at] if at in self._numbers else 0

    def lots_on(self, at: int) -> int:
        """By number the lots that rest on a point; a lot rests on itself, one without a record is none."""
        if at in self._numbers:
            return self._resting[self._numbers[at]]
        if at not in self._reached:
            ends = list(self._out(at))
            # Thousands of bags in one run share what they reach.
            self._reached[at] = self.lots_on(ends[0]) if len(ends) == 1 else self._collect(ends)
        return self._reached[at]

    def _collect(self, points: Iterable[int]) -> int:
        bits, seen, waiting = 0, set(points), list(points)
        while waiting:
            at = waiting.pop()
            if at in self._numbers:
                bits |= self._resting[self._numbers[at]]
            else:
                coming = set(self._out(at)) - seen
                seen |= coming
                waiting += coming
        return bits

    def line(self, at: int) -> int:
        """The points that a point's claim rests on, itself included."""
        if at in self._numbers:
            return self._behind[self._numbers[at]]
        if at not in self._lines:
            seen, waiting = {at}, [at]
            while waiting:
                coming = set(self._into(waiting.pop())) - seen
                seen |= coming
                waiting += coming
            self._lines[at] = set_bits(seen, len(self._tables))
        return self._lines[at]

    def united(self, own: Callable[[int], int]) -> list[int]:
        """By lot's number what `own` gives for it and for all lots behind it, together."""
        return close(
            len(self._lots),
            lambda lot: [self._numbers[at] for at in self._into(self._lots[lot]) if at in self._numbers],
            own,
        )

    def others_into(self, lot: int) -> list[int]:
        """The points, other than lots, that lead straight into a lot."""
        return [at for at in self._into(self._lots[lot]) if at not in self._numbers]

    @cached_property
    def _resting(self) -> list[int]:
        return close(
            len(self._lots),
            lambda lot: [self._numbers[at] for at in self._out(self._lots[lot]) if at in self._numbers],
            lambda lot: 0 if self._is_missing(self._lots[lot]) else 1 << lot,
        )

    @cached_property
    def _behind(self) -> list[int]:
        def own(lot: int) -> int:
            bits = 1 << self._lots[lot]
            for at in self.others_into(lot):
                bits |= self.line(at)
            return bits

        return self.united(own)

    def spread(self, of_point: Callable[[int], Iterable[int]]) -> list[int]:
        """By lot's number the bits of the points that `of_point` gives for each record of its line."""
        known: dict[int, int] = {}

        def own(lot: int) -> int:
            bits = 0
            for at in self.others_into(lot):
                if at not in known:
                    line = list_bits(self.line(at))
                    found = {other for point in line for other in of_point(point)}
                    known[at] = set_bits(found, len(self._tables))
                bits |= known[at]
            return bits

        return self.united(own)
