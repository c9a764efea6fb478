"""Bought seed, and what its supplier's packet shows of it.

A packet counts where it was made anew and is the same, byte for byte; where a key that is known as its
supplier's signed it; where it is of the day on which the seed left there, or later; and where the lot that it
tells of is traced there and left for here with at least the grams that are drawn on it here. Anything less
shows nothing. What speaks against the seed counts whoever signed it.
"""

from __future__ import annotations

from bisect import bisect_right
from datetime import date
from itertools import accumulate
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np

from certgen.lineage import Node
from certgen.lineage.custody import fold
from certgen.lineage.standing import Supply
from certgen.records.joining.placeholders import says_nothing
from certgen.records.quantities import format_mass
from certgen.records.supplied import DEEPEST, fingerprint_of
from certgen.rules.wording import count, day, join

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from certgen.records.columns import Array
    from certgen.records.supplied import Party, Signer, SuppliedPacket
    from certgen.rules.case import Case

#: What keeps a packet from showing anything; each is told by the rule of its name.
Fault = Literal[
    "packet-unsound", "packet-circular", "packet-of-another", "packet-signer-unknown", "packet-outdated",
    "packet-lot-differs", "packet-lot-untraced", "packet-grams-exceeded",
]  # fmt: skip


class KnownSigner(NamedTuple):
    """A key that the operation states to be a party's: who told it, and when."""

    party: str
    fingerprint: str
    told_by: str
    date: date


class Purchase(NamedTuple):
    """Seed that a record says was bought: a part of a lot (`position` among its sources), or a planting's.

    `on` is the day on which it was here; `weight_mg` is None for a planting, which names none. `file` is the
    packet that it names, empty if none.
    """

    table: str
    id: str
    row: int
    position: int
    supplier: str
    certificate: str
    lot: str
    file: str
    variety: str
    status: str
    on: date
    weight_mg: int | None

    @property
    def steps(self) -> tuple[str | int, ...]:
        """The steps to where the packet is named."""
        return ("sources", self.position, "packet") if self.table == "lots" else ("origin", "packet")


class Judged(NamedTuple):
    """A purchase checked against its packet: what keeps it from being shown, in words, or who vouches for it.

    Without a fault and with a packet the seed is shown by it, and `signer` is the known key that signed it.
    """

    purchase: Purchase
    packet: SuppliedPacket | None = None
    fault: Fault | None = None
    says: str = ""
    signer: KnownSigner | None = None

    @property
    def shown(self) -> bool:
        """Whether the packet leads this seed back to its parents."""
        return self.packet is not None and self.fault is None


def list_signers(case: Case) -> tuple[KnownSigner, ...]:
    """The keys that this operation states to be somebody's, of all its seasons; without a name behind one it
    is nobody's word."""
    own = case.season.details.operation
    found = []
    mine = [one.details for one in case.season.stretches if own.is_same(one.details.operation)]
    for details in mine:
        for one in details.raw.get("known_signers", ()):
            told = date.fromisoformat(one["date"])
            if told <= case.on and not says_nothing(one["told_by"]) and not says_nothing(one["party"]):
                found.append(KnownSigner(one["party"], fingerprint_of(one["key"]), one["told_by"], told))
    return tuple(dict.fromkeys(found))


def list_purchases(case: Case) -> Iterator[Purchase]:
    """Every part of a lot that has a supplier or names a packet, and every planting that names one."""
    lots, packed, plantings = case.columns("lots"), case.joined("packed"), case.joined("plantings")
    bought = packed.known("supplier") | packed.known("packet")
    # Seed out of a run or a lot here wasn't bought: of what is called both a rule of its own tells.
    mixed = packed.known("batch") | packed.known("source_lot")
    words = ("supplier", "certificate", "supplier_lot", "packet")
    for part, row, lot, position, on, weight, *told in packed.rows(
        "lot_row", "lot", "position", "packed", "weight_mg", *words, where=bought
    ):
        if mixed[part]:
            told[-1] = None
        told += [lots["variety"][row], lots["status"][row]]
        yield Purchase("lots", lot, row, position, *_six(*told), on or date.min, weight or 0)
    fields = (*(f"origin.{word}" for word in words), "variety", "material_status")
    for row, planting, planted, *told in plantings.rows(
        "planting", "planted", *fields, where=plantings.known("origin.packet")
    ):
        yield Purchase("plantings", planting, row, 0, *_six(*told), planted or date.min, None)


def _six(*words: str | None) -> tuple[str, str, str, str, str, str]:
    """Supplier, certificate, lot, file, variety and status, empty where one is absent."""
    supplier, certificate, lot, file, variety, status = (word or "" for word in words)
    return supplier, certificate, lot, file, variety, status


def judge_purchases(case: Case) -> tuple[Judged, ...]:
    """Each purchase with what its packet shows, in the order of the records, lots first."""
    purchases = tuple(list_purchases(case))
    if not any(one.file for one in purchases):
        return tuple(Judged(one) for one in purchases)
    return _Judging(case, purchases).judge()


def supplied_parts(purchases: Sequence[Judged]) -> dict[str, list[Supply]]:
    """By lot the parts of it that packets show."""
    found: dict[str, list[Supply]] = {}
    for one in purchases:
        bought = one.purchase
        if one.shown and bought.weight_mg:
            source = Node("packets", f"{bought.file}, lot {bought.lot}")
            found.setdefault(bought.id, []).append(Supply(source, bought.weight_mg))
    return found


def shown_by_packet(case: Case) -> Array:
    """For each part of each lot whether its supplier's packet leads it back to its parents."""
    shown = {(one.purchase.row, one.purchase.position) for one in _shown(case, "lots")}
    parts = case.joined("packed")
    if not shown:
        return np.zeros(len(parts), dtype=bool)
    places = zip(parts["lot_row"].tolist(), parts["position"].tolist(), strict=True)
    return np.array([place in shown for place in places], dtype=bool)


def shown_plantings(case: Case) -> set[int]:
    """The rows of plantings of which a supplier's packet shows where they came from."""
    return {one.purchase.row for one in _shown(case, "plantings")}


def _shown(case: Case, table: str) -> list[Judged]:
    return [one for one in case.purchases if one.shown and one.purchase.table == table]


Objection = tuple[Fault, str]


class _Sums:
    """Masses by their days, added up to any day."""

    def __init__(self, masses: Sequence[tuple[date, int]]) -> None:
        ordered = sorted(masses)
        self.days = [when for when, _ in ordered]
        self.sums = list(accumulate((mass for _, mass in ordered), initial=0))

    @property
    def whole(self) -> int:
        return self.sums[-1]

    def until(self, day: date) -> int:
        return self.sums[bisect_right(self.days, day)]


class _Judging:
    def __init__(self, case: Case, purchases: Sequence[Purchase]) -> None:
        self.case = case
        self.purchases = purchases
        own = case.season.details.operation
        #: What this operation was called in its seasons, this one and those before.
        self.called = {
            fold(stretch.details.operation.name)
            for stretch in case.season.stretches
            if own.is_same(stretch.details.operation)
        }
        self.certificate = fold(own.certificate)
        self.there = set(case.season.evidence_files) - set(case.season.empty_evidence)
        #: By fingerprint whose key it is said to be, and the statement.
        self.parties: dict[str, set[str]] = {}
        self.stated: dict[str, KnownSigner] = {}
        for known in list_signers(case):
            self.parties.setdefault(known.fingerprint, set()).add(known.party)
            self.stated.setdefault(known.fingerprint, known)
        #: By packet and lot what left for here.
        self.left: dict[str, dict[str, _Sums]] = {}
        self.drawn = self._draw()

    def judge(self) -> tuple[Judged, ...]:
        return tuple(self._judge(one) for one in self.purchases)

    def _judge(self, one: Purchase) -> Judged:
        if one.file not in self.there:
            # That a file isn't there is told where it is named.
            return Judged(one)
        packet = self.case.supplied.packets.get(one.file)
        if packet is None:
            return Judged(one, None, "packet-unsound", "nobody has verified it here")
        for objections in (self._about_file, self._about_operation, self._about_lot, self._about_signers,
                           self._about_replacement, self._about_seed, self._about_grams):  # fmt: skip
            for fault, says in objections(one, packet):
                return Judged(one, packet, fault, says)
        return Judged(one, packet, signer=self._known_signer(packet))

    # What the packet is

    def _about_file(self, _: Purchase, packet: SuppliedPacket) -> Iterator[Objection]:
        if packet.faults:
            more = len(packet.faults) - 1
            yield "packet-unsound", packet.faults[0] + (f" (and {count(more, 'fault')} more)" if more else "")
        if self._is_own(packet.operation):
            yield "packet-circular", "it is this operation's own packet"
        if any(self._is_own(party) for party in packet.behind):
            yield "packet-circular", "it rests on a packet of this operation itself"
        if packet.depth > DEEPEST:
            yield (
                "packet-circular",
                f"it is the end of a chain of more than {DEEPEST} packets, which nobody follows",
            )

    def _is_own(self, party: Party) -> bool:
        """Whether a party bears this operation's name or certificate."""
        return fold(party.name) in self.called or (
            bool(self.certificate) and fold(party.certificate) == self.certificate
        )

    def _about_operation(self, one: Purchase, packet: SuppliedPacket) -> Iterator[Objection]:
        theirs = packet.operation
        if fold(one.supplier) != fold(theirs.name):
            whose = one.supplier or "nobody, by the record"
            yield "packet-of-another", f"it is a packet of {theirs.name}, and the seed is of {whose}"
        elif one.certificate and theirs.certificate and fold(one.certificate) != fold(theirs.certificate):
            yield (
                "packet-of-another",
                f"it bears the certificate {theirs.certificate}, and the record names {one.certificate}",
            )
        crop = self.case.season.details.crop
        if packet.crop != crop:
            yield "packet-of-another", f"it is about {packet.crop or 'no crop'}, and this season about {crop}"

    def _about_lot(self, one: Purchase, packet: SuppliedPacket) -> Iterator[Objection]:
        lot = packet.lots.get(one.lot)
        if not one.lot:
            yield "packet-lot-differs", "the record doesn't say which of its lots the seed is of"
        elif lot is None:
            yield "packet-lot-differs", f"it tells of no lot {one.lot}"
        elif lot.standing == "rejected":
            yield "packet-lot-untraced", f"lot {one.lot} is rejected in it"

    # Who says so, and when

    def _about_signers(self, _: Purchase, packet: SuppliedPacket) -> Iterator[Objection]:
        holding = [signer for signer in packet.signers if signer.holds]
        if not holding:
            yield "packet-signer-unknown", "nobody has signed it"
        own = [signer for signer in holding if self._is_own_key(signer)]
        if own:
            key = fingerprint_of(own[0].key)
            yield "packet-circular", f"it was signed with this operation's own key {key}"
        if self._known_signer(packet) is None:
            whose = packet.operation.name
            shown = fingerprint_of(holding[0].key)
            claims = f", which calls itself {holding[0].name}" if holding[0].name else ""
            parties = sorted(self.parties.get(shown, ()))
            known = f" but as that of {join(parties)}" if parties else ""
            says = f"it was signed with the key {shown}{claims}, and `known_signers` doesn't name that as"
            yield "packet-signer-unknown", f"{says} the key of {whose}{known}"

    def _is_own_key(self, signer: Signer) -> bool:
        """Whether a key is this operation's, by its own statement or by the name that it bears."""
        key = fingerprint_of(signer.key)
        return bool(self._parties(key) & self.called) or fold(signer.name) in self.called

    def _known_signer(self, packet: SuppliedPacket) -> KnownSigner | None:
        """Whose key signed it, where the season states that key to be the packet's operation's, and no
        other's."""
        for signer in packet.signers:
            key = fingerprint_of(signer.key)
            if signer.holds and self._parties(key) == {fold(packet.operation.name)}:
                return self.stated[key]
        return None

    def _parties(self, key: str) -> set[str]:
        return {fold(party) for party in self.parties.get(key, ())}

    def _about_replacement(self, _: Purchase, packet: SuppliedPacket) -> Iterator[Objection]:
        other = self.case.supplied.replaced.get(packet.fingerprint)
        if other is not None and packet.fingerprint:
            yield "packet-outdated", f"{other} replaces it"
        if packet.on is None or packet.on > self.case.on:
            yield "packet-outdated", "its own day is still to come"

    # What the seed is, and how much of it there was

    def _about_seed(self, one: Purchase, packet: SuppliedPacket) -> Iterator[Objection]:
        lot = packet.lots[one.lot]
        if fold(lot.variety) != fold(one.variety):
            yield (
                "packet-lot-differs",
                f"lot {one.lot} is {lot.variety or 'of no variety'} in it, and {one.variety} here",
            )
        elif lot.status != "organic" and one.status in {"organic", ""}:
            yield (
                "packet-lot-differs",
                f"lot {one.lot} is {lot.status or 'without a status'} in it, and organic here",
            )
        elif lot.standing != "traced":
            yield "packet-lot-untraced", f"lot {one.lot} is {lot.standing} in it"

    def _about_grams(self, one: Purchase, packet: SuppliedPacket) -> Iterator[Objection]:
        left = self._left(one, packet)
        if packet.on is not None and packet.on < one.on and not left.days:
            says = f"it is of {day(packet.on)} and tells of nothing that left for here"
            yield "packet-outdated", f"{says}; the seed was here on {day(one.on)}"
        there = packet.lots[one.lot].traced_mg
        by_now, whole = left.until(one.on), left.whole
        drawn, drawn_by_now = self._drawn_of(one)
        if by_now <= 0:
            yield (
                "packet-grams-exceeded",
                f"it shows nothing of lot {one.lot} that left for here by {day(one.on)}",
            )
        elif drawn_by_now > by_now or drawn > min(whole, there):
            early = drawn_by_now > by_now
            most, drawn = (by_now, drawn_by_now) if early else (min(whole, there), drawn)
            says = f"{format_mass(drawn)} are drawn on lot {one.lot} here, and it shows {format_mass(most)}"
            yield "packet-grams-exceeded", f"{says} of it that left for here"

    def _left(self, one: Purchase, packet: SuppliedPacket) -> _Sums:
        """What of the lot left the supplier for this operation by the day of the packet."""
        if one.file not in self.left:
            found: dict[str, list[tuple[date, int]]] = {}
            for gone in packet.dispatches:
                if fold(gone.party) in self.called and packet.on is not None and gone.date <= packet.on:
                    found.setdefault(gone.lot, []).append((gone.date, gone.weight_mg))
            self.left[one.file] = {lot: _Sums(masses) for lot, masses in found.items()}
        return self.left[one.file].get(one.lot) or _Sums([])

    def _draw(self) -> dict[tuple[str, str], _Sums]:
        """What is drawn on each supplier's lot here, by the supplier's name, certificate and keys."""
        found: dict[tuple[str, str], list[tuple[date, int]]] = {}
        for one in self.purchases:
            if one.weight_mg is not None and one.lot:
                for whose in self._names(one):
                    found.setdefault((whose, fold(one.lot)), []).append((one.on, one.weight_mg))
        return {key: _Sums(masses) for key, masses in found.items()}

    def _drawn_of(self, one: Purchase) -> tuple[int, int]:
        """The grams that all lots here draw on a purchase's lot there: in all, and by its day."""
        drawn = [self.drawn.get((whose, fold(one.lot))) or _Sums([]) for whose in self._names(one)]
        whole = max((sums.whole for sums in drawn), default=0)
        return whole, max((sums.until(one.on) for sums in drawn), default=0)

    def _names(self, one: Purchase) -> set[str]:
        """Whatever tells whose seed it is: two names of one supplier are no two suppliers."""
        packet = self.case.supplied.packets.get(one.file)
        names = {fold(one.supplier), f"certificate {fold(one.certificate)}"}
        if packet is not None:
            names |= {fold(packet.operation.name), f"certificate {fold(packet.operation.certificate)}"}
            names |= {f"key {signer.key}" for signer in packet.signers}
        return names - {"", "certificate "}
