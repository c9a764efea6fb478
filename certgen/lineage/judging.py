"""Takes every lot of a farm apart by what touches its grams.

A batch is one mixed quantity, so all of it takes the worst standing of anything on its line. A lot takes
each part as its batch or blended lot hands it on, and its own faults touch every gram of it; what came in
later touches what was there then (`lineage.custody`).
"""

from __future__ import annotations

from functools import cache
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

from certgen.lineage.faults import Fault, Touched
from certgen.lineage.graph import Lineage, Node
from certgen.lineage.standing import RANKS, Atom, LotGrams, Standings, Supply, apportion, find_effect
from certgen.lineage.walks import order

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence

    from certgen.lineage.custody import Cell, Departure, Event, LotBook
    from certgen.records.joining.farm import Farm

#: So many atoms, counted at each place they went to, and so many faults of theirs are told apart. Lots that
#: would need more sum what went into them up by what it is worth: masses stay right, but what would mend them
#: isn't known any more.
MOST_HELD: Final = 300_000


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
    lots = _Lots(farm, lineage, faults, touched, books, scale_step_mg, supplied)
    return Standings(tuple(faults), lots.take_apart())


class Trials:
    """The lots of a farm with one fault more, tried one after another without taking all of them apart."""

    def __init__(
        self,
        farm: Farm,
        lineage: Lineage,
        faults: Sequence[Fault],
        books: Mapping[str, LotBook],
        scale_step_mg: int = 0,
        supplied: Mapping[str, Sequence[Supply]] = MappingProxyType({}),
    ) -> None:
        """As for `judge_lots`."""
        self._faults = list(faults)
        self._lineage = lineage
        self._touched = Touched(lineage, faults)
        self._lots = _Lots(farm, lineage, self._faults, self._touched, books, scale_step_mg, supplied)
        self._lots.take_apart()

    def judge_with(self, start: Node) -> Standings:
        """The lots that rest on a record as they would be if a fault that rejects stood at it.

        What was sown from them isn't followed.
        """
        fault, position = Fault("rejects", (start,)), len(self._faults)
        self._touched.add(position, fault)
        self._faults.append(fault)
        lots = self._lots.take_apart_again(set(self._lineage.lots_reached(start)))
        self._touched.take_back(position)
        self._faults.pop()
        return Standings((*self._faults, fault), lots)


class _Lots:
    def __init__(
        self,
        farm: Farm,
        lineage: Lineage,
        faults: Sequence[Fault],
        touched: Touched,
        books: Mapping[str, LotBook],
        step: int,
        supplied: Mapping[str, Sequence[Supply]],
    ) -> None:
        self._step = step
        self._supplied = supplied
        self._lineage = lineage
        #: The list itself: a trial puts one fault more behind it.
        self._faults = faults
        self._touched = touched
        self._books = books
        lots = farm.columns("lots")
        varieties = lots["variety"]
        self._known = {Node("lots", lot): varieties[row] or "" for lot, row in lots.first("lot").items()}
        self._handed: dict[tuple[str, str], Departure] = {
            (book.lot, gone.entry.node.id): gone
            for book in books.values()
            for gone in book.departures
            if gone.entry.kind == "blended into"
        }
        self._movements = _movements_of(lineage, touched)
        self._done: dict[Node, LotGrams] = {}
        self._left = MOST_HELD
        self._summed: set[Node] = set()
        self._sums: dict[tuple[Node, int], tuple[Atom, ...]] = {}
        self._runs: dict[Node, Atom] = {}

    def take_apart(self) -> dict[str, LotGrams]:
        self._order = [self._nodes[at] for at in order(self._known_positions(), self._blended_before)]
        for lot in self._order:
            if self._left < 0:
                self._summed.add(lot)
            self._done[lot] = self._take_apart(lot)
        return {node.id: self._done[node] for node in self._known}

    def take_apart_again(self, lots: Collection[str]) -> dict[str, LotGrams]:
        """Some lots as the faults are now, each after those that were blended into it; the others stay as
        they were, and what is told here isn't kept."""
        before, again = self._done, [lot for lot in self._order if lot.id in lots]
        self._done = dict(before)
        self._sums, self._runs = {}, {}
        for lot in again:
            self._done[lot] = self._take_apart(lot)
        taken = {lot.id: self._done[lot] for lot in again}
        self._done, self._sums, self._runs = before, {}, {}
        return taken

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
        cells = self._cells(lot, atoms)
        # What came in from elsewhere is a part of its own, with nothing behind it.
        pieces = [*_spread(atoms, cells), *_foreign(len(sources), book)]
        touch = self._touching(book, own)
        merged = _merge(touch(atom, missing) for atom, missing in pieces)
        return LotGrams(
            lot.id,
            self._known[lot],
            book.weight_mg,
            # Of a stage that stands for several nobody is told who brought it.
            (*sources, *(events[0].node if len(events) == 1 else None for events in book.stages)),
            merged,
            self._movements.get(lot, ()),
            frozenset(self._touched.whole.get(lot, ())),
            tuple(faults for faults, _ in _gather(self._touched.came_in, book.stages)),
            lot in self._summed and any(atom.floor != "traced" for atom in merged),
        )

    def _cells(self, lot: Node, atoms: Sequence[Atom]) -> Sequence[Cell]:
        """Where the grams went that a lot was packed with; told together where they would be too many."""
        cells = [cell for cell in self._books[lot.id].cells if cell.part == 0]
        self._left -= len(atoms) * len(cells) + sum(len(atom.faults) for atom in atoms)
        vast = len(atoms) * len(cells) > MOST_HELD or lot in self._summed
        return _alike(cells) if vast else cells

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
            if lot in self._summed:
                return [self._sum_run(source)._replace(weight_mg=mass, part=part)]
            return [Atom(mass, part, 0, "traced", frozenset(self._touched.batches.get(source, ())))]
        if source.table == "packets":
            return [Atom(mass, part, 0, "traced", frozenset())]
        # A lot of no weight, or one that is blended into itself, has nothing to hand on.
        grams, gone = self._done.get(source), self._handed.get((source.id, lot.id))
        if grams is not None and gone is not None:
            own = self._sum(grams, gone.stage) if lot in self._summed else self._whole(grams, gone.stage)
            if own:
                shares = apportion(mass, [atom.weight_mg for atom in own])
                return [
                    Atom(share, part, 0, atom.floor, atom.faults)
                    for share, atom in zip(shares, own, strict=True)
                ]
        return [Atom(mass, part, 0, "unproven", frozenset(self._touched.lots.get(source, ())))]

    def _whole(self, grams: LotGrams, stage: int) -> list[Atom]:
        """The atoms that a lot hands on at a stage: grams that are nowhere went nowhere."""
        return [
            atom
            for atom in grams.atoms
            if atom.stage == stage and atom.floor != "unaccounted" and not atom.faults & self._touched.missing
        ]

    def _sum(self, grams: LotGrams, stage: int) -> tuple[Atom, ...]:
        """The same, told apart by nothing but what they are worth."""
        key = (Node("lots", grams.lot), stage)
        if key not in self._sums:
            atoms = map(self._worth, self._whole(grams, stage))
            self._sums[key] = _merge(atom._replace(part=0, stage=0) for atom in atoms)
        return self._sums[key]

    def _sum_run(self, run: Node) -> Atom:
        if run not in self._runs:
            faults = frozenset(self._touched.batches.get(run, ()))
            self._runs[run] = self._worth(Atom(0, 0, 0, "traced", faults))
        return self._runs[run]

    def _worth(self, atom: Atom) -> Atom:
        """An atom told by what its faults make of it."""
        effect = find_effect((self._faults[fault] for fault in atom.faults), atom.floor)
        return atom._replace(floor=effect, faults=frozenset())

    def _touching(self, book: LotBook, own: frozenset[int]) -> Callable[[Atom, int | None], Atom]:
        """What gives an atom its lot's own faults, those of what came in before it left, and those of the
        count that missed it."""
        came_in = _gather(self._touched.came_in, book.stages)
        missed = _gather(self._touched.missed, book.losses)
        # What no check speaks of is no better for that.
        unsaid = next(
            (stage for stage, (_, said) in enumerate(came_in, start=1) if not said), len(came_in) + 1
        )

        # Atoms of a stage share their set of faults: in a lot that came in many times it is made once.
        @cache
        def faults_of(faults: frozenset[int], stage: int, missing: int | None) -> frozenset[int]:
            lost = () if missing is None else missed[missing][0]
            return faults.union(own, lost, *(at for at, _ in came_in[:stage]))

        def touch(atom: Atom, missing: int | None) -> Atom:
            floor = atom.floor
            if atom.stage >= unsaid:
                floor = max(floor, "unproven", key=RANKS.__getitem__)
            if missing is not None and not missed[missing][1]:
                floor = "unaccounted"
            return atom._replace(faults=faults_of(atom.faults, atom.stage, missing), floor=floor)

        return touch


def _gather(
    touched: Mapping[Node, Collection[int]], groups: Iterable[Sequence[Event]]
) -> list[tuple[frozenset[int], bool]]:
    """For each group of events the faults at them, and whether some stand at each of them."""
    # A record that names a lot thousands of times is an event each time.
    nodes = (dict.fromkeys(event.node for event in events) for events in groups)
    held = ([touched.get(node, ()) for node in group] for group in nodes)
    return [(frozenset().union(*faults), all(faults)) for faults in held]


def _alike(cells: Iterable[Cell]) -> list[Cell]:
    """Cells of one stage that the same count missed become one."""
    found: dict[tuple[int, int | None], Cell] = {}
    for cell in cells:
        key = (cell.stage, cell.missing)
        known = found.get(key)
        found[key] = cell if known is None else known._replace(mass_mg=known.mass_mg + cell.mass_mg)
    return list(found.values())


def _spread(atoms: Sequence[Atom], cells: Iterable[Cell]) -> Iterator[tuple[Atom, int | None]]:
    """A lot's own atoms shared out to where its grams went, each with the count that missed it."""
    left = [atom.weight_mg for atom in atoms]
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


def _merge(atoms: Iterable[Atom]) -> tuple[Atom, ...]:
    """Atoms that share everything become one."""
    together: dict[tuple[int, int, str, frozenset[int]], int] = {}
    for atom in atoms:
        key = (atom.part, atom.stage, atom.floor, atom.faults)
        together[key] = together.get(key, 0) + atom.weight_mg
    return tuple(Atom(weight, *key) for key, weight in together.items() if weight)


def _movements_of(lineage: Lineage, touched: Touched) -> dict[Node, tuple[tuple[int, frozenset[int]], ...]]:
    found: dict[Node, list[tuple[int, frozenset[int]]]] = {}
    for movement, faults in touched.movements.items():
        # Movements of one number share what is wrong with any of them.
        held = frozenset(faults)
        for link in lineage.sources(movement):
            if link.weight_mg:
                found.setdefault(link.source, []).append((link.weight_mg, held))
    return {lot: tuple(moves) for lot, moves in found.items()}
