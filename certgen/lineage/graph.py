"""The links between records, followed either way.

Its walks: what is reached from where, and which points go round in circles.
"""

from __future__ import annotations

from array import array
from collections import deque
from functools import cached_property
from itertools import compress
from types import MappingProxyType
from typing import TYPE_CHECKING, Final, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence


class Node(NamedTuple):
    """One record of the farm, by what the farm's tables call it."""

    table: str
    id: str


class Link(NamedTuple):
    """That one record came out of, or speaks for, another.

    `weight_mg` is the seed that went along, in whole milligrams, where the records say so.
    """

    source: Node
    target: Node
    kind: str
    weight_mg: int | None = None


LINK_KINDS: Final = (
    "stands on",
    "applied",
    "grown from",
    "sown",
    "planted",
    "screened",
    "bagged",
    "pollen",
    "picked",
    "processed",
    "cleaned for",
    "packed",
    "blended",
    "tested",
    "moved",
)
#: What a lot's claim rests on. It ends at sowing: a new planting starts a claim of its own.
CLAIM_KINDS: Final = frozenset(LINK_KINDS) - {"grown from", "sown", "moved"}


#: Kinds of links that lead from a tree to seed it bore, or to a flower that it gave pollen.
_OF_SEED: Final = frozenset({"bagged", "picked"})
_OF_POLLEN: Final = frozenset({"pollen"})


class Lineage:
    """All links of a season and of the seasons before it. Built by `build_lineage`; never changed.

    A node stands for every identifier that a record bears and for every one that a record merely
    names: those are `missing`.
    """

    def __init__(
        self,
        nodes: Sequence[Node],
        missing: Iterable[Node],
        sources: Sequence[int],
        targets: Sequence[int],
        kinds: Sequence[str],
        weights: Sequence[int | None],
        seasons: Mapping[Node, str] = MappingProxyType({}),
    ) -> None:
        """`seasons` holds the label of the earlier season in which a record stands; this season's have
        none."""
        self.nodes: tuple[Node, ...] = tuple(nodes)
        self.missing: frozenset[Node] = frozenset(missing)
        self._parents_found: dict[tuple[str, frozenset[str]], tuple[Node, ...]] = {}
        self._index = {node: position for position, node in enumerate(self.nodes)}
        self._source = array("I", sources)
        self._target = array("I", targets)
        self._kind = list(kinds)
        self._seasons = dict(seasons)
        self._weight = list(weights)
        count, links = len(self.nodes), range(len(self._source))
        self._into = Ways(count, self._target, links).following
        self._out = Ways(count, self._source, links).following
        # Each way once more with the claim's links alone: they are walked thousands of times.
        claim = [kind in CLAIM_KINDS for kind in self._kind]
        starts, ends = list(compress(self._source, claim)), list(compress(self._target, claim))
        self._claim_into = Ways(count, ends, starts).following
        self._claim_out = Ways(count, starts, ends).following
        self._lots_reached: dict[int, tuple[str, ...]] = {}
        self._batches_reached: dict[int, tuple[Node, ...]] = {}

    def __contains__(self, node: object) -> bool:
        return node in self._index

    def __reduce__(self) -> tuple[type[Lineage], tuple[object, ...]]:
        # Sent to another process as what it was built from, not with everything computed since.
        return (
            Lineage,
            (self.nodes, self.missing, self._source, self._target, self._kind, self._weight, self._seasons),
        )

    def season_of(self, node: Node) -> str:
        """The label of the earlier season in which a record stands; empty for this season's own."""
        return self._seasons.get(node, "")

    @cached_property
    def links(self) -> tuple[Link, ...]:
        """Every link, in the order of the tables."""
        return tuple(self._link(link) for link in range(len(self._source)))

    @cached_property
    def cycles(self) -> tuple[tuple[Node, ...], ...]:
        """Groups of records that came out of one another: a fault in the records."""
        edges = list(zip(self._source, self._target, strict=True))
        return tuple(
            tuple(self.nodes[point] for point in group) for group in find_cycles(len(self.nodes), edges)
        )

    def sources(self, node: Node) -> tuple[Link, ...]:
        """The links that lead straight into a record. Nothing for a record that isn't known."""
        at = self._index.get(node)
        return () if at is None else tuple(self._link(link) for link in self._into(at))

    def uses(self, node: Node) -> tuple[Link, ...]:
        """The links that lead straight out of a record."""
        at = self._index.get(node)
        return () if at is None else tuple(self._link(link) for link in self._out(at))

    def back(self, node: Node) -> tuple[Node, ...]:
        """Everything that a record came out of, nearest first, through all generations."""
        return self._reached(node, lambda at: [self._source[link] for link in self._into(at)])

    def forward(self, node: Node) -> tuple[Node, ...]:
        """Everything that came out of a record, nearest first, through all generations."""
        return self._reached(node, lambda at: [self._target[link] for link in self._out(at)])

    def claim_forward(self, node: Node) -> tuple[Node, ...]:
        """What rests on a record within its own generation: it ends at sowing and at the door."""
        return self._reached(node, self._claim_out)

    def claim_forward_of(self, nodes: Iterable[Node]) -> tuple[Node, ...]:
        """What rests on any of some records, each once; one of them too, if it rests on another."""
        nodes = tuple(nodes)
        if len(nodes) == 1:
            return self.claim_forward(nodes[0])
        starts = {self._index[node] for node in nodes if node in self._index}
        reached = walk(starts, self._claim_out)
        again = {point for at in (*starts, *reached) for point in self._claim_out(at)} & starts
        return tuple(self.nodes[point] for point in (*sorted(again), *reached))

    def batches_reached(self, node: Node) -> tuple[Node, ...]:
        """The batches whose claim rests on a record, nearest first: before any lot."""
        at = self._index.get(node)
        if at is None:
            return ()
        if at not in self._batches_reached:
            reached = walk([at], self._claim_out_to_batches)
            found = tuple(self.nodes[point] for point in reached if self.nodes[point].table == "batches")
            self._batches_reached[at] = found
        return self._batches_reached[at]

    def _claim_out_to_batches(self, at: int) -> Sequence[int]:
        return () if self.nodes[at].table in {"batches", "lots"} else self._claim_out(at)

    def claim_back(self, node: Node) -> tuple[Node, ...]:
        """What a record's claim rests on within its own generation."""
        return self._reached(node, self._claim_into)

    def lots_reached(self, node: Node) -> tuple[str, ...]:
        """The lots whose claim rests on a record, itself included, in the order of the records.

        Runs through lots that were blended into others and ends at sowing. A movement reaches the lot
        that it moves.
        """
        at = self._index.get(node)
        if at is None:
            return ()
        if at not in self._lots_reached:
            self._lots_reached[at] = self._find_lots(at)
        return self._lots_reached[at]

    def lots_of(self, nodes: Iterable[Node]) -> tuple[str, ...]:
        """The lots that any of the records reaches, each once, in the order of the records."""
        known = [self._index[node] for node in nodes if node in self._index]
        if len(known) == 1:
            return self.lots_reached(self.nodes[known[0]])
        moves = [at for at in known if self.nodes[at].table == "movements"]
        others = set(known) - set(moves)
        reached = {*others, *walk(others, self._claim_out)}
        lots = {at for at in reached if self.nodes[at].table == "lots" and self.nodes[at] not in self.missing}
        lots |= {self._source[link] for at in moves for link in self._into(at)}
        return tuple(self.nodes[lot].id for lot in sorted(lots))

    def line_of_lot(self, lot: str) -> tuple[Node, ...]:
        """The lot and every record that its claim rests on, nearest first."""
        node = Node("lots", lot)
        return (node, *self.claim_back(node)) if node in self._index else ()

    def seed_parents(self, lot: str) -> tuple[Node, ...]:
        """The trees that bore a lot's seed, through blended lots; ends at sowing."""
        return self._parents(lot, _OF_SEED)

    def pollen_parents(self, lot: str) -> tuple[Node, ...]:
        """The trees that the records name as givers of pollen. A bag that names none stands for selfing."""
        return self._parents(lot, _OF_POLLEN)

    def is_behind_lot(self, node: Node) -> bool:
        """Whether some lot's claim rests on a record; lots rest on themselves."""
        at = self._index.get(node)
        return at is not None and self._behind_lots[at] == 1

    def behind_lots(self, table: str) -> frozenset[str]:
        """The records of a table that some lot's claim rests on."""
        if table not in self._behind_by_table:
            pairs = zip(self.nodes, self._behind_lots, strict=True)
            self._behind_by_table[table] = frozenset(
                node.id for node, behind in pairs if behind and node.table == table
            )
        return self._behind_by_table[table]

    @cached_property
    def _behind_by_table(self) -> dict[str, frozenset[str]]:
        return {}

    @cached_property
    def _behind_lots(self) -> bytearray:
        # A byte a node: a set of the nodes takes eighty.
        lots = [at for at, node in enumerate(self.nodes) if node.table == "lots"]
        lots = [at for at in lots if self.nodes[at] not in self.missing]
        behind = bytearray(len(self.nodes))
        for at in (*lots, *walk(lots, self._claim_into)):
            behind[at] = 1
        return behind

    def _parents(self, lot: str, kinds: frozenset[str]) -> tuple[Node, ...]:
        # A lot's parents are few, and every part of a report asks for them.
        found = self._parents_found.get((lot, kinds))
        if found is None:
            found = self._parents_found[lot, kinds] = self._find_parents(lot, kinds)
        return found

    def _find_parents(self, lot: str, kinds: frozenset[str]) -> tuple[Node, ...]:
        seen: dict[Node, None] = {}
        for node in self.line_of_lot(lot):
            if node.table in {"bagging", "harvests"}:
                for link in self._into(self._index[node]):
                    tree = self.nodes[self._source[link]]
                    if self._kind[link] in kinds and tree.table == "trees":
                        seen[tree] = None
        return tuple(seen)

    def _find_lots(self, at: int) -> tuple[str, ...]:
        if self.nodes[at].table == "movements":
            return tuple(dict.fromkeys(self.nodes[self._source[link]].id for link in self._into(at)))
        following = self._claim_out(at)
        if len(following) == 1 and self.nodes[at].table != "lots":
            # Thousands of bags in one run share what they reach.
            return self.lots_reached(self.nodes[following[0]])
        reached = [at, *walk([at], self._claim_out)]
        lots = sorted(point for point in reached if self.nodes[point].table == "lots")
        return tuple(self.nodes[lot].id for lot in lots if self.nodes[lot] not in self.missing)

    def _reached(self, node: Node, following: Callable[[int], Iterable[int]]) -> tuple[Node, ...]:
        at = self._index.get(node)
        if at is None:
            return ()
        return tuple(self.nodes[point] for point in walk([at], following))

    def _link(self, link: int) -> Link:
        return Link(
            self.nodes[self._source[link]],
            self.nodes[self._target[link]],
            self._kind[link],
            self._weight[link],
        )


class Ways:
    """What follows each point, in the order given.

    Two arrays of whole numbers: a list a point took ten times the memory, and nearly all of it was lists.
    """

    __slots__ = ("_ends", "_first")

    def __init__(self, count: int, starts: Sequence[int], ends: Sequence[int]) -> None:
        """`count` points; `ends[i]` follows `starts[i]`."""
        import numpy as np

        leaving = np.asarray(starts, dtype=np.intp)
        in_order = np.asarray(ends, dtype=np.uint32)[leaving.argsort(kind="stable")]
        first = np.zeros(count + 1, dtype=np.uint32)
        first[1:] = np.bincount(leaving, minlength=count).cumsum()
        # Plain arrays, whose numbers come out as plain numbers.
        self._ends = array("I", in_order.astype(np.uintc).tobytes())
        self._first = array("I", first.astype(np.uintc).tobytes())

    def following(self, point: int) -> Sequence[int]:
        """The points that follow one."""
        return self._ends[self._first[point] : self._first[point + 1]]


def walk(starts: Iterable[int], following: Callable[[int], Iterable[int]]) -> list[int]:
    """Everything reached from the starts, nearest first, each point once; the starts are left out.

    A point that is reached twice is walked through once, so records that go round in a circle end too.
    """
    seen = set(starts)
    queue = deque(seen if len(seen) < 2 else sorted(seen))
    reached: list[int] = []
    while queue:
        for point in following(queue.popleft()):
            if point not in seen:
                seen.add(point)
                reached.append(point)
                queue.append(point)
    return reached


def order(points: Iterable[int], before: Callable[[int], Iterable[int]]) -> list[int]:
    """The points with everything that comes `before` a point ahead of it.

    Points that go round in a circle stand in the order in which they were first met: there is no
    right one.
    """
    done: list[int] = []
    seen: set[int] = set()
    for first in points:
        if first in seen:
            continue
        seen.add(first)
        stack: list[tuple[int, Iterator[int]]] = [(first, iter(before(first)))]
        while stack:
            point, rest = stack[-1]
            following = next((one for one in rest if one not in seen), None)
            if following is None:
                done.append(point)
                stack.pop()
            else:
                seen.add(following)
                stack.append((following, iter(before(following))))
    return done


def find_cycles(count: int, edges: Sequence[tuple[int, int]]) -> list[tuple[int, ...]]:
    """Groups of points that can all be reached from one another, and points that lead to themselves."""
    starts, ends = [start for start, _ in edges], [end for _, end in edges]
    out, into = Ways(count, starts, ends).following, Ways(count, ends, starts).following
    waiting = [len(into(point)) for point in range(count)]
    # Peel off whatever depends on nothing that is left; what can't be peeled holds every circle.
    ready = [point for point in range(count) if waiting[point] == 0]
    left = set(range(count))
    while ready:
        point = ready.pop()
        left.discard(point)
        for end in out(point):
            waiting[end] -= 1
            if waiting[end] == 0:
                ready.append(end)
    found: list[tuple[int, ...]] = []
    while left:
        point = min(left)
        onward = set(walk([point], out)) & left
        backward = set(walk([point], into)) & left
        group = (onward & backward) | {point}
        if len(group) > 1 or point in out(point):
            found.append(tuple(sorted(group)))
        left -= group
    return found
