"""How seed of a lot that a member's records name came to it: from which member, through whom.

A member's lot may have passed through others before, each of whom handed it on under its number. So the way
back follows the stock books from member to member, until one holds a record of the lot.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Final, NamedTuple

from certgen.coop.between.numbers import qualify
from certgen.coop.between.spelling import fold
from certgen.records.quantities import format_mass
from certgen.rules.wording import day, join, noun

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from certgen.coop.between.numbers import Directory
    from certgen.coop.between.stops import Stops
    from certgen.coop.between.transfers import Transfer
    from certgen.coop.members.facts import LotFact, MemberSummary, PlantingFact

#: Members that a lot may pass through; whoever hands seed on more often than that is asked.
_DEEPEST: Final = 20


class Record(NamedTuple):
    """A record that names a lot, and the party beside it."""

    table: str
    id: str
    party: str


class Doubt(NamedTuple):
    """Why a link isn't relied on. `kind` is the disagreement that it is, empty where another tells of it.

    `told` says it to the member that has the seed, with nobody named whom it doesn't deal with.
    """

    kind: str
    text: str
    told: str = ""


@dataclass(frozen=True, slots=True)
class Link:
    """A lot that a member's `records` name and don't hold, and how it got there.

    `holder` is the member that holds it, None where none is found; `hops` are the transfers on the way.
    `named` is the member that the records name beside it.
    """

    member: str
    lot: str
    records: tuple[Record, ...]
    named: str | None
    holder: str | None
    hops: tuple[Transfer, ...]
    doubts: tuple[Doubt, ...]

    @property
    def where(self) -> str:
        """The first of its records, by its name in the whole co-op."""
        return qualify(self.member, self.records[0].table, self.records[0].id)

    @property
    def what(self) -> str:
        """That record as a message names it."""
        return f"{self.member}'s {self.own}"

    @property
    def own(self) -> str:
        """That record as its own member is told of it."""
        return f"{noun(self.records[0].table)} {self.records[0].id}"

    @property
    def seller(self) -> str | None:
        """From whom the member had it, if one member."""
        last = {hop.sender for hop in self.hops if hop.receiver == self.member}
        return next(iter(last)) if len(last) == 1 else self.named

    def call(self, other: str) -> str:
        """Another member, to this one: by its key where they deal with one another."""
        if other == self.member:
            return "you"
        return other if other in {self.seller, self.named} else "another member"


#: The rules whose gaps name a lot that isn't there.
_NAMING: Final = frozenset({"reference-unknown", "bought-seed-unproven"})
#: Which records are named first: what was grown, then what was packed, then what came.
_TABLES: Final = ("plantings", "lots", "movements")


class Links:
    """Every lot that is named across members, with the way it came."""

    def __init__(
        self,
        summaries: Mapping[str, MemberSummary],
        directory: Directory,
        transfers: Sequence[Transfer],
        stops: Stops | None,
    ) -> None:
        self._summaries, self._directory, self._stops = summaries, directory, stops
        self._arrivals: dict[tuple[str, str], list[Transfer]] = defaultdict(list)
        for transfer in transfers:
            lots = {move.lot for move in transfer.moves}
            for lot in lots:
                self._arrivals[transfer.receiver, lot].append(transfer)
        self.links = tuple(self._find_all())
        self._by_lot = {(link.member, link.lot): link for link in self.links}
        self._by_member: dict[str, list[Link]] = defaultdict(list)
        for link in self.links:
            self._by_member[link.member].append(link)

    def find(self, member: str, lot: str) -> Link | None:
        """How a lot came to a member whose records name it."""
        return self._by_lot.get((member, lot))

    def of(self, member: str) -> tuple[Link, ...]:
        """The lots of others that a member's records name."""
        return tuple(self._by_member.get(member, ()))

    def left(self, link: Link) -> int:
        """Milligrams of the lot that came to the member, and that its records neither used nor sent on."""
        came = sum(hop.received_mg for hop in self._arrivals.get((link.member, link.lot), ()))
        return came - self._summaries[link.member].drawn.get(link.lot, 0)

    def _find_all(self) -> Iterator[Link]:
        for key, summary in self._summaries.items():
            for lot, named in _list_records(summary).items():
                ordered = sorted(named.values(), key=lambda one: _TABLES.index(one.table))
                yield self._trace(key, lot, tuple(ordered))

    def _trace(self, key: str, lot: str, records: tuple[Record, ...]) -> Link:
        parties = {self._directory.find(one.party) for one in records if one.party} - {None}
        named = _only(parties)
        hops = tuple(self._follow(key, lot))
        ends = {hop.sender for hop in hops} or parties - {key}
        holder = _only({end for end in ends if end and self._directory.lot(end, lot)})
        link = Link(key, lot, records, None if named == key else named, holder, hops, ())
        return replace(link, doubts=tuple(self._doubt(link, holder))) if holder else link

    def _follow(self, key: str, lot: str) -> Iterator[Transfer]:
        """The transfers that a lot came on, back to whoever holds it."""
        waiting, seen = [key], {key}
        for _ in range(_DEEPEST):
            if not waiting:
                return
            nearer = []
            for member in waiting:
                for transfer in self._arrivals.get((member, lot), ()):
                    yield transfer
                    sender = transfer.sender
                    if sender not in seen and not self._directory.lot(sender, lot):
                        nearer.append(sender)
                    seen.add(sender)
            waiting = nearer

    # What speaks against a link

    def _doubt(self, link: Link, holder: str) -> Iterator[Doubt]:
        lot, member = link.lot, link.member
        if not link.hops:
            if self._must_be_booked(link, holder):
                text = f"no stock book shows that lot {lot} went from"
                kind = "origin-not-moved"
                yield Doubt(kind, f"{text} {holder} to {member}", f"{text} {link.call(holder)} to you")
        elif link.named is not None and link.named not in {holder, *(hop.sender for hop in link.hops)}:
            names, came = f"{link.own} names {link.named}", f"the stock books bring lot {lot} from"
            seller = link.seller or holder
            told = f"your {names}, and {came} {link.call(seller)}"
            yield Doubt("origin-differs", f"{member}'s {names}, and {came} {seller}", told)
        for hop in link.hops:
            yield from self._doubt_hop(link, hop)
        through = (hop.sender for hop in link.hops if hop.sender != holder)
        for one in dict.fromkeys((member, *through)):
            yield from self._doubt_grams(link, one)
        yield from self._doubt_days(link, holder)
        yield from self._doubt_stock(link)
        yield from self._doubt_words(link, holder)

    def _doubt_hop(self, link: Link, hop: Transfer) -> Iterator[Doubt]:
        if hop.differences or self._is_silent(hop):
            books = "the stock books don't agree on what went from"
            told = f"{books} {link.call(hop.sender)} to {link.call(hop.receiver)}"
            yield Doubt("", f"{books} {hop.sender} to {hop.receiver}", told)
        for move in hop.moves:
            if move.status not in {"", "organic"}:
                text = f"lot {link.lot} went from {hop.sender} to {hop.receiver} as {move.status}"
                told = f"lot {link.lot} went from {link.call(hop.sender)} to {link.call(hop.receiver)}"
                yield Doubt("origin-differs", text, f"{told} as {move.status}")
            stop = self._stops and self._stops.explain(hop.sender, move._replace(lot=link.lot))
            if stop:
                told = f"lot {link.lot} left {link.call(hop.sender)} on a day on which it couldn't"
                yield Doubt("", f"lot {link.lot} left {hop.sender} while it couldn't: {stop.theirs}", told)
                return

    def _is_silent(self, hop: Transfer) -> bool:
        """Whether a book says nothing of a transfer that falls into the days that it covers."""
        silent = "" if hop.sent and hop.received else hop.receiver if hop.sent else hop.sender
        return bool(silent) and self._covers(silent, hop.moves[0].date)

    def _covers(self, member: str, day: str) -> bool:
        summary = self._summaries[member]
        return summary.state == "read" and summary.stated.first <= day

    def _must_be_booked(self, link: Link, holder: str) -> bool:
        """Whether a book that is at hand reaches back to the day on which the seed was used."""
        days = [day for _, day in self._used_on(link)]
        return not days or any(self._covers(key, day) for key in (link.member, holder) for day in days)

    def _doubt_grams(self, link: Link, member: str) -> Iterator[Doubt]:
        """Whether a member used or handed on more of the lot than came there."""
        arrivals = self._arrivals.get((member, link.lot), [])
        came = sum(hop.received_mg for hop in arrivals)
        slack = sum(hop.slack_mg for hop in arrivals)
        drawn = self._summaries[member].drawn.get(link.lot, 0)
        if arrivals and drawn > came + slack:
            used = f"records use {format_mass(drawn)} of lot {link.lot}, and {format_mass(came)} came"
            whose = "your" if member == link.member else f"{link.call(member)}'s"
            yield Doubt("origin-overdrawn", f"{member}'s {used}", f"{whose} {used}")

    def _doubt_days(self, link: Link, holder: str) -> Iterator[Doubt]:
        last = [hop for hop in link.hops if hop.receiver == link.member]
        came = min((move.date for hop in last for move in hop.received or hop.sent), default="")
        held = self._directory.lot(holder, link.lot)
        packed = held.packed if held is not None else ""
        for record, used in self._used_on(link):
            if used < max(came, packed):
                what, when = ("came", came) if used < came else ("was packed", packed)
                text = f"{record} is of {_day(used)}, before lot {link.lot} {what} on {_day(when)}"
                yield Doubt("origin-differs", f"{link.member}'s {text}", f"your {text}")

    def _doubt_stock(self, link: Link) -> Iterator[Doubt]:
        """Whether what went into the member's lots had come by the day on which they were packed."""
        hops = self._arrivals.get((link.member, link.lot), ())
        arrivals = [move for hop in hops for move in hop.received]
        packed = {fact.packed: 0 for fact in self._summaries[link.member].lots if fact.packed}
        for fact in self._summaries[link.member].lots:
            if fact.packed:
                packed[fact.packed] += _blended_mg(fact, link.lot)
        drawn = 0
        for when, weight in sorted(packed.items()):
            drawn += weight
            came = sum(move.weight_mg for move in arrivals if move.date <= when)
            # What came all at once, and late, is told as a day that is wrong.
            if weight and 0 < came < drawn - self._slack(link):
                had = f"had {format_mass(came)} of lot {link.lot} by {_day(when)}"
                text = f"{had}, and packed {format_mass(drawn)} of it"
                yield Doubt("origin-overdrawn", f"{link.member} {text}", f"you {text}")
                return

    def _slack(self, link: Link) -> int:
        return sum(hop.slack_mg for hop in self._arrivals.get((link.member, link.lot), ()))

    def _used_on(self, link: Link) -> Iterator[tuple[str, str]]:
        """The records that used the lot, each with its day."""
        summary = self._summaries[link.member]
        days = {("plantings", fact.planting): fact.planted for fact in summary.plantings}
        days |= {("lots", fact.lot): fact.packed for fact in summary.lots if link.lot in fact.outside}
        for one in link.records:
            if used := days.get((one.table, one.id)):
                yield f"{noun(one.table)} {one.id}", used

    def _doubt_words(self, link: Link, holder: str) -> Iterator[Doubt]:
        """Variety and certificate, as the member wrote them and as they stand where the seed came from."""
        summary, held = self._summaries[link.member], self._directory.lot(holder, link.lot)
        variety = held.variety if held is not None else ""
        named = {one[:2] for one in link.records}
        grown = [fact for fact in summary.plantings if fact.lot == link.lot]
        called = [("plantings", fact.planting, fact.variety) for fact in grown]
        called += [("lots", fact.lot, fact.variety) for fact in summary.lots]
        for table, name, here in called:
            if (table, name) in named and fold(here or variety) != fold(variety or here):
                text = f"{noun(table)} {name} is {here}, and lot {link.lot}"
                told = f"your {text} of {link.call(holder)} is {variety}"
                yield Doubt("origin-differs", f"{link.member}'s {text} of {holder} is {variety}", told)
        yield from self._doubt_certificates(link, holder, grown)

    def _doubt_certificates(self, link: Link, holder: str, grown: list[PlantingFact]) -> Iterator[Doubt]:
        sellers = {holder, *(hop.sender for hop in link.hops)}
        for fact in grown:
            if fact.certificate and not self._is_certificate_of(fact.certificate, sellers):
                text = f"planting {fact.planting} gives certificate {fact.certificate}, which isn't"
                told = f"your {text} the one of whoever the seed came from"
                yield Doubt("origin-differs", f"{link.member}'s {text} {join(sorted(sellers), 'or')}'s", told)

    def _is_certificate_of(self, certificate: str, members: set[str]) -> bool:
        stated = {fold(self._summaries[key].stated.certificate) for key in members}
        return self._directory.find(certificate) in members or fold(certificate) in stated


def _only(found: set[str | None]) -> str | None:
    return next(iter(found)) if len(found) == 1 else None


def _list_records(summary: MemberSummary) -> Mapping[str, dict[tuple[str, str], Record]]:
    """By lot that a member's records name and don't hold the records that do."""
    records: dict[str, dict[tuple[str, str], Record]] = defaultdict(dict)
    for gap in summary.gaps:
        # What left is told of at the buyer; it isn't where the lot comes from.
        if gap.outside and gap.rule in _NAMING:
            records[gap.outside][gap.table, gap.id] = Record(gap.table, gap.id, gap.named)
            for lot in gap.also:
                records[lot][gap.table, gap.id] = Record(gap.table, gap.id, gap.named)
    for planting in summary.plantings:
        if not planting.known:
            at = ("plantings", planting.planting)
            records[planting.lot][at] = Record(*at, planting.supplier)
    for fact in summary.lots:
        for lot in records.keys() & set(fact.outside):
            if _blended_mg(fact, lot):
                records[lot].setdefault(("lots", fact.lot), Record("lots", fact.lot, ""))
    return records


def _day(text: str) -> str:
    return day(date.fromisoformat(text))


def _blended_mg(fact: LotFact, lot: str) -> int:
    """How much seed of another member's lot is in this one, and not only behind its trees."""
    parts = (share for share in fact.shares if share.blended)
    return sum(part.weight_mg for part in parts if lot in {fact.outside[at] for at in part.needs})
