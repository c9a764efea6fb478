"""What faults touch: the batches and lots that each reaches, and which of a lot's grams are meant."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, Literal, NamedTuple

from certgen.lineage.graph import Lineage, Node

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

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
        self._held: dict[tuple[Touch, Node], list[set[int]]] = {}
        #: Starts that several faults may share, and by what is touched the sets of faults that are added to.
        self._shared: dict[int, tuple[tuple[Node, ...], dict[Touch, list[set[int]]]]] = {}
        for position, fault in enumerate(faults):
            self.add(position, fault)

    def add(self, position: int, fault: Fault) -> None:
        """Lets a fault touch what it reaches."""
        if fault.weight not in EFFECT:
            return
        if len(fault.starts) == 1:
            held = self._held_at(fault.touches, fault.starts[0])
        else:
            # Thousands of faults may stand at the same thousands of records. The starts are kept with what
            # was found, so that no others can be taken for them.
            _, shared = self._shared.setdefault(id(fault.starts), (fault.starts, {}))
            if fault.touches not in shared:
                shared[fault.touches] = self._find_held(fault)
            held = shared[fault.touches]
        for faults in held:
            faults.add(position)

    def _find_held(self, fault: Fault) -> list[set[int]]:
        found = (faults for start in fault.starts for faults in self._held_at(fault.touches, start))
        return list({id(faults): faults for faults in found}.values())

    def _held_at(self, touches: Touch, start: Node) -> list[set[int]]:
        """The sets that faults at a record belong in: many faults may stand at one."""
        found = self._held.get((touches, start))
        if found is None:
            found = self._held[touches, start] = list(self._touch(touches, start))
        return found

    def take_back(self, position: int) -> None:
        """Undoes `add` for a fault that touches grams that are there."""
        for touched in (self.batches, self.lots, self.rests, self.whole, self.movements, self.came_in):
            for faults in touched.values():
                faults.discard(position)

    def _touch(self, touches: Touch, start: Node) -> Iterator[set[int]]:
        """The sets that a fault at a record belongs in."""
        if touches in {"mixed", "missing"}:
            events = self.came_in if touches == "mixed" else self.missed
            yield events.setdefault(start, set())
        elif touches == "whole":
            for node in self._lots_of(start):
                yield self.whole.setdefault(node, set())
        elif start.table == "movements":
            yield self.movements.setdefault(start, set())
        elif start.table == "lots":
            yield (self.rests if touches == "rest" else self.lots).setdefault(start, set())
        else:
            for node in self._reach(start):
                yield (self.batches if node.table == "batches" else self.lots).setdefault(node, set())

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
