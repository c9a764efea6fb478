"""Which parent gave which picking of a lot, bag by bag, and what is open at each of them.

A row a parent, a column a picking, and in the cells the bags whose fruit it was. What is open is told where
it begins: a torn bag at the bag, a missing letter at the tree whose sample it is.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final, Literal

from certgen.lineage import Node
from certgen.lineage.faults import EFFECT
from certgen.records.rows import plain_rows

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from pandas import DataFrame

    from certgen.examination import Result

#: What a bag's fruit is worth, in a word, by the standing that the gaps at it leave.
BAG_WORDS: Final = {"traced": "clean", "unproven": "unproven", "rejected": "failed"}
Role = Literal["seed", "pollen"]


@dataclass(frozen=True, slots=True)
class Open:
    """What is open at a record: the standing that the gaps there leave its seed, and their numbers."""

    standing: str = "traced"
    numbers: tuple[int, ...] = ()

    @property
    def word(self) -> str:
        """`clean`, `unproven` or `failed`."""
        return BAG_WORDS[self.standing]


@dataclass(frozen=True, slots=True)
class MatrixBag:
    """A bag; not `known` it stands in a picking's list only."""

    bag: str
    known: bool
    open: Open


@dataclass(frozen=True, slots=True)
class MatrixParent:
    """A parent with its bags by picking.

    `tree` is empty where no tree is on record. `loose` are the pickings that hold fruit of it which no bag
    stands for. `open` holds what is open at the tree and at its `samples`.
    """

    tree: str
    role: Role
    verdict: str
    samples: tuple[str, ...]
    open: Open
    bags: Mapping[str, tuple[MatrixBag, ...]] = field(default_factory=dict)
    loose: frozenset[str] = frozenset()

    @property
    def all_bags(self) -> tuple[MatrixBag, ...]:
        """The bags of all pickings, each once."""
        return tuple(dict.fromkeys(bag for bags in self.bags.values() for bag in bags))

    @property
    def is_clean(self) -> bool:
        """Whether nothing is open at the tree or at any bag, and every fruit stands under one."""
        shown = self.open.standing == "traced" and self.verdict == "negative" and not self.loose
        return bool(self.tree) and shown and all(bag.open.standing == "traced" for bag in self.all_bags)


@dataclass(frozen=True, slots=True)
class MatrixPicking:
    """A picking behind the lot; `open` is what is open at the picking itself."""

    harvest: str
    open: Open


@dataclass(frozen=True, slots=True)
class TraceMatrix:
    """A lot's pickings and parents, each in the order of its register.

    `ground` are the plantings and blocks of the parents at which something is open.
    """

    lot: str
    pickings: tuple[MatrixPicking, ...]
    parents: tuple[MatrixParent, ...]
    ground: tuple[tuple[Node, Open], ...] = ()

    @property
    def bags(self) -> tuple[MatrixBag, ...]:
        """Every bag behind the lot, once."""
        return tuple(dict.fromkeys(bag for parent in self.parents for bag in parent.all_bags))


def tell_verdicts(result: Result) -> Mapping[str, str]:
    """What each tree's samples say together, as the rules see it, in the words of tables and drawings."""
    frame = result.case.verdicts
    words = {"clear": "negative", "positive": "positive", "unscreened": "not screened"}
    return {
        tree: words.get(verdict, "inconclusive")
        for tree, verdict in zip(frame.index.tolist(), frame["verdict"].tolist(), strict=True)
    }


class Matrices:
    """The matrix of each lot of a result; what all of them need is looked up once."""

    def __init__(self, result: Result, verdicts: Mapping[str, str]) -> None:
        self._made: dict[str, TraceMatrix] = {}
        self._lineage = result.lineage
        self._verdicts = verdicts
        self._numbers = _number_starts(result)
        self._weights = {number: gap.weight for number, gap in enumerate(result.gaps, start=1)}
        farm = result.farm
        self._fruit = _first(farm.table("harvests"), "harvest", "bags", "trees")
        self._tree_of = _first(farm.table("bagging"), "bag", "tree")
        self._planting_of = _first(farm.table("trees"), "tree", "planting")
        self._block_of = _first(farm.table("plantings"), "planting", "block")
        self._samples: defaultdict[str, list[str]] = defaultdict(list)
        for sample, tree, pool in plain_rows(farm.table("screening"), "sample", "tree", "trees"):
            for one in dict.fromkeys((tree, *pool)):
                if one is not None and sample is not None:
                    self._samples[one].append(sample)
        self._places = {tree: place for place, tree in enumerate(self._planting_of)}
        self._order = {harvest: place for place, harvest in enumerate(self._fruit)}

    def find_open(self, nodes: Iterable[Node]) -> Open:
        """What is open at some records together."""
        numbers = sorted({number for node in nodes for number in self._numbers.get(node, ())})
        standings = {EFFECT[self._weights[number]] for number in numbers}
        worst = next((one for one in ("rejected", "unproven") if one in standings), "traced")
        return Open(worst, tuple(numbers))

    def of_lot(self, lot: str) -> TraceMatrix:
        """The matrix of a lot. A lot that nothing stands behind has no rows and no columns."""
        if lot not in self._made:
            self._made[lot] = self._make(lot)
        return self._made[lot]

    def _make(self, lot: str) -> TraceMatrix:
        pickings = sorted(
            (node.id for node in self._lineage.line_of_lot(lot) if node.table == "harvests"),
            key=lambda name: (self._order.get(name, len(self._order)), name),
        )
        bags, loose = self._sort_fruit(pickings)
        seed = {*(node.id for node in self._lineage.seed_parents(lot)), *bags, *loose}
        pollen = {node.id for node in self._lineage.pollen_parents(lot)} - seed
        ranked = sorted(seed | pollen, key=lambda tree: (self._places.get(tree, len(self._places)), tree))
        return TraceMatrix(
            lot,
            tuple(MatrixPicking(name, self.find_open([Node("harvests", name)])) for name in pickings),
            tuple(
                MatrixParent(
                    tree,
                    "pollen" if tree in pollen else "seed",
                    self._verdicts.get(tree, "not screened"),
                    tuple(self._samples.get(tree, ())),
                    self._open_at(tree),
                    bags.get(tree, {}),
                    frozenset(loose.get(tree, ())),
                )
                for tree in ranked
            ),
            tuple(self._find_ground(ranked)),
        )

    def _sort_fruit(
        self, pickings: Iterable[str]
    ) -> tuple[Mapping[str, dict[str, tuple[MatrixBag, ...]]], Mapping[str, set[str]]]:
        """By tree its bags in each picking, and the pickings with fruit of it that no bag stands for."""
        bags: defaultdict[str, dict[str, tuple[MatrixBag, ...]]] = defaultdict(dict)
        loose: defaultdict[str, set[str]] = defaultdict(set)
        for harvest in pickings:
            named, trees = self._fruit.get(harvest, ((), ()))
            for bag in dict.fromkeys(named):
                row = bags[self._tree_of.get(bag) or ""]
                row[harvest] = (*row.get(harvest, ()), self._find_bag(bag))
            # Fruit counted by its bags and its trees is counted once.
            for tree in set(trees) - {self._tree_of.get(bag) for bag in named}:
                loose[tree].add(harvest)
        return bags, loose

    def _find_bag(self, bag: str) -> MatrixBag:
        return MatrixBag(bag, bag in self._tree_of, self.find_open([Node("bagging", bag)]))

    def _open_at(self, tree: str) -> Open:
        samples = (Node("screening", sample) for sample in self._samples.get(tree, ()))
        return self.find_open((Node("trees", tree), *samples)) if tree else Open()

    def _find_ground(self, trees: Iterable[str]) -> Iterator[tuple[Node, Open]]:
        """The plantings and blocks of some trees at which something is open."""
        plantings = dict.fromkeys(self._planting_of.get(tree) or "" for tree in trees)
        blocks = dict.fromkeys(self._block_of.get(planting) or "" for planting in plantings)
        for table, names in (("plantings", plantings), ("blocks", blocks)):
            for node in (Node(table, name) for name in names if name):
                found = self.find_open([node])
                if found.numbers:
                    yield node, found


def _first(frame: DataFrame, key: str, *columns: str) -> dict[str, Any]:
    """What the first record of each identifier says in some columns; in one, without a tuple around it."""
    found: dict[str, Any] = {}
    for name, *values in plain_rows(frame, key, *columns):
        if name is not None:
            found.setdefault(name, tuple(values) if len(columns) > 1 else values[0])
    return found


def _number_starts(result: Result) -> Mapping[Node, tuple[int, ...]]:
    """The numbers of the gaps that matter to a standing, by each record that they begin at."""
    found: defaultdict[Node, list[int]] = defaultdict(list)
    for number, gap in enumerate(result.gaps, start=1):
        if gap.weight in EFFECT:
            for node in dict.fromkeys((*(Node(gap.table, name) for name in gap.ids), *gap.starts)):
                found[node].append(number)
    return {node: tuple(numbers) for node, numbers in found.items()}
