"""The links between records, followed either way."""

from __future__ import annotations

from array import array
from functools import cached_property
from itertools import compress
from types import MappingProxyType
from typing import TYPE_CHECKING, Final, NamedTuple

from certgen.lineage.closure import Closure
from certgen.lineage.reach import Names, list_bits
from certgen.lineage.walks import Ways, find_cycles, walk

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterable, Mapping, Sequence


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
        self._parents_of_sources: dict[tuple[tuple[int, ...], frozenset[str]], tuple[Node, ...]] = {}
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
        self._lots_reached: dict[int, Sequence[str]] = {}
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
            self._batches_reached[at] = self._find_batches(at)
        return self._batches_reached[at]

    def _find_batches(self, at: int) -> tuple[Node, ...]:
        following = self._claim_out_to_batches(at)
        if len(following) == 1:
            # Thousands of bags in one picking share what they reach.
            onward = self.nodes[following[0]]
            return (onward,) if onward.table == "batches" else self.batches_reached(onward)
        reached = walk([at], self._claim_out_to_batches)
        return tuple(self.nodes[point] for point in reached if self.nodes[point].table == "batches")

    def _claim_out_to_batches(self, at: int) -> Sequence[int]:
        return () if self.nodes[at].table in {"batches", "lots"} else self._claim_out(at)

    def claim_back(self, node: Node) -> tuple[Node, ...]:
        """What a record's claim rests on within its own generation."""
        return self._reached(node, self._claim_into)

    @cached_property
    def closure(self) -> Closure | None:
        """What rests on what of all lots together, where that is too much to walk lot by lot; else None."""
        tables = [node.table for node in self.nodes]
        found = Closure(tables, lambda at: self.nodes[at] in self.missing, self._claim_into, self._claim_out)
        return found if found.is_vast else None

    @cached_property
    def names(self) -> tuple[str, ...]:
        """What each node is called, in their order."""
        return tuple(node.id for node in self.nodes)

    def position(self, node: Node) -> int:
        """Where a node stands among the nodes; KeyError for one that isn't known."""
        return self._index[node]

    @cached_property
    def _lot_names(self) -> tuple[str, ...]:
        return tuple(node.id for node in self.nodes if node.table == "lots")

    def lots_reached(self, node: Node) -> Sequence[str]:
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

    def lots_of(self, nodes: Collection[Node]) -> Sequence[str]:
        """The lots that any of the records reaches, each once, in the order of the records."""
        if len(nodes) == 1:
            return self.lots_reached(next(iter(nodes)))
        known = [self._index[node] for node in nodes if node in self._index]
        if len(known) == 1:
            return self.lots_reached(self.nodes[known[0]])
        if self.closure is not None:
            return self._lots_on(known, self.closure)
        return self._walk_to_lots(known)

    def _walk_to_lots(self, known: Sequence[int]) -> tuple[str, ...]:
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

    def behind_lots(self, table: str) -> frozenset[str]:
        """The records of a table that some lot's claim rests on; lots rest on themselves."""
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
        if self.closure is not None:
            return self._parents_by_bits(lot, kinds, self.closure)
        at = self._index.get(Node("lots", lot))
        # Lots of the same sources, in their order, have the same parents; tests have none.
        sources = (
            () if at is None else tuple(s for s in self._claim_into(at) if self.nodes[s].table != "tests")
        )
        if (sources, kinds) not in self._parents_of_sources:
            reached = () if at is None else walk([at], self._claim_into)
            trees = dict.fromkeys(tree for point in reached for tree in self._trees_of(point, kinds))
            self._parents_of_sources[sources, kinds] = tuple(self.nodes[tree] for tree in trees)
        return self._parents_of_sources[sources, kinds]

    def _trees_of(self, point: int, kinds: frozenset[str]) -> list[int]:
        """The trees that lead straight to a bag or a picking by links of some kinds."""
        if self.nodes[point].table not in {"bagging", "harvests"}:
            return []
        links = [link for link in self._into(point) if self._kind[link] in kinds]
        return [self._source[link] for link in links if self.nodes[self._source[link]].table == "trees"]

    def _parents_by_bits(self, lot: str, kinds: frozenset[str], closure: Closure) -> tuple[Node, ...]:
        if kinds not in self._parents_spread:
            bits = closure.spread(lambda point: self._trees_of(point, kinds))
            # Most lots share their parents, and a list of them.
            trees = {one: tuple(self.nodes[tree] for tree in list_bits(one)) for one in set(bits)}
            names = (self.nodes[at].id for at in closure.lots)
            self._parents_spread[kinds] = dict(zip(names, map(trees.__getitem__, bits), strict=True))
        return self._parents_spread[kinds].get(lot, ())

    @cached_property
    def _parents_spread(self) -> dict[frozenset[str], dict[str, tuple[Node, ...]]]:
        return {}

    def _lots_on(self, points: Iterable[int], closure: Closure) -> Sequence[str]:
        bits = 0
        for at in points:
            if self.nodes[at].table == "movements":
                for link in self._into(at):
                    bits |= closure.bit(self._source[link])
            else:
                bits |= closure.lots_on(at)
        return Names(self._lot_names, bits)

    def _find_lots(self, at: int) -> Sequence[str]:
        if self.nodes[at].table == "movements":
            return tuple(dict.fromkeys(self.nodes[self._source[link]].id for link in self._into(at)))
        if self.closure is not None:
            return self._lots_on([at], self.closure)
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
