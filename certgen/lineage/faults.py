"""What faults touch: the batches and lots that each reaches, and which of a lot's grams are meant."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, Literal, NamedTuple

from certgen.lineage.graph import Lineage, Node

if TYPE_CHECKING:
    from collections.abc import Sequence

#: What a fault's weight makes of the grams that it reaches; advice makes nothing of them.
EFFECT: Final = {"unproven": "unproven", "rejects": "rejected"}

#: What a fault at a lot or movement touches: the record's own grams, those that a source accounts for, what
#: was there when something came in and all that left later, grams that a count missed, or no gram but the
#: lot.
Touch = Literal["own", "rest", "mixed", "missing", "whole"]


class Fault(NamedTuple):
    """A gap as the standing sees it.

    `weight` is `rejects`, `unproven` or `advice`. `starts` are the records it stands at; it reaches
    whatever rests on them. `touches` says which grams of a lot are meant where it stands at the lot or at a
    movement. `supply` names the entry that would mend it; faults with one `supply` are mended
    together. `take_out` are batches or lots whose removal from the lot would mend it.
    """

    weight: str
    starts: tuple[Node, ...]
    touches: Touch = "own"
    supply: str = ""
    take_out: tuple[Node, ...] = ()

    @property
    def tells(self) -> bool:
        """Whether it can make anything of any gram."""
        return self.weight in EFFECT and bool(self.starts)


class Touched:
    """Which faults reach each batch, and which stand at each lot or movement itself, by what they touch."""

    def __init__(self, lineage: Lineage, faults: Sequence[Fault]) -> None:
        self.batches: dict[Node, set[int]] = {}
        self.lots: dict[Node, set[int]] = {}
        self.rests: dict[Node, set[int]] = {}
        self.whole: dict[Node, set[int]] = {}
        self.movements: dict[Node, set[int]] = {}
        #: Faults at what changed a lot: at seed that came in, at a count that missed grams.
        self.came_in: dict[Node, set[int]] = {}
        self.missed: dict[Node, set[int]] = {}
        self.missing = {at for at, fault in enumerate(faults) if fault.touches == "missing"}
        self._lineage = lineage
        self._reached: dict[Node, tuple[Node, ...]] = {}
        for position, fault in enumerate(faults):
            self.add(position, fault)

    def add(self, position: int, fault: Fault) -> None:
        """Lets a fault touch what it reaches."""
        if fault.weight in EFFECT:
            for start in fault.starts:
                self._touch(position, fault, start)

    def take_back(self, position: int) -> None:
        """Undoes `add` for a fault that touches grams that are there."""
        for touched in (self.batches, self.lots, self.rests, self.whole, self.movements, self.came_in):
            for faults in touched.values():
                faults.discard(position)

    def _touch(self, position: int, fault: Fault, start: Node) -> None:
        if fault.touches in {"mixed", "missing"}:
            events = self.came_in if fault.touches == "mixed" else self.missed
            events.setdefault(start, set()).add(position)
        elif fault.touches == "whole":
            for node in self._lots_of(start):
                self.whole.setdefault(node, set()).add(position)
        elif start.table == "movements":
            self.movements.setdefault(start, set()).add(position)
        elif start.table == "lots":
            where = self.rests if fault.touches == "rest" else self.lots
            where.setdefault(start, set()).add(position)
        else:
            for node in self._reach(start):
                where = self.batches if node.table == "batches" else self.lots
                where.setdefault(node, set()).add(position)

    def _lots_of(self, start: Node) -> tuple[Node, ...]:
        return (
            (start,)
            if start.table == "lots"
            else tuple(Node("lots", lot) for lot in self._lineage.lots_reached(start))
        )

    def _reach(self, start: Node) -> tuple[Node, ...]:
        """Batches that rest on the record, and lots that it speaks about without a batch between."""
        if start not in self._reached:
            if start.table == "batches":
                found: list[Node] = [start]
            elif start.table == "tests":
                found = [link.target for link in self._lineage.uses(start)]
            else:
                found = list(self._lineage.batches_reached(start))
            self._reached[start] = tuple(found)
        return self._reached[start]
