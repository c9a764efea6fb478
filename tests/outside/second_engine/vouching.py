"""Suppliers' packets: which bought parts and plantings one vouches for, and which it accuses.

Making a packet anew is no matter of records. So the file holds the answer of that in JSON: what the packet
shows, or why it shows nothing. Whether it leads seed here back to its parents is worked out here.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any

from second_engine.reading import same_operation
from second_engine.values import day, milligrams, plain, silent

if TYPE_CHECKING:
    from second_engine.facts import Writer
    from second_engine.farm import Farm, Thing

_DEEPEST = 5


@dataclass
class Bought:
    """A part of a lot, or a planting, that somebody else's seed went into."""

    number: int
    thing: Thing
    told: dict[str, Any]
    when: int
    status: str
    #: Milligrams; None for a planting.
    mg: int | None
    answer: dict[str, Any] | None

    @property
    def lot(self) -> str:
        """The lot at the supplier."""
        return str(self.told.get("supplier_lot", ""))


class Vouching:
    """Adds the facts about packets."""

    def __init__(self, farm: Farm, writer: Writer, on: int) -> None:
        self.farm, self.writer, self.on = farm, writer, on
        mine = [one for one in farm.seasons if same_operation(one, farm.seasons[0])]
        self.called = {_party(one.details["operation"]["name"]) for one in mine}
        self.certificate = plain(mine[0].details["operation"].get("certificate", ""))
        #: By the fingerprint of a key, the parties it is said to be of.
        self.keys: dict[str, set[str]] = {}
        for one in (signer for season in mine for signer in season.details.get("known_signers", ())):
            if not silent(one["told_by"]) and not silent(one["party"]) and day(one["date"]) <= on:
                self.keys.setdefault(_fingerprint(one["key"]), set()).add(_party(one["party"]))
        self.bought: list[Bought] = []

    def write(self) -> None:
        """All of it."""
        for lot, part, source in self.writer.parts:
            if "supplier" in source:
                self._add(part, lot, source, lot.day("packed"), milligrams(source["weight"]))
        for thing in self.farm.things:
            origin = thing.fields.get("origin", {}) if thing.table == "plantings" else {}
            if "packet" in origin:
                self._add(thing.id, thing, origin, thing.day("planted"), None)
        for one in self.bought:
            if one.answer is None:
                continue
            word = self._word(one)
            self.writer.facts.add(word, one.number)
            if word == "vouched":
                self.writer.vouched.add(one.number)

    def _add(self, number: int, thing: Thing, told: dict[str, Any], when: int | None, mg: int | None) -> None:
        season = self.farm.seasons[thing.season]
        answer = None
        mixed = mg is not None and ("batch" in told or "lot" in told)
        if "packet" in told and not mixed and season.holds(told["packet"]):
            answer = _read(season.evidence(told["packet"]))
        status = thing.fields.get("status" if mg is not None else "material_status", "")
        self.bought.append(Bought(number, thing, told, when or 0, status, mg, answer))

    def _word(self, one: Bought) -> str:
        """`vouched`, `accused` (its own supplier's records speak against it), or `doubted`."""
        answer = one.answer or {}
        supplier = _party(answer.get("operation", {}).get("name", ""))
        ok = not answer.get("faults") and self._is_of(one, answer, supplier)
        lot = answer.get("lots", {}).get(one.lot) if ok else None
        if lot is None:
            return "doubted"
        if lot["standing"] == "rejected":
            return "accused"
        if not self._signed(answer, supplier) or not self._of_now(answer):
            return "doubted"
        other = plain(lot["variety"]) != plain(one.thing.fields["variety"])
        if other or (lot["status"] != "organic" and one.status == "organic"):
            return "accused"
        return "vouched" if lot["standing"] == "traced" and self._enough(one, answer, lot) else "doubted"

    def _is_of(self, one: Bought, answer: dict[str, Any], supplier: str) -> bool:
        """Whether the packet is the named supplier's, of this crop, and doesn't rest on us."""
        theirs = answer["operation"].get("certificate", "")
        named = one.told.get("certificate", "")
        ours = [answer["operation"], *answer.get("behind", ())]
        return (
            not any(self._is_ours(party) for party in ours)
            and answer.get("depth", 1) <= _DEEPEST
            and _party(one.told.get("supplier", "")) == supplier
            and (not named or not theirs or _party(named) == _party(theirs))
            and answer.get("crop") == self.farm.seasons[0].details["crop"]
        )

    def _is_ours(self, party: dict[str, str]) -> bool:
        certificate = plain(party.get("certificate", ""))
        return _party(party["name"]) in self.called or (bool(certificate) and certificate == self.certificate)

    def _signed(self, answer: dict[str, Any], supplier: str) -> bool:
        held = [one for one in answer.get("signers", ()) if one.get("holds")]
        keys = {_fingerprint(one["key"]) for one in held}
        own = any(_party(one.get("name", "")) in self.called for one in held)
        own = own or any(self.keys.get(key, set()) & self.called for key in keys)
        return not own and any(self.keys.get(key) == {supplier} for key in keys)

    def _of_now(self, answer: dict[str, Any]) -> bool:
        """Whether it is of a day that has been, and no other file says that it replaces it."""
        if not answer.get("on") or day(answer["on"]) > self.on:
            return False
        for season in self.farm.seasons:
            for path in (season.folder / "evidence").rglob("*.pdf"):
                other = _read(path)
                if other and other.get("replaces") and other["replaces"] == answer.get("fingerprint"):
                    return False
        return True

    def _enough(self, one: Bought, answer: dict[str, Any], lot: dict[str, Any]) -> bool:
        """Whether at least as much of the lot left for here as all the lots here draw on it."""
        gone = [
            (day(sent["date"]), sent["weight_mg"])
            for sent in answer.get("dispatches", ())
            if sent["lot"] == one.lot
            and _party(sent["party"]) in self.called
            and day(sent["date"]) <= day(answer["on"])
        ]
        drawn = [
            (other.when, other.mg)
            for other in self.bought
            if other.mg is not None and _party(other.lot) == _party(one.lot) and _akin(one, other)
        ]
        by_now = sum(mg for when, mg in gone if when <= one.when)
        return (
            by_now > 0
            and sum(mg for when, mg in drawn if when <= one.when) <= by_now
            and sum(mg for _, mg in drawn) <= min(sum(mg for _, mg in gone), lot["traced_mg"])
        )


def _akin(one: Bought, other: Bought) -> bool:
    """Whether two purchases are of one supplier: by a name, a certificate or a key."""
    return bool(_marks(one) & _marks(other))


def _marks(one: Bought) -> set[tuple[str, str]]:
    answer = one.answer or {}
    who = answer.get("operation", {})
    names = {one.told.get("supplier", ""), who.get("name", "")}
    papers = {one.told.get("certificate", ""), who.get("certificate", "")}
    keys = {signer["key"] for signer in answer.get("signers", ())}
    told = [("name", names), ("paper", papers), ("key", keys)]
    return {(kind, _party(text)) for kind, texts in told for text in texts if _party(text)}


def _party(text: str) -> str:
    return plain(text).rstrip(".")


def _fingerprint(key: str) -> str:
    """The first 32 digits of a key's digest, which are its fingerprint."""
    return key.replace(" ", "").lower()[:32]


def _read(path: Any) -> dict[str, Any] | None:
    """What the verification answered, or an answer that shows nothing."""
    try:
        answer = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {"faults": ["no packet"]}
    if answer.get("on"):
        date.fromisoformat(answer["on"])
    return dict(answer)
