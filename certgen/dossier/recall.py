"""A recall followed to its end: every lot that holds seed of what is called back, where each of its grams is
now, and who is to be told of how much.

In a lot that holds other seed as well nobody can tell the one from the other. Then at least and at most so
many grams are of what is called back: no fewer than what the rest of the lot can't make up, no more than went
in.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any, Final

from certgen.dossier.recall_shares import Span, bound_shares
from certgen.dossier.search import UnknownRecordError, find_records
from certgen.lineage.custody import fold
from certgen.records.rows import is_absent
from certgen.rules.seed.deliveries import list_deliveries
from certgen.rules.seed.holds import list_handed_out, reach_lots
from certgen.rules.seed.recalls import list_recalls
from certgen.rules.wording import NOUNS, join

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from datetime import date

    from certgen.examination import Result
    from certgen.lineage import Node
    from certgen.lineage.custody import LotBook
    from certgen.rules.seed.recalls import Called

ON_HAND: Final = "on hand"
BLENDED: Final = "blended into"
UNACCOUNTED: Final = "unaccounted"
#: Kinds of place, as the sums are told: held by others, here, used up, nowhere.
_SUMS: Final = {ON_HAND: "on_hand", "retained": "on_hand", UNACCOUNTED: "unaccounted", BLENDED: "blended"}
_TABLES: Final = ("lots", "trees", "bagging", "harvests", "batches", "recalls")


@dataclass(frozen=True, slots=True)
class Place:
    """Where some grams of a lot are. `kind` is "on hand", "unaccounted", "blended into" or a movement's;
    `span` is how much of them can be of what is called back. `party` took them, or the store they are in;
    `held_mg` is what is still with somebody they were handed to, by the entries.
    """

    lot: str
    kind: str
    weight_mg: int
    span: Span
    day: date | None = None
    party: str = ""
    document: str = ""
    movement: str = ""
    evidence: tuple[str, ...] = ()
    held_mg: int | None = None

    @property
    def handed_out(self) -> bool:
        """Whether somebody else had them, who is to be told."""
        return self.held_mg is not None


@dataclass(frozen=True, slots=True)
class RecalledLot:
    """A lot that holds seed of what is called back: `span` of its `weight_mg`, and where all of that is.

    `beyond_mg` is what the stock book lets leave beyond what there was.
    """

    lot: str
    variety: str
    standing: str
    weight_mg: int
    span: Span
    places: tuple[Place, ...]
    beyond_mg: int

    @property
    def is_whole(self) -> bool:
        """Whether all of it is of what is called back."""
        return self.span.low_mg == self.weight_mg

    def sums(self) -> dict[str, int]:
        """Its grams by where they are: `out`, `on_hand`, `used`, `unaccounted`, `blended`; they make up the
        lot.
        """
        found = dict.fromkeys(("out", "on_hand", "used", "unaccounted", "blended"), 0)
        for one in self.places:
            found["out" if one.handed_out else _SUMS.get(one.kind, "used")] += one.weight_mg
        return found


@dataclass(frozen=True, slots=True)
class Holder:
    """Somebody to be told: the deliveries, what of them has not come back, and what was told, and is not told
    yet. `number` is that of the notice on record.
    """

    party: str
    places: tuple[Place, ...]
    weight_mg: int
    span: Span
    told_mg: int
    untold_mg: int
    told_on: date | None
    number: str
    contact: str


@dataclass(frozen=True)
class Recall:
    """Everything that a recall of some records takes in. `called` is the record of it, if there is one."""

    result: Result
    about: tuple[Node, ...]
    called: Called | None
    lots: tuple[RecalledLot, ...]
    holders: tuple[Holder, ...]

    @property
    def title(self) -> str:
        """ "lot AK-26-1 and tree T-306"."""
        return join(f"{NOUNS[node.table][0]} {node.id}" for node in self.about)

    @cached_property
    def sums(self) -> dict[str, int]:
        """Grams of all its lots together; what went from one to another counts where it is now."""
        found = dict.fromkeys(("out", "on_hand", "used", "unaccounted", "blended"), 0)
        for lot in self.lots:
            for key, mass in lot.sums().items():
                found[key] += mass
        return {**found, "all": sum(lot.weight_mg for lot in self.lots) - found["blended"]}

    @property
    def untold_mg(self) -> int:
        """What is with others whom nobody has told."""
        return sum(holder.untold_mg for holder in self.holders)


def follow_recall(result: Result, names: Sequence[str]) -> Recall:
    """The recall of what some numbers mean, or of what the record of one is about.

    Raises `UnknownRecordError` for a number that means no lot, tree, bag, picking, batch or recall.
    """
    about, called = _find_about(result, names)
    lots = reach_lots(result.case, [node.id for node in about])
    reached = {lot for node in about for lot in result.lineage.lots_reached(node)}
    kept = [lot for lot in lots if lot in reached]
    if not kept:
        raise UnknownRecordError(f"No lot holds seed of {join(names)}, so there is nothing to call back.")
    called = called or _find_record(result, kept)
    spans = bound_shares(result, about, kept)
    told = tuple(_follow_lot(result, lot, spans[lot]) for lot in kept)
    return Recall(result, about, called, told, _list_holders(told, called))


def _find_about(result: Result, names: Sequence[str]) -> tuple[tuple[Node, ...], Called | None]:
    found: list[Node] = []
    called = None
    for name in dict.fromkeys(names):
        nodes = find_records(result, name)
        strange = [node for node in nodes if node.table not in _TABLES]
        if strange:
            what = f"{NOUNS[strange[0].table][0]} {strange[0].id}"
            message = f"'{name}' means {what}. A recall begins with a lot, tree, bag, picking or batch."
            raise UnknownRecordError(message)
        for node in nodes:
            if node.table == "recalls":
                called = next(one for one in list_recalls(result.case) if one.name == node.id)
                found += [one for about in called.about for one in _named(result, about)]
            else:
                found.append(node)
    return tuple(dict.fromkeys(found)), called


def _named(result: Result, about: str) -> Iterator[Node]:
    return (
        node
        for node in result.lineage.nodes
        if node.id == about and node.table in _TABLES and node.table != "recalls"
    )


def _find_record(result: Result, lots: Sequence[str]) -> Called | None:
    """The latest recall on record that takes in all the lots."""
    fitting = [
        one for one in list_recalls(result.case) if one.kind == "recall" and set(lots) <= set(one.lots)
    ]
    return max(fitting, key=lambda one: one.opened, default=None)


# Where the grams are


def _follow_lot(result: Result, lot: str, span: Span) -> RecalledLot:
    book, lots = result.case.books[lot], result.case.keyed("lots")
    other = book.weight_mg - span.low_mg
    moves, handed = result.case.keyed("movements"), list_handed_out(result.case)
    held = iter(list_deliveries(result.case, [lot]))

    def share(mass: int) -> Span:
        return Span(max(0, mass - other), min(mass, span.high_mg))

    places = []
    for gone in book.departures:
        entry, mass = gone.entry, sum(gone.parts)
        if entry.node.table == "lots":
            places.append(Place(lot, BLENDED, mass, share(mass), entry.day, party=f"lot {entry.node.id}"))
            continue
        row: Any = moves.loc[entry.node.id]
        party, paper = _text(row["party"]), _text(row["document"])
        kept = next(held).kept_mg if entry.node.id in handed else None
        node, files = entry.node.id, tuple(row["evidence"])
        places.append(Place(lot, entry.kind, mass, share(mass), entry.day, party, paper, node, files, kept))
    places += [
        Place(lot, UNACCOUNTED, event.mass_mg, share(event.mass_mg), event.day, movement=event.node.id)
        for event in book.missing
    ]
    store = _text(lots["storage"].get(lot))
    places.append(Place(lot, ON_HAND, book.on_hand_mg, share(book.on_hand_mg), book.counted, party=store))
    standing = result.lots[lot].standing if lot in result.lots else ""
    return RecalledLot(
        lot,
        _text(lots["variety"].get(lot)),
        standing,
        book.weight_mg,
        span,
        tuple(places),
        _find_beyond(book),
    )


def _find_beyond(book: LotBook) -> int:
    """What the entries let leave beyond what there was."""
    short = sum(gone.entry.mass_mg - sum(gone.parts) for gone in book.departures)
    returns = {one.node: one.mass_mg for one in book.came if one.kind == "returned"}
    # What came back beyond what that party had taken came in as other seed, and is in no departure.
    strange = sum(event.mass_mg for event in book.mixing if event.node in returns)
    return max(0, short - (sum(returns.values()) - strange))


def _text(value: Any) -> str:
    return "" if is_absent(value) else str(value)


def _list_holders(lots: Sequence[RecalledLot], called: Called | None) -> tuple[Holder, ...]:
    """Everybody who had seed of the lots, in the order in which they first had some."""
    places: dict[str, list[Place]] = {}
    shown: dict[str, str] = {}
    out = [one for lot in lots for one in lot.places if one.handed_out]
    for place in sorted(out, key=lambda one: (one.day is None, one.day, one.movement)):
        party = fold(place.party)
        shown.setdefault(party, place.party)
        places.setdefault(party, []).append(place)
    spans = {lot.lot: lot for lot in lots}
    return tuple(_tell_holder(shown[party], taken, spans, called) for party, taken in places.items())


def _tell_holder(
    party: str, taken: Sequence[Place], lots: Mapping[str, RecalledLot], called: Called | None
) -> Holder:
    notices = [one for one in (called.notices if called else ()) if fold(one["party"]) == fold(party)]
    told: Counter[str] = Counter()
    held: Counter[str] = Counter()
    for notice in notices:
        if told_day(notice) is not None:
            told[notice["lot"]] += int(notice.get("weight_mg") or 0)
    for place in taken:
        held[place.lot] += place.held_mg or 0
    return Holder(
        party,
        tuple(taken),
        held.total(),
        _add_spans(held, lots),
        told.total(),
        (held - told).total(),
        max((when for when in map(told_day, notices) if when is not None), default=None),
        _first(notices, "notice"),
        _first(notices, "contact"),
    )


def _first(notices: Sequence[Mapping[str, Any]], field: str) -> str:
    return next((str(one[field]) for one in notices if one.get(field)), "")


def told_day(notice: Mapping[str, Any]) -> date | None:
    """The day on which a party was told: who has answered was."""
    when: date | None = notice.get("told_on") or notice.get("answered_on")
    return when


def _add_spans(held: Mapping[str, int], lots: Mapping[str, RecalledLot]) -> Span:
    """Of all that one holder has: what two deliveries of one lot have in common counts once."""
    low = high = 0
    for name, mass in held.items():
        lot = lots[name]
        # Of what left beyond the book nobody knows what it was.
        sure = min(mass, lot.weight_mg) - (lot.weight_mg - lot.span.low_mg)
        low += mass if lot.is_whole else max(0, sure)
        high += mass if lot.is_whole else min(mass, lot.span.high_mg)
    return Span(low, high)
