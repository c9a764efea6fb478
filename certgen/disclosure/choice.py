"""Which records of a farm somebody needs to be shown of one lot, and no more.

The least is the lot's own line, what was found against it, and the one sale that both sides know. Findings
may hang on more: on what went through the same equipment before, on the other movements of the lot. Those are
added, in codes, only where the lot doesn't come out the same without them.
"""

from __future__ import annotations

from collections import defaultdict
from datetime import date
from functools import cached_property
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from certgen.lineage import Node
from certgen.records.tables import TABLE_NAMES, load_tables
from certgen.rules.growing.approvals import find_approvals

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator, Mapping

    from certgen.examination import Result
    from certgen.records import Place

#: By table the rows of the farm's tables that are shown.
Rows = dict[str, set[int]]
MEASURES: Final = ((), ("movements",), ("equipment",), ("movements", "equipment"))
#: Laid into the records that they speak of before anything is chosen; and one season's own words.
_LAID_IN: Final = frozenset({"letters", "explanations"})
#: What happened to a block at large; every other round is laid into its records.
_AT_LARGE: Final = "storm"
#: Without these a test would seem to have used seed that nobody took.
_FOR_TESTS: Final = "sampled"
#: Movements by which seed goes to somebody else.
_LEAVES: Final = frozenset({"sold", "transferred"})
#: What a storm names, and the tables of what it names.
_MET: Final = {"blocks": "blocks", "trees": "trees", "bags": "bagging"}
#: Records about others: shown with any of them.
_ABOUT: Final = (("incidents", "about"), ("recalls", "about"), ("observations", "trees"))
#: What a record rests on besides its line: table, column, and the table that it names.
_RESTS_ON: Final = (("inputs", "approval", "materials"), ("inputs", "heap", "compost"))


def choose_rows(result: Result, lot: str, party: str, measure: Collection[str] = ()) -> Rows:
    """The rows to be shown of one lot to one party (empty: to nobody who bought of it).

    `measure` says by what the least is widened; `MEASURES` lists the measures, the narrowest first.
    """
    choice = RowChoice(result, lot)
    choice.take_line()
    choice.take_gaps()
    choice.take_movements(party)
    if "movements" in measure:
        choice.take_all_movements()
    if "equipment" in measure:
        choice.take_equipment()
    choice.take_pools()
    choice.take_about()
    choice.take_approvals()
    return choice.rows


def is_same_name(one: object, other: str) -> bool:
    """Whether two entries name one party: letter case and spaces aside."""
    return bool(other) and _fold(str(one or "")) == _fold(other)


class _Use(NamedTuple):
    """A run or a cleaning: its day, its number, its equipment."""

    day: date
    name: str
    pieces: frozenset[str]

    def is_between(self, run: _Use, one: date, other: date) -> bool:
        """Whether it was on a run's equipment between two days."""
        return min(one, run.day) <= self.day <= other and bool(self.pieces & run.pieces)


class RowChoice:
    """The rows taken so far of a farm, for one lot."""

    def __init__(self, result: Result, lot: str) -> None:
        self.result, self.farm, self.lot = result, result.farm, lot
        self.rows: Rows = {name: set() for name in TABLE_NAMES}

    @cached_property
    def _rows_of(self) -> Mapping[Node, list[int]]:
        """All rows that bear an identifier: two may, and both speak."""
        found: dict[Node, list[int]] = defaultdict(list)
        for name, table in load_tables().items():
            if table.key:
                for row, identifier in enumerate(self.farm.columns(name).values(table.key)):
                    found[Node(name, identifier)].append(row)
        return found

    @cached_property
    def _row_at(self) -> Mapping[tuple[str, str, int], int]:
        """The row of each place where a record begins."""
        return {
            (str(file), name, int(at)): row
            for name in TABLE_NAMES
            for row, file, at in self.farm.columns(name).rows("file", "at")
        }

    def take(self, nodes: Iterable[Node]) -> None:
        """Takes the records of some nodes, with all that they came out of."""
        for node in nodes:
            for one in (node, *self.result.lineage.back(node)):
                if one.table not in _LAID_IN:
                    self.rows[one.table].update(self._rows_of.get(one, ()))

    def take_line(self) -> None:
        """The lot, and everything that it came out of, through all generations."""
        self.take([Node("lots", self.lot)])

    def take_gaps(self) -> None:
        """The records at which a gap that reaches the lot stands."""
        for gap in self.result.gaps_of_lot(self.lot):
            self.take_alone(Node(gap.table, name) for name in gap.ids)
            self.take_alone(gap.starts)
            for place in (gap.place, *gap.others):
                self._take_place(place)

    def take_alone(self, nodes: Iterable[Node]) -> None:
        """Takes the records of some nodes without what they came out of."""
        for node in nodes:
            if node.table in self.rows and node.table not in _LAID_IN:
                self.rows[node.table].update(self._rows_of.get(node, ()))

    def _take_place(self, place: Place) -> None:
        match place.path:
            case (str(table), int(at), *_) if table in self.rows and table not in _LAID_IN:
                row = self._row_at.get((place.file, table, at))
                self.rows[table].update(() if row is None else (row,))

    def take_movements(self, party: str) -> None:
        """What of the lot went to the party or came from it, and what its tests used up."""
        for row, lot, who, kind in self.farm.columns("movements").rows("lot", "party", "kind"):
            if lot == self.lot and (kind == _FOR_TESTS or is_same_name(who, party)):
                self.rows["movements"].add(row)

    def take_all_movements(self) -> None:
        """All movements of the lot and of those in it, what was sown of it, and the lots it was blended into.

        The others have no line here: their grams are what a stock needs to come out the same.
        """
        lots = {self.lot, *self.names("lots")}
        for row, lot, planting in self.farm.columns("movements").rows("lot", "planting"):
            if lot in lots:
                self.rows["movements"].add(row)
                self.take_alone([Node("plantings", planting)] if planting else [])
        for row, sources in self.farm.columns("lots").rows("sources"):
            if lots & {part.get("lot") for part in sources}:
                self.rows["lots"].add(row)

    def take_equipment(self) -> None:
        """The run before each of the line's on the same equipment, and those while its seed lay there, with
        their own lines, and the cleanings between."""
        for other, cleanings in self.find_met(sorted(self.rows["batches"])):
            self.take([other])
            self.rows["cleaning"].update(cleanings)

    def find_met(self, rows: Iterable[int]) -> Iterator[tuple[Node, set[int]]]:
        """Each run that some runs, by their rows, met on their equipment, and the cleanings between."""
        runs = self._uses("batches", "equipment", "drying.on")
        cleanings = self._uses("cleaning", "equipment")
        dried = self.farm.columns("batches").values("drying.to")
        for row in rows:
            run = runs[row]
            last = max(run.day, dried[row] or run.day)
            for other in _find_met(run, runs.values(), last):
                between = {at for at, one in cleanings.items() if one.is_between(run, other.day, last)}
                yield Node("batches", other.name), between

    def _uses(self, table: str, *columns: str) -> dict[int, _Use]:
        """By row what used which equipment on which day."""
        used = self.farm.columns(table)
        cells = [used.values(column) for column in columns]
        days, names = used.values("date"), used.values(load_tables()[table].key)
        return {
            row: _Use(days[row], names[row], frozenset(_fold(one) for column in cells for one in column[row]))
            for row in range(len(used))
        }

    def take_pools(self) -> None:
        """Whoever shares a sample with a parent: a pool without them would be another pool."""
        pools = self.farm.columns("screening").values("trees")
        self.take(Node("trees", tree) for row in sorted(self.rows["screening"]) for tree in pools[row])
        blocks = self.farm.columns("plantings").values("block")
        self.take_alone(Node("blocks", blocks[row]) for row in self.rows["plantings"] if blocks[row])

    def take_approvals(self) -> None:
        """What allows the inputs taken, and the heaps that they come from."""
        for table, column, named in _RESTS_ON:
            names = self.farm.columns(table).values(column)
            self.take_alone(Node(named, names[row]) for row in sorted(self.rows[table]) if names[row])
        # One that isn't cited is found by the material's name.
        found = find_approvals(self.result.case)
        shown = sorted(self.rows["inputs"] & found.keys())
        self.take_alone(Node("materials", found[row].material) for row in shown)

    def take_about(self) -> None:
        """What is written about any of the records taken: incidents, observations, storms."""
        taken = {name for table in TABLE_NAMES for name in self.names(table)}
        for table, column in _ABOUT:
            for row, about in self.farm.columns(table).rows(column):
                if taken & {*about}:
                    self.rows[table].add(row)
        self.rows["rounds"] = {
            row
            for row, kind, *named in self.farm.columns("rounds").rows("kind", *_MET)
            if kind == _AT_LARGE and self._are_met(named)
        }

    def _are_met(self, named: Iterable[Collection[str]]) -> bool:
        """Whether blocks, trees or bags that a storm names are among the records taken."""
        return any({*names} & {*self.names(table)} for names, table in zip(named, _MET.values(), strict=True))

    def names(self, table: str) -> Collection[Any]:
        """The identifiers of the rows taken of a table."""
        key = load_tables()[table].key
        if not key:
            return ()
        names = self.farm.columns(table).values(key)
        return {names[row] for row in self.rows[table]}


def _by_day(use: _Use) -> tuple[date, str]:
    return use.day, use.name


def _find_met(run: _Use, runs: Iterable[_Use], last: date) -> list[_Use]:
    """The last run before on each piece of a run's equipment, and those until its seed was dry."""
    met = [one for one in runs if one.name != run.name and run.pieces & one.pieces]
    before = [one for one in met if one.day <= run.day]
    latest = [
        max((one for one in before if piece in one.pieces), key=_by_day, default=None)
        for piece in sorted(run.pieces)
    ]
    beside = [one for one in met if run.day <= one.day <= last]
    return list(dict.fromkeys([*filter(None, latest), *beside]))


def _fold(name: str) -> str:
    return " ".join(name.split()).casefold()


def list_receivers(result: Result, lot: str) -> list[str]:
    """Whom something of a lot went to, by name, each once, in the order of the records."""
    moves = result.farm.columns("movements")
    found: dict[str, str] = {}
    for _, moved, kind, party in moves.rows("lot", "kind", "party"):
        if moved == lot and kind in _LEAVES and party:
            found.setdefault(_fold(party), party)
    return list(found.values())
