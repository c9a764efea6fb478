"""Builds the lineage: one pass over each table, in bulk."""

from __future__ import annotations

from itertools import repeat
from typing import TYPE_CHECKING, Any

from certgen.lineage.graph import Lineage, Node
from certgen.records.columns import is_known, plain_list
from certgen.records.tables import TABLE_NAMES, load_tables

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from certgen.records import Season
    from certgen.records.columns import Array
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
            names = farm.columns(table)[load_tables()[table].key].tolist()
            labels = farm.labels(table) if own < len(names) else ()
            for row, name in enumerate(names):
                if name is not None and name not in known:
                    known[name] = len(self.nodes)
                    self.nodes.append(node := Node(table, name))
                    if row >= own:
                        self.seasons[node] = str(labels[row])

    def add_links(self, season: Season) -> None:
        plantings, trees = season.columns("plantings"), season.columns("trees")
        self._connect("stands on", "blocks", plantings["block"], "plantings", plantings["planting"])
        inputs, cleaning = season.columns("inputs"), season.columns("cleaning")
        self._connect("applied", "inputs", inputs["input"], "blocks", inputs["block"])
        self._connect("grown from", "lots", plantings["origin.lot"], "plantings", plantings["planting"])
        self._connect("planted", "plantings", trees["planting"], "trees", trees["tree"])
        screening, bagging = season.columns("screening"), season.columns("bagging")
        self._connect("screened", "screening", screening["sample"], "trees", screening["tree"])
        pools = season.elements("screening", "trees")
        self._connect("screened", "screening", pools["id"], "trees", pools["value"])
        self._connect("bagged", "trees", bagging["tree"], "bagging", bagging["bag"])
        self._connect("pollen", "trees", bagging["pollen_parent"], "bagging", bagging["bag"])
        for column, table in (("bags", "bagging"), ("trees", "trees")):
            picked = season.elements("harvests", column)
            self._connect("picked", table, picked["value"], "harvests", picked["id"])
        processed = season.elements("batches", "harvests")
        self._connect("processed", "harvests", processed["value"], "batches", processed["id"])
        self._connect("cleaned for", "cleaning", cleaning["cleaning"], "batches", cleaning["before"])
        for _, lot, part in season.elements("lots", "sources").rows("id", "value"):
            self._join(lot, part)
        tests, moves = season.columns("tests"), season.columns("movements")
        self._connect("tested", "tests", tests["test"], "lots", tests["lot"])
        self._connect("moved", "lots", moves["lot"], "movements", moves["movement"], moves["weight_mg"])
        self._connect("sown", "movements", moves["movement"], "plantings", moves["planting"])

    def _join(self, lot: str, part: Mapping[str, Any]) -> None:
        for field, table, kind in (("batch", "batches", "packed"), ("lot", "lots", "blended")):
            if part.get(field) is not None:
                weight = part.get("weight_mg")
                self.sources.append(self._find(table, part[field]))
                self.targets.append(self._find("lots", lot))
                self.kinds.append(kind)
                self.weights.append(None if weight is None else int(weight))

    def _connect(
        self, kind: str, source: str, sources: Array, target: str, targets: Array, masses: Array | None = None
    ) -> None:
        """Links two columns of equal length; rows with nothing on either side are skipped. `masses` are the
        milligrams that went along."""
        both = is_known(sources) & is_known(targets)
        starts, ends = sources[both].tolist(), targets[both].tolist()
        self.sources += self._find_all(source, starts)
        self.targets += self._find_all(target, ends)
        self.kinds += repeat(kind, len(starts))
        self.weights += repeat(None, len(starts)) if masses is None else plain_list(masses[both], whole=True)

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
