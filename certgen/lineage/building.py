"""Builds the lineage: one pass over each table, in bulk."""

from __future__ import annotations

from itertools import repeat
from typing import TYPE_CHECKING, Any

from certgen.lineage.graph import Lineage, Node
from certgen.records.tables import load_tables

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from pandas import Series

    from certgen.records import Season

#: Whose identifiers are nodes. Explanations speak about records without being part of the line.
_TABLES = (
    "blocks",
    "plantings",
    "trees",
    "screening",
    "bagging",
    "harvests",
    "batches",
    "cleaning",
    "lots",
    "tests",
    "movements",
    "inputs",
    "incidents",
)


def seasons_of(season: Season) -> Iterator[tuple[str, Season]]:
    """The season and those before it, each with the label its nodes bear: empty for this one.

    Ends where the chain comes back to a season it has been through. Two seasons with one label are
    kept apart by a number.
    """
    seen: set[int] = set()
    labels = {""}
    label = ""
    at: Season | None = season
    while at is not None and id(at) not in seen:
        yield label, at
        seen.add(id(at))
        at = at.previous
        if at is not None:
            name = at.details.label or "earlier"
            label, number = name, 2
            while label in labels:
                label, number = f"{name} ({number})", number + 1
            labels.add(label)


def build_lineage(season: Season) -> Lineage:
    """Every link of the season and of the seasons before it.

    A lot that is named where seed comes from (a planting's origin, a blend, a sale) is looked for in
    the season that names it and then in earlier ones; opening stock always means an earlier lot if
    there is one.
    """
    build = _Build()
    chain = list(seasons_of(season))
    for label, one in chain:
        build.add_nodes(label, one)
    for position, (label, one) in enumerate(chain):
        build.add_links(label, one, [earlier for earlier, _ in chain[position + 1 :]])
    return Lineage(build.nodes, build.missing, build.sources, build.targets, build.kinds, build.weights)


class _Build:
    def __init__(self) -> None:
        self.nodes: list[Node] = []
        self._missing: set[int] = set()
        self.sources: list[int] = []
        self.targets: list[int] = []
        self.kinds: list[str] = []
        self.weights: list[int | None] = []
        self._places: dict[tuple[str, str], dict[str, int]] = {}

    @property
    def missing(self) -> list[Node]:
        return [self.nodes[at] for at in sorted(self._missing)]

    def add_nodes(self, label: str, season: Season) -> None:
        for table in _TABLES:
            known = self._places.setdefault((label, table), {})
            for name in season.table(table)[load_tables()[table].key].dropna().tolist():
                if name not in known:
                    known[name] = len(self.nodes)
                    self.nodes.append(Node(table, name, label))

    def add_links(self, label: str, season: Season, earlier: list[str]) -> None:
        self._season, self._earlier = label, earlier
        tables = season.tables
        plantings, trees = tables["plantings"], tables["trees"]
        self._connect("stands on", "blocks", plantings.block, "plantings", plantings.planting)
        self._connect("applied", "inputs", tables["inputs"].input, "blocks", tables["inputs"].block)
        self._connect("grown from", "lots", plantings["origin.lot"], "plantings", plantings.planting)
        self._connect("planted", "plantings", trees.planting, "trees", trees.tree)
        screening, bagging = tables["screening"], tables["bagging"]
        self._connect("screened", "screening", screening["sample"], "trees", screening["tree"])
        pools = season.exploded("screening", "trees")
        self._connect("screened", "screening", pools["id"], "trees", pools.value)
        self._connect("bagged", "trees", bagging.tree, "bagging", bagging.bag)
        self._connect("pollen", "trees", bagging.pollen_parent, "bagging", bagging.bag)
        for column, table in (("bags", "bagging"), ("trees", "trees")):
            picked = season.exploded("harvests", column)
            self._connect("picked", table, picked.value, "harvests", picked.id)
        processed = season.exploded("batches", "harvests")
        self._connect("processed", "harvests", processed.value, "batches", processed.id)
        cleaning = tables["cleaning"]
        self._connect("cleaned for", "cleaning", cleaning.cleaning, "batches", cleaning.before)
        self._add_sources(season)
        self._connect("tested", "tests", tables["tests"].test, "lots", tables["tests"].lot)
        self._add_movements(season)

    def _add_sources(self, season: Season) -> None:
        packed = season.exploded("lots", "sources")
        for lot, part in zip(packed["id"].tolist(), packed["value"].tolist(), strict=True):
            self._join(lot, part)

    def _join(self, lot: str, part: Mapping[str, Any]) -> None:
        for field, table, kind in (("batch", "batches", "packed"), ("lot", "lots", "blended")):
            if part.get(field) is not None:
                source, target = self._find(table, part[field]), self._find("lots", lot)
                self._link(kind, source, target, part.get("weight_mg"))

    def _add_movements(self, season: Season) -> None:
        moves = season.table("movements")
        weights = moves.weight_mg.astype(object).where(moves.weight_mg.notna(), None).tolist()
        for name, lot, kind, weight in zip(
            moves.movement.tolist(), moves.lot.tolist(), moves.kind.tolist(), weights, strict=True
        ):
            if isinstance(name, str) and isinstance(lot, str):
                source = self._find("lots", lot, carried=kind == "opening stock")
                self._link("moved", source, self._find("movements", name), weight)
        self._connect("sown", "movements", moves.movement, "plantings", moves.planting)

    def _connect(
        self, kind: str, source: str, sources: Series[Any], target: str, targets: Series[Any]
    ) -> None:
        """Links two columns of equal length; rows with nothing on either side are skipped."""
        both = sources.notna().to_numpy() & targets.notna().to_numpy()
        starts, ends = sources.to_numpy(object)[both], targets.to_numpy(object)[both]
        before = len(self.sources)
        self.sources += self._find_all(source, starts)
        self.targets += self._find_all(target, ends)
        count = len(self.sources) - before
        self.kinds += repeat(kind, count)
        self.weights += repeat(None, count)

    def _find_all(self, table: str, names: Iterable[str]) -> list[int]:
        known = self._places[self._season, table]
        return [known[name] if name in known else self._find(table, name) for name in names]

    def _find(self, table: str, name: str, *, carried: bool = False) -> int:
        """The node of an identifier; one that no record bears becomes a missing node of its own."""
        seasons = [self._season, *self._earlier] if table == "lots" else [self._season]
        if carried:
            seasons = [*self._earlier, self._season]
        for season in seasons:
            at = self._places[season, table].get(name)
            if at is not None:
                return at
        at = self._places[self._season, table][name] = len(self.nodes)
        self._missing.add(at)
        self.nodes.append(Node(table, name, self._season))
        return at

    def _link(self, kind: str, source: int, target: int, weight: int | None) -> None:
        self.sources.append(source)
        self.targets.append(target)
        self.kinds.append(kind)
        self.weights.append(None if weight is None else int(weight))
