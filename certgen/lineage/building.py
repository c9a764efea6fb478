"""Builds the lineage: one pass over each table, in bulk."""

from __future__ import annotations

from itertools import repeat
from typing import TYPE_CHECKING, Any

from certgen.lineage.graph import Lineage, Node
from certgen.records.rows import plain_rows, plain_values
from certgen.records.tables import TABLE_NAMES, load_tables

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from pandas import Series

    from certgen.records import Season
    from certgen.records.joining.farm import Farm

#: Whose identifiers are nodes. Explanations speak about records without being part of the line.
_TABLES = tuple(name for name in TABLE_NAMES if name != "explanations")


def build_lineage(farm: Farm) -> Lineage:
    """Every link of a season and of the seasons before it.

    A number is looked for in the season that names it, then in earlier ones and then in later ones; the
    farm's tables name records accordingly.
    """
    build = _Build()
    build.add_nodes(farm)
    build.add_links(farm)
    return Lineage(
        build.nodes, build.missing, build.sources, build.targets, build.kinds, build.weights, build.seasons
    )


class _Build:
    def __init__(self) -> None:
        self.nodes: list[Node] = []
        self._missing: set[int] = set()
        self.sources: list[int] = []
        self.targets: list[int] = []
        self.kinds: list[str] = []
        self.weights: list[int | None] = []
        self.seasons: dict[Node, str] = {}
        self._places: dict[str, dict[str, int]] = {table: {} for table in _TABLES}

    @property
    def missing(self) -> list[Node]:
        return [self.nodes[at] for at in sorted(self._missing)]

    def add_nodes(self, farm: Farm) -> None:
        for table in _TABLES:
            known = self._places[table]
            own = farm.own(table)
            labels = farm.labels(table) if own < len(farm.table(table)) else ()
            for row, name in enumerate(plain_values(farm.table(table)[load_tables()[table].key])):
                if name is not None and name not in known:
                    known[name] = len(self.nodes)
                    self.nodes.append(node := Node(table, name))
                    if row >= own:
                        self.seasons[node] = str(labels[row])

    def add_links(self, season: Season) -> None:
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
        for lot, part in plain_rows(packed, "id", "value"):
            self._join(lot, part)

    def _join(self, lot: str, part: Mapping[str, Any]) -> None:
        for field, table, kind in (("batch", "batches", "packed"), ("lot", "lots", "blended")):
            if part.get(field) is not None:
                source, target = self._find(table, part[field]), self._find("lots", lot)
                self._link(kind, source, target, part.get("weight_mg"))

    def _add_movements(self, season: Season) -> None:
        moves = season.table("movements")
        for name, lot, weight in plain_rows(moves, "movement", "lot", "weight_mg"):
            if name is not None and lot is not None:
                source = self._find("lots", lot)
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
        known = self._places[table]
        return [known[name] if name in known else self._find(table, name) for name in names]

    def _find(self, table: str, name: str) -> int:
        """The node of an identifier; one that no record bears becomes a missing node of its own."""
        at = self._places[table].get(name)
        if at is None:
            at = self._places[table][name] = len(self.nodes)
            self._missing.add(at)
            self.nodes.append(Node(table, name))
        return at

    def _link(self, kind: str, source: int, target: int, weight: int | None) -> None:
        self.sources.append(source)
        self.targets.append(target)
        self.kinds.append(kind)
        self.weights.append(None if weight is None else int(weight))
