"""What each lot's grams are worth: traced, unproven, rejected or unaccounted.

A batch is one mixed quantity, so all of it takes the worst standing of anything on its line. A lot takes
each part as its batch or blended lot hands it on, and its own faults touch every gram of it; what came in
later touches what was there then (`lineage.custody`). Grams that a count found gone are unaccounted, which
is never traced.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Final, NamedTuple

from certgen.lineage.faults import EFFECT, Fault, Touched
from certgen.lineage.graph import Lineage, Node, order

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence

    from certgen.lineage.custody import Departure, LotBook
    from certgen.records.joining.farm import Farm

STANDINGS: Final = ("traced", "unproven", "rejected", "unaccounted")
#: From the best to the worst that grams of a lot can be.
_RANKS: Final[Mapping[str, int]] = {
    standing: rank for rank, standing in enumerate(("traced", "unaccounted", "unproven", "rejected"))
}


class Atom(NamedTuple):
    """Grams of a lot that share everything: the part they came in with, the lot's stage, and the faults.

    `floor` is the best standing they can have when all those faults are mended.
    """

    weight_mg: int
    part: int
    stage: int
    floor: str
    faults: frozenset[int]


class Supply(NamedTuple):
    """Grams of a lot and where they came from; of bought seed the packet that leads it back to its parents
    (a node of the table `packets`, which no lineage holds)."""

    source: Node
    weight_mg: int


@dataclass(frozen=True, slots=True)
class Part:
    """One source of a lot. `source` is None for grams that no source accounts for. Masses in milligrams."""

    source: Node | None
    weight_mg: int
    traced_mg: int
    unproven_mg: int
    rejected_mg: int
    unaccounted_mg: int = 0


@dataclass(frozen=True, slots=True)
class LotStanding:
    """A lot's standing by gram: its four masses add up to `weight_mg`, exactly.

    `standing` is the worst that any gram has; grams that are nowhere, and sums that don't meet, leave the
    lot as a whole unproven. The parts say what came in; grams whose own movement lacks something count as
    unproven in the totals but not in the parts.
    """

    lot: str
    variety: str
    standing: str
    weight_mg: int
    traced_mg: int
    unproven_mg: int
    rejected_mg: int
    unaccounted_mg: int = 0
    parts: tuple[Part, ...] = ()


@dataclass(frozen=True, slots=True)
class LotGrams:
    """A lot taken apart into atoms, with the movements that a fault stands at and faults of it as a whole.

    `mixed` are the faults of what changed the lot, one after the other: each opened a stage.
    """

    lot: str
    variety: str
    weight_mg: int
    sources: tuple[Node | None, ...]
    atoms: tuple[Atom, ...]
    movements: tuple[tuple[int, frozenset[int]], ...] = ()
    whole: frozenset[int] = frozenset()
    mixed: tuple[frozenset[int], ...] = ()

    def at(self, stage: int) -> Sequence[Atom]:
        """What was in the lot at a stage: what left then, or what left later without what came in since.

        Where nothing did, the lot as it is.
        """
        own = len(self.sources) - len(self.mixed)
        since = frozenset().union(*self.mixed[stage:]) - frozenset().union(*self.mixed[:stage])
        then = [atom for atom in self.atoms if atom.stage == stage]
        later = [
            atom._replace(faults=atom.faults - since)
            for atom in self.atoms
            if atom.stage > stage and atom.part < own + stage
        ]
        return then or later or self.atoms


@dataclass(frozen=True)
class Standings:
    """Every lot with the faults that touch it; says its standing with any of them mended."""

    faults: tuple[Fault, ...]
    lots: Mapping[str, LotGrams]

    def judge(self, mended: Collection[int] = frozenset()) -> dict[str, LotStanding]:
        """Every lot's standing, as if the faults with these positions were mended."""
        return {lot: self._judge_lot(grams, mended) for lot, grams in self.lots.items()}

    def only(self, lots: Iterable[str]) -> Standings:
        """The same of some lots alone."""
        return Standings(self.faults, {lot: self.lots[lot] for lot in lots if lot in self.lots})

    def effect(self, faults: Iterable[int], floor: str, mended: Collection[int]) -> str:
        """What the faults that are left make of grams."""
        if floor == "unaccounted":
            return floor
        worst = floor
        for fault in faults:
            if fault not in mended:
                one = self.faults[fault]
                found = "unaccounted" if one.touches == "missing" else EFFECT[one.weight]
                if found == "unaccounted":
                    return found
                worst = max(worst, found, key=_RANKS.__getitem__)
        return worst

    def worst_at(self, lot: str, stage: int, mended: Collection[int] = frozenset()) -> str:
        """The worst that any gram is that was in the lot at a stage; unproven for a lot that isn't known."""
        grams = self.lots.get(lot)
        if grams is None:
            return "unproven"
        effects = [self.effect(atom.faults, atom.floor, mended) for atom in grams.at(stage)]
        known = [effect for effect in effects if effect != "unaccounted"]
        return max(known, key=_RANKS.__getitem__, default="unproven")

    def _judge_lot(self, grams: LotGrams, mended: Collection[int]) -> LotStanding:
        totals = [dict.fromkeys(STANDINGS, 0) for _ in grams.sources]
        for atom in grams.atoms:
            totals[atom.part][self.effect(atom.faults, atom.floor, mended)] += atom.weight_mg
        whole = {standing: sum(part[standing] for part in totals) for standing in STANDINGS}
        for weight, faults in grams.movements:
            effect = self.effect(faults, "traced", mended)
            if effect != "traced":
                _move(whole, weight, effect)
        open_ = bool(grams.whole - frozenset(mended)) or whole["unaccounted"] or whole["unproven"]
        worst = "rejected" if whole["rejected"] else "unproven" if open_ else "traced"
        parts = tuple(
            Part(
                source,
                sum(part.values()),
                part["traced"],
                part["unproven"],
                part["rejected"],
                part["unaccounted"],
            )
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
            whole["unaccounted"],
            parts,
        )


def _move(whole: dict[str, int], weight: int, effect: str) -> None:
    """Moves a movement's grams to a worse standing: out of the traced ones first."""
    for standing in ("traced", "unproven")[: _RANKS[effect] - 1]:
        taken = min(weight, whole[standing])
        whole[standing] -= taken
        whole[effect] += taken
        weight -= taken


def judge_lots(
    farm: Farm,
    lineage: Lineage,
    faults: Sequence[Fault],
    books: Mapping[str, LotBook],
    scale_step_mg: int = 0,
    supplied: Mapping[str, Sequence[Supply]] = MappingProxyType({}),
) -> Standings:
    """Takes every lot of the farm apart by what touches its grams. `books` say where each gram is.

    Sources that fall short of a lot's weight by no more than a step of the scale account for all of it.
    `supplied` are by lot the parts that a supplier's packet leads back to their parents.
    """
    touched = Touched(lineage, faults)
    lots = _Lots(farm, lineage, touched, books, scale_step_mg, supplied)
    return Standings(tuple(faults), lots.take_apart())


class _Lots:
    def __init__(
        self,
        farm: Farm,
        lineage: Lineage,
        touched: Touched,
        books: Mapping[str, LotBook],
        step: int,
        supplied: Mapping[str, Sequence[Supply]],
    ) -> None:
        self._step = step
        self._supplied = supplied
        self._lineage = lineage
        self._touched = touched
        self._books = books
        frame = farm.table("lots")
        frame = frame[frame["lot"].notna() & ~frame["lot"].duplicated()]
        varieties = frame["variety"].fillna("").tolist()
        self._known = {
            Node("lots", lot): variety for lot, variety in zip(frame["lot"], varieties, strict=True)
        }
        self._handed: dict[tuple[str, str], Departure] = {
            (book.lot, gone.entry.node.id): gone
            for book in books.values()
            for gone in book.departures
            if gone.entry.kind == "blended into"
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
        book = self._books[lot.id]
        sources, atoms = self._come_in(lot, book.packed_mg)
        own = frozenset(self._touched.lots.get(lot, ()))
        # What came in from elsewhere is a part of its own, with nothing behind it.
        pieces = [*_spread(atoms, book), *_foreign(len(sources), book)]
        merged = _merge((self._touch(atom, missing, book) for atom, missing in pieces), own)
        return LotGrams(
            lot.id,
            self._known[lot],
            book.weight_mg,
            (*sources, *(event.node for event in book.mixing)),
            merged,
            self._movements.get(lot, ()),
            frozenset(self._touched.whole.get(lot, ())),
            tuple(frozenset(self._touched.came_in.get(event.node, ())) for event in book.mixing),
        )

    def _come_in(self, lot: Node, weight: int) -> tuple[list[Node | None], list[Atom]]:
        """The parts that a lot was packed from, and what they hand on."""
        named = self._named_parts(lot)
        given = [one.weight_mg for one in named]
        sources: list[Node | None] = [one.source for one in named]
        known = sum(given)
        short = weight - known
        if short < 0 or (known and short <= max(self._step, len(given))):
            given = apportion(weight, given)
        atoms: list[Atom] = []
        for part, (one, mass) in enumerate(zip(named, given, strict=True)):
            atoms += self._handed_on(part, one.source, mass, lot)
        rest = weight - sum(given)
        if rest > 0:
            faults = frozenset(self._touched.rests.get(lot, ()))
            atoms.append(Atom(rest, len(sources), 0, "traced" if faults else "unproven", faults))
            sources.append(None)
        return sources, atoms

    def _named_parts(self, lot: Node) -> list[Supply]:
        """The runs, lots and packets that a lot was packed from, with their weights."""
        links = [link for link in self._lineage.sources(lot) if link.kind in {"packed", "blended"}]
        return [
            *(Supply(link.source, link.weight_mg or 0) for link in links),
            *self._supplied.get(lot.id, ()),
        ]

    def _handed_on(self, part: int, source: Node, mass: int, lot: Node) -> list[Atom]:
        if source.table == "batches":
            return [Atom(mass, part, 0, "traced", frozenset(self._touched.batches.get(source, ())))]
        if source.table == "packets":
            return [Atom(mass, part, 0, "traced", frozenset())]
        # A lot of no weight, or one that is blended into itself, has nothing to hand on.
        grams, gone = self._done.get(source), self._handed.get((source.id, lot.id))
        if grams is not None and gone is not None:
            own = [
                atom
                for atom in grams.atoms
                if atom.stage == gone.stage
                and atom.floor != "unaccounted"
                and not atom.faults & self._touched.missing
            ]
            if own:
                shares = apportion(mass, [atom.weight_mg for atom in own])
                return [
                    Atom(share, part, 0, atom.floor, atom.faults)
                    for share, atom in zip(shares, own, strict=True)
                ]
        return [Atom(mass, part, 0, "unproven", frozenset(self._touched.lots.get(source, ())))]

    def _touch(self, atom: Atom, missing: int | None, book: LotBook) -> Atom:
        """The atom with the faults of what came in before it left, and of the count that missed it."""
        faults, floor = set(atom.faults), atom.floor
        for event in book.mixing[: atom.stage]:
            at = self._touched.came_in.get(event.node)
            faults |= at or set()
            # What no check speaks of is no better for that.
            floor = floor if at else max(floor, "unproven", key=_RANKS.__getitem__)
        if missing is not None:
            at = self._touched.missed.get(book.missing[missing].node)
            faults |= at or set()
            floor = floor if at else "unaccounted"
        return atom._replace(faults=frozenset(faults), floor=floor)


def _spread(atoms: Sequence[Atom], book: LotBook) -> Iterator[tuple[Atom, int | None]]:
    """A lot's own atoms shared out to where its grams went, each with the count that missed it."""
    left = [atom.weight_mg for atom in atoms]
    cells = [cell for cell in book.cells if cell.part == 0]
    for cell in cells:
        shares = apportion(cell.mass_mg, left)
        left = [rest - share for rest, share in zip(left, shares, strict=True)]
        for share, atom in zip(shares, atoms, strict=True):
            if share:
                yield atom._replace(weight_mg=share, stage=cell.stage), cell.missing


def _foreign(first: int, book: LotBook) -> Iterator[tuple[Atom, int | None]]:
    """Grams that came into a lot from elsewhere; `first` is the part of those that came first."""
    for cell in book.cells:
        if cell.part:
            yield Atom(cell.mass_mg, first + cell.part - 1, cell.stage, "unproven", frozenset()), cell.missing


def _merge(atoms: Iterable[Atom], own: frozenset[int]) -> tuple[Atom, ...]:
    """Atoms that share everything become one, and a lot's own faults touch them all."""
    together: dict[tuple[int, int, str, frozenset[int]], int] = {}
    for atom in atoms:
        key = (atom.part, atom.stage, atom.floor, atom.faults | own)
        together[key] = together.get(key, 0) + atom.weight_mg
    return tuple(Atom(weight, *key) for key, weight in together.items() if weight)


def _movements_of(lineage: Lineage, touched: Touched) -> dict[Node, tuple[tuple[int, frozenset[int]], ...]]:
    found: dict[Node, list[tuple[int, frozenset[int]]]] = {}
    for movement, faults in touched.movements.items():
        for link in lineage.sources(movement):
            if link.weight_mg:
                found.setdefault(link.source, []).append((link.weight_mg, frozenset(faults)))
    return {lot: tuple(moves) for lot, moves in found.items()}


def apportion(total: int, weights: Sequence[int]) -> list[int]:
    """`total` shared out in proportion to the weights, by largest remainder.

    Whole numbers that add up to `total` exactly. Equal remainders go to the earlier weight. With
    nothing to go by (all weights zero) everything falls to the first.
    """
    whole = sum(weights)
    if whole == 0:
        return [total if position == 0 else 0 for position in range(len(weights))]
    shares = [total * weight // whole for weight in weights]
    remainders = [total * weight % whole for weight in weights]
    left = total - sum(shares)
    for position in sorted(range(len(weights)), key=lambda at: -remainders[at])[:left]:
        shares[position] += 1
    return shares
