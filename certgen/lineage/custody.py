"""Where each gram of a lot is: what left, what is there, what came in from elsewhere, what is nowhere.

A lot's book runs through all years. Seed that comes in from elsewhere mixes with what is there on that day:
it touches that and whatever leaves later, not what had left before. A count below the book leaves grams that
are nowhere; a count above it is seed that came from somewhere. A difference that the scale can't show is
none.

In a lot that thousands of entries changed, each part of it at each of its stages would be too many. There
the last stage stands for all later ones: what left at it is touched by whatever came in since it began, and
what came in then is one part. Masses stay exact, and no gram is better for it.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final, NamedTuple

from certgen.lineage.graph import Node
from certgen.lineage.standing import apportion
from certgen.records.columns import is_in

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from datetime import date

    from certgen.records.joining.farm import Farm

LEAVING: Final = (
    "sold",
    "transferred",
    "sown",
    "sampled",
    "retained",
    "discarded",
    "downgraded",
    "blended into",
)
#: A lot whose entries, counted at each that may change what it is, are more than this many keeps so many
#: stages apart.
MOST_CELLS: Final = 100_000
MOST_STAGES: Final = 50
#: Within a day: what the season opens with, what came in, what went out, then counts.
_ORDER: Final = {"opening stock": 0, "packed": 1, "received": 1, "returned": 1, "mixing": 1, "counted": 3}


class Entry(NamedTuple):
    """One line of a lot's book. `node` is the record that it stands in; `opened` of seed that came back."""

    day: date
    kind: str
    mass_mg: int
    node: Node
    party: str = ""
    opened: bool = True
    planting: str = ""


class Event(NamedTuple):
    """Something that changed what a lot is: `mixed` touches all that is there, `missing` is nowhere."""

    kind: str
    day: date
    mass_mg: int
    node: Node


class Cell(NamedTuple):
    """Grams of a lot that share where they came from and what touched them.

    `part` is 0 for the lot's own seed, else one more than the position of the stage that brought them in.
    `stage` counts the stages that had been opened before they left (or until now); `missing` is the position
    of the loss that they are part of, or None.
    """

    part: int
    stage: int
    missing: int | None
    mass_mg: int


class Departure(NamedTuple):
    """Seed that left a lot by a record, at which stage of the lot, and its grams by part."""

    entry: Entry
    stage: int
    parts: tuple[int, ...]


@dataclass(slots=True)
class LotBook:
    """A lot's book, run through. All masses in milligrams.

    `weight_mg` is what it was packed with and what came in besides. `mixing` are the events that opened a
    new stage, `missing` those at which grams were not there. `on_hand_mg` is what should be there now,
    `counted` the day of the last count if nothing moved since. `came` are the entries by which seed came
    in or back after packing. `overdrawn` is the first entry that took more than there was, and by how much
    its day did; `stocks` is what was there at the end of each day on which it changed. `sown` holds the
    stage of the first entry by which seed went to each planting that one names. `most` is how many stages
    and losses are told apart, the last of which stands for all later ones; None where all are.
    """

    lot: str
    packed_mg: int
    weight_mg: int = 0
    on_hand_mg: int = 0
    counted: date | None = None
    overdrawn: tuple[Entry, int] | None = None
    mixing: list[Event] = field(default_factory=list)
    missing: list[Event] = field(default_factory=list)
    cells: list[Cell] = field(default_factory=list)
    departures: list[Departure] = field(default_factory=list)
    came: list[Entry] = field(default_factory=list)
    stocks: list[tuple[date, int]] = field(default_factory=list)
    sown: dict[str, int] = field(default_factory=dict)
    most: int | None = None

    @property
    def joined(self) -> int:
        """How many events that changed what the lot is have no stage of their own."""
        return 0 if self.most is None else max(0, len(self.mixing) - self.most)

    @property
    def stages(self) -> list[Sequence[Event]]:
        """What opened each stage: one event, of the last where not all are told apart all later ones too."""
        return self._group(self.mixing)

    @property
    def losses(self) -> list[Sequence[Event]]:
        """The counts that found grams gone, in the same way."""
        return self._group(self.missing)

    def _group(self, events: Sequence[Event]) -> list[Sequence[Event]]:
        if self.most is None or len(events) <= self.most:
            return [(event,) for event in events]
        return [*((event,) for event in events[: self.most - 1]), events[self.most - 1 :]]

    def stock_before(self, day: date) -> int:
        """What was there at the end of the day before."""
        return next((stock for when, stock in reversed(self.stocks) if when < day), 0)

    def stock_on(self, day: date) -> int:
        """What was there at the end of the day."""
        return next((stock for when, stock in reversed(self.stocks) if when <= day), 0)

    def stage_sown(self, planting: str, day: date) -> int:
        """The stage of the lot when a planting was sown from it: by its own entry, else by the day."""
        if planting in self.sown:
            return self.sown[planting]
        stage = sum(event.day <= day for event in self.mixing)
        return stage if self.most is None else min(stage, self.most)


def keep_books(farm: Farm, scale_step_mg: int) -> dict[str, LotBook]:
    """The book of every lot that has a record, by its number. A step of the scale is no difference."""
    entries, packed = _list_entries(farm)
    return {
        lot: _Running(LotBook(lot, packed[lot], most=_count_stages(lines)), scale_step_mg).run(
            _in_order(lines)
        )
        for lot, lines in entries.items()
    }


def _count_stages(entries: Sequence[Entry]) -> int | None:
    """How many stages of a lot are told apart: all, unless they would be too many."""
    changing = sum(entry.kind not in LEAVING for entry in entries)
    return MOST_STAGES if changing * len(entries) > MOST_CELLS else None


def _in_order(entries: Sequence[Entry]) -> list[Entry]:
    """The entries as they are booked. The first is the packing.

    What was sold before the lot was packed has a gap of its own, and is booked on that day: it left the lot,
    and is not missing from it besides.
    """
    packed = entries[0].day

    def place(entry: Entry) -> tuple[date, int]:
        early = entry.kind in {"sold", "transferred"} and entry.day < packed
        return packed if early else entry.day, _ORDER.get(entry.kind, 2)

    return sorted(entries, key=place)


def _list_entries(farm: Farm) -> tuple[dict[str, list[Entry]], dict[str, int]]:
    found: dict[str, list[Entry]] = {}
    packed: dict[str, int] = {}
    lots = farm.columns("lots")
    days = {}
    for _, lot, day, weight in lots.rows("lot", "packed", "weight_mg"):
        if lot is not None and lot not in found:
            packed[lot], days[lot] = weight or 0, day
            found[lot] = [Entry(day, "packed", packed[lot], Node("lots", lot))]
    for _, lot, parts in lots.rows("lot", "sources"):
        for part in parts:
            source = part.get("lot")
            if source in found and lot in days:
                mass = int(part.get("weight_mg") or 0)
                found[source].append(Entry(days[lot], "blended into", mass, Node("lots", lot), party=lot))
    _add_movements(farm, found)
    _add_incidents(farm, found)
    return found, packed


def _add_movements(farm: Farm, found: Mapping[str, list[Entry]]) -> None:
    moves, lots = farm.columns("movements"), farm.columns("lots")
    labels, label_of_lot = farm.labels("movements").tolist(), farm.labels("lots").tolist()
    # Seed that came back without a paper could be any seed, however well it was closed.
    paper = moves.known("party") & (moves.known("document") | moves.known("evidence"))
    closed = is_in(moves["opened"], (False,)) & paper
    openings: dict[tuple[str, str], list[Entry]] = {}
    for row, name, day, lot, kind, mass, party, planting in moves.rows(
        "movement", "date", "lot", "kind", "weight_mg", "party", "planting"
    ):
        if lot not in found:
            continue
        node, label, opened = Node("movements", name), labels[row], not closed[row]
        entry = Entry(day, kind, mass or 0, node, fold(party or ""), opened, planting or "")
        if kind != "opening stock":
            found[lot].append(entry)
        elif label_of_lot[lots.first("lot")[lot]] != label:
            # What a season opens with in several lines is one statement.
            openings.setdefault((lot, label), []).append(entry)
    for (lot, _), entries in openings.items():
        last = max(entries, key=lambda entry: entry.day)
        found[lot].append(last._replace(mass_mg=sum(entry.mass_mg for entry in entries)))


def _add_incidents(farm: Farm, found: Mapping[str, list[Entry]]) -> None:
    """Something that got into a lot, by the grower's own word."""
    incidents = farm.columns("incidents")
    for _, name, day, kind, about in incidents.rows("incident", "date", "kind", "about"):
        for lot in about if kind == "mixing" else ():
            if lot in found:
                found[lot].append(Entry(day, "mixing", 0, Node("incidents", name)))


def fold(name: str) -> str:
    """A party's name without letter case, needless spaces and full stops at its end."""
    return " ".join(name.split()).casefold().rstrip(".")


class _Running:
    """A lot's book while it is run through: what is there by part, at which stage."""

    def __init__(self, book: LotBook, step: int) -> None:
        self.book = book
        self.step = step
        self.there = [0]
        self.stage = 0
        self.lines = 0
        #: What each party took and hasn't given back, latest last: position among the departures.
        self.taken: dict[str, list[int]] = {}

    def run(self, entries: Iterable[Entry]) -> LotBook:
        for entry in entries:
            self.lines += 1
            self.book.counted = entry.day if entry.kind == "counted" else None
            if entry.kind in {"received", "returned"}:
                self.book.came.append(entry)
            if entry.kind in LEAVING:
                self._leave(entry)
            elif entry.kind == "packed":
                self.there[0] += entry.mass_mg
            elif entry.kind == "received":
                self._mix(entry, entry.mass_mg)
            elif entry.kind == "returned":
                self._return(entry)
            elif entry.kind == "mixing":
                self._mix(entry, 0)
            else:
                self._count(entry)
            self.book.stocks.append((entry.day, sum(self.there)))
        return self._close()

    def _take(self, entry: Entry, mass: int) -> list[int]:
        """Grams out of what is there, in proportion to its parts."""
        whole = sum(self.there)
        if mass > whole:
            over = self.book.overdrawn
            if over is None and mass - whole > max(self.step, self.lines):
                self.book.overdrawn = entry, mass - whole
            elif over is not None and over[0].day == entry.day:
                self.book.overdrawn = over[0], over[1] + mass - whole
            mass = whole
        parts = apportion(mass, self.there) if whole else [0] * len(self.there)
        self.there = [one - gone for one, gone in zip(self.there, parts, strict=True)]
        return parts

    def _leave(self, entry: Entry) -> None:
        parts = self._take(entry, entry.mass_mg)
        self.taken.setdefault(entry.party, []).append(len(self.book.departures))
        self.book.departures.append(Departure(entry, self.stage, tuple(parts)))
        if entry.planting:
            self.book.sown.setdefault(entry.planting, self.stage)

    def _mix(self, entry: Entry, mass: int) -> None:
        self.book.mixing.append(Event("mixed", entry.day, mass, entry.node))
        if self.stage == self.book.most:
            self.there[-1] += mass
        else:
            self.stage += 1
            self.there.append(mass)

    def _return(self, entry: Entry) -> None:
        """Seed comes back: what that party had taken is the lot's again, and mixes if it was opened.

        Whatever comes back beyond it never was the lot's.
        """
        left = entry.mass_mg
        taken = self.taken.get(entry.party, [])
        for position in reversed(taken):
            gone = self.book.departures[position]
            if not left:
                break
            if gone.entry.kind in {"sold", "transferred"}:
                parts = [*gone.parts, *[0] * (len(self.there) - len(gone.parts))]
                back = apportion(min(left, sum(parts)), parts) if sum(parts) else parts
                left -= sum(back)
                rest = tuple(one - came for one, came in zip(parts, back, strict=True))
                self.book.departures[position] = gone._replace(parts=rest)
                self.there = [one + came for one, came in zip(self.there, back, strict=True)]
        # What is all back can't come back again.
        while taken and not any(self.book.departures[taken[-1]].parts):
            taken.pop()
        if left > max(self.step, self.lines):
            self._mix(entry, left)
        elif entry.opened:
            self._mix(entry, 0)

    def _count(self, entry: Entry) -> None:
        difference = entry.mass_mg - sum(self.there)
        if abs(difference) <= max(self.step, self.lines):
            return
        if difference > 0:
            self._mix(entry, difference)
            return
        parts = self._take(entry, -difference)
        self.book.missing.append(Event("missing", entry.day, -difference, entry.node))
        at = len(self.book.losses) - 1
        self.book.cells += [Cell(part, self.stage, at, mass) for part, mass in enumerate(parts) if mass]

    def _close(self) -> LotBook:
        book = self.book
        for gone in book.departures:
            book.cells += [Cell(part, gone.stage, None, mass) for part, mass in enumerate(gone.parts) if mass]
        book.cells += [Cell(part, self.stage, None, mass) for part, mass in enumerate(self.there) if mass]
        if book.most is not None:
            book.cells = _put_together(book.cells)
        book.on_hand_mg = sum(self.there)
        book.weight_mg = book.packed_mg + sum(event.mass_mg for event in book.mixing)
        return book


def _put_together(cells: Iterable[Cell]) -> list[Cell]:
    """Cells that differ in nothing but their grams become one."""
    found: Counter[tuple[int, int, int | None]] = Counter()
    for cell in cells:
        found[cell.part, cell.stage, cell.missing] += cell.mass_mg
    return [Cell(*key, mass) for key, mass in found.items()]
