"""What each lot's grams are worth: traced, unproven or rejected.

A batch is one mixed quantity, so all of it takes the worst standing of anything on its line. A lot
takes each part as its batch or blended lot hands it on, and its own faults touch every gram of it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, NamedTuple

from certgen.lineage.closure import order
from certgen.lineage.graph import Lineage, Node
from certgen.lineage.portions import apportion

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping, Sequence

    from certgen.records import Season

STANDINGS: Final = ("traced", "unproven", "rejected")
_EFFECT: Final = {"unproven": "unproven", "rejects": "rejected"}


class Fault(NamedTuple):
    """A gap as the standing sees it.

    `weight` is `rejects`, `unproven` or `advice`. `starts` are the records it stands at; it reaches
    whatever rests on them. `only_rest` means that it speaks only of the grams of a lot that no source
    accounts for. `supply` names the entry that would mend it; faults with one `supply` are mended
    together. `take_out` are batches or lots whose removal from the lot would mend it.
    """

    weight: str
    starts: tuple[Node, ...]
    only_rest: bool = False
    supply: str = ""
    take_out: tuple[Node, ...] = ()


class Atom(NamedTuple):
    """Grams of a lot that share everything: the part they came in with and the faults that touch them.

    `floor` is the best standing they can have when all those faults are mended.
    """

    weight_mg: int
    part: int
    floor: str
    faults: frozenset[int]


@dataclass(frozen=True, slots=True)
class Part:
    """One source of a lot. `source` is None for grams that no source accounts for. Masses in milligrams."""

    source: Node | None
    weight_mg: int
    traced_mg: int
    unproven_mg: int
    rejected_mg: int


@dataclass(frozen=True, slots=True)
class LotStanding:
    """A lot's standing by gram. `traced_mg + unproven_mg + rejected_mg == weight_mg`, exactly.

    `standing` is the worst that any gram has. The parts say what came in; grams whose own movement
    lacks something count as unproven in the totals but not in the parts.
    """

    lot: str
    variety: str
    standing: str
    weight_mg: int
    traced_mg: int
    unproven_mg: int
    rejected_mg: int
    parts: tuple[Part, ...] = ()


@dataclass(frozen=True, slots=True)
class LotGrams:
    """A lot taken apart into atoms, with the movements that a fault stands at."""

    lot: str
    variety: str
    weight_mg: int
    sources: tuple[Node | None, ...]
    atoms: tuple[Atom, ...]
    movements: tuple[tuple[int, frozenset[int]], ...] = ()


@dataclass(frozen=True)
class Standings:
    """Every lot of the season with the faults that touch it; says its standing with any of them mended."""

    faults: tuple[Fault, ...]
    lots: Mapping[str, LotGrams]

    def judge(self, mended: Collection[int] = frozenset()) -> dict[str, LotStanding]:
        """Every lot's standing, as if the faults with these positions were mended."""
        return {lot: self._judge_lot(grams, mended) for lot, grams in self.lots.items()}

    def effect(self, faults: Iterable[int], floor: str, mended: Collection[int]) -> str:
        """What the faults that are left make of grams."""
        worst = floor
        for fault in faults:
            if fault not in mended:
                if self.faults[fault].weight == "rejects":
                    return "rejected"
                worst = worst if worst == "rejected" else "unproven"
        return worst

    def _judge_lot(self, grams: LotGrams, mended: Collection[int]) -> LotStanding:
        totals = [dict.fromkeys(STANDINGS, 0) for _ in grams.sources]
        for atom in grams.atoms:
            totals[atom.part][self.effect(atom.faults, atom.floor, mended)] += atom.weight_mg
        whole = {standing: sum(part[standing] for part in totals) for standing in STANDINGS}
        for weight, faults in grams.movements:
            effect = self.effect(faults, "traced", mended)
            if effect != "traced":
                _move(whole, weight, effect)
        worst = "traced"
        for standing in STANDINGS:
            worst = standing if whole[standing] else worst
        parts = tuple(
            Part(source, sum(part.values()), part["traced"], part["unproven"], part["rejected"])
            for source, part in zip(grams.sources, totals, strict=True)
        )
        return LotStanding(
            grams.lot,
            grams.variety,
            worst,
            grams.weight_mg,
            whole["traced"],
            whole["unproven"],
            whole["rejected"],
            parts,
        )


def _move(whole: dict[str, int], weight: int, effect: str) -> None:
    """Moves a movement's grams to a worse standing: out of the traced ones first."""
    for standing in STANDINGS[: STANDINGS.index(effect)]:
        taken = min(weight, whole[standing])
        whole[standing] -= taken
        whole[effect] += taken
        weight -= taken


def judge_lots(
    season: Season,
    lineage: Lineage,
    faults: Sequence[Fault],
    earlier: Mapping[Node, LotStanding] | None = None,
) -> Standings:
    """Takes every lot of the season apart by what touches its grams.

    `earlier` is the standing of earlier seasons' lots; one that isn't there hands on unproven grams.
    """
    touched = _Touched(lineage, faults)
    lots = _Lots(season, lineage, touched, earlier or {})
    return Standings(tuple(faults), lots.take_apart())


class _Touched:
    """Which faults reach each batch, and which stand at each lot or movement itself."""

    def __init__(self, lineage: Lineage, faults: Sequence[Fault]) -> None:
        self.batches: dict[Node, set[int]] = {}
        self.lots: dict[Node, set[int]] = {}
        self.rests: dict[Node, set[int]] = {}
        self.movements: dict[Node, set[int]] = {}
        self._lineage = lineage
        self._reached: dict[Node, tuple[Node, ...]] = {}
        for position, fault in enumerate(faults):
            if fault.weight in _EFFECT:
                for start in fault.starts:
                    self._touch(position, fault, start)

    def _touch(self, position: int, fault: Fault, start: Node) -> None:
        if start.table == "movements":
            self.movements.setdefault(start, set()).add(position)
        elif start.table == "lots":
            where = self.rests if fault.only_rest else self.lots
            where.setdefault(start, set()).add(position)
        else:
            for node in self._reach(start):
                where = self.batches if node.table == "batches" else self.lots
                where.setdefault(node, set()).add(position)

    def _reach(self, start: Node) -> tuple[Node, ...]:
        """Batches that rest on the record, and lots that it speaks about without a batch between."""
        if start not in self._reached:
            if start.table == "batches":
                found: list[Node] = [start]
            elif start.table == "tests":
                found = [link.target for link in self._lineage.uses(start)]
            else:
                found = [node for node in self._lineage.claim_forward(start) if node.table == "batches"]
            self._reached[start] = tuple(found)
        return self._reached[start]


class _Lots:
    def __init__(
        self, season: Season, lineage: Lineage, touched: _Touched, earlier: Mapping[Node, LotStanding]
    ) -> None:
        self._lineage = lineage
        self._touched = touched
        self._earlier = earlier
        frame = season.table("lots")
        frame = frame[~frame["lot"].duplicated()]
        weights = frame["weight_mg"].fillna(0).tolist()
        varieties = frame["variety"].fillna("").tolist()
        self._known = {
            Node("lots", lot): (variety, int(weight))
            for lot, variety, weight in zip(frame["lot"].tolist(), varieties, weights, strict=True)
            if isinstance(lot, str)
        }
        self._movements = _movements_of(lineage, touched)
        self._done: dict[Node, LotGrams] = {}

    def take_apart(self) -> dict[str, LotGrams]:
        for node in order(self._known_positions(), self._blended_before):
            lot = self._nodes[node]
            self._done[lot] = self._take_apart(lot)
        return {node.id: self._done[node] for node in self._known}

    def _known_positions(self) -> range:
        self._nodes = list(self._known)
        self._positions = {node: position for position, node in enumerate(self._nodes)}
        return range(len(self._nodes))

    def _blended_before(self, position: int) -> list[int]:
        links = self._lineage.sources(self._nodes[position])
        return [self._positions[link.source] for link in links if link.source in self._positions]

    def _take_apart(self, lot: Node) -> LotGrams:
        variety, weight = self._known[lot]
        links = [link for link in self._lineage.sources(lot) if link.kind in {"packed", "blended"}]
        given = [link.weight_mg or 0 for link in links]
        sources: list[Node | None] = [link.source for link in links]
        if sum(given) > weight:
            given = apportion(weight, given)
        atoms: list[Atom] = []
        for part, (link, mass) in enumerate(zip(links, given, strict=True)):
            atoms += self._handed_on(part, link.source, mass)
        rest = weight - sum(given)
        if rest > 0:
            faults = frozenset(self._touched.rests.get(lot, ()))
            atoms.append(Atom(rest, len(sources), "traced" if faults else "unproven", faults))
            sources.append(None)
        own = frozenset(self._touched.lots.get(lot, ()))
        return LotGrams(
            lot.id, variety, weight, tuple(sources), _merge(atoms, own), self._movements.get(lot, ())
        )

    def _handed_on(self, part: int, source: Node, mass: int) -> list[Atom]:
        if source.table == "batches":
            return [Atom(mass, part, "traced", frozenset(self._touched.batches.get(source, ())))]
        # A lot of no weight, or one that is blended into itself, has nothing to hand on.
        if source in self._done and (own := self._done[source].atoms):
            shares = apportion(mass, [atom.weight_mg for atom in own])
            return [
                Atom(share, part, atom.floor, atom.faults) for share, atom in zip(shares, own, strict=True)
            ]
        standing = self._earlier.get(source)
        if standing is None or not standing.weight_mg:
            return [Atom(mass, part, "unproven", frozenset(self._touched.lots.get(source, ())))]
        shares = apportion(mass, [standing.traced_mg, standing.unproven_mg, standing.rejected_mg])
        return [Atom(share, part, floor, frozenset()) for share, floor in zip(shares, STANDINGS, strict=True)]


def _merge(atoms: Iterable[Atom], own: frozenset[int]) -> tuple[Atom, ...]:
    """Atoms that share everything become one, and a lot's own faults touch them all."""
    together: dict[tuple[int, str, frozenset[int]], int] = {}
    for atom in atoms:
        key = (atom.part, atom.floor, atom.faults | own)
        together[key] = together.get(key, 0) + atom.weight_mg
    return tuple(Atom(weight, *key) for key, weight in together.items() if weight)


def _movements_of(lineage: Lineage, touched: _Touched) -> dict[Node, tuple[tuple[int, frozenset[int]], ...]]:
    found: dict[Node, list[tuple[int, frozenset[int]]]] = {}
    for movement, faults in touched.movements.items():
        for link in lineage.sources(movement):
            if link.weight_mg:
                found.setdefault(link.source, []).append((link.weight_mg, frozenset(faults)))
    return {lot: tuple(moves) for lot, moves in found.items()}
