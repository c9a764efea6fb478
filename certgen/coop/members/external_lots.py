"""Lots that a season names without holding them: another member's, as like as not."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from certgen.coop.members.facts import Grams, ShareFact
from certgen.dossier.notices import SUSPECT
from certgen.lineage.standing import apportion
from certgen.rules.runner import judge_gaps

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.examination import Result
    from certgen.lineage.standing import Atom, LotGrams
    from certgen.rules import Gap

#: Fields in which a record can name a lot that another member holds, and the field that names the member.
_OUTSIDE: Final = {
    "plantings": ("origin.lot", "origin.supplier"),
    "movements": ("lot", "party"),
    "lots": ("", ""),
}
#: The rule that tells of seed in a lot that was bought and that nothing here leads back.
_BOUGHT: Final = "bought-seed-unproven"
_WORDS: Final = ("traced", "unproven", "rejected", "unaccounted")
_RANKS: Final = {word: at for at, word in enumerate(("traced", "unaccounted", "unproven", "rejected"))}


class Named(NamedTuple):
    """A lot that a record names, and the party or supplier beside it (empty: none)."""

    lot: str
    party: str


class ExternalLots:
    """Lots that the season names and doesn't hold, the gaps that say so, and who is named beside them.

    What those gaps make of each lot's grams is told by which of those lots it hangs on.
    """

    def __init__(self, result: Result) -> None:
        self.result = result
        #: By lot and supplier the parts that were bought and that no packet shows.
        self._bought: dict[tuple[str, str], list[tuple[str, int]]] = {}
        for one in result.case.purchases:
            bought = one.purchase
            if bought.table == "lots" and bought.supplier and not one.shown and one.fault is None:
                part = (bought.lot, bought.weight_mg or 0)
                self._bought.setdefault((bought.id, bought.supplier), []).append(part)
        #: The gap's position -> what it hangs on, all of it.
        self.gaps: dict[int, tuple[Named, ...]] = {}
        for position, gap in enumerate(result.gaps):
            if named := self._find(gap):
                self.gaps[position] = named
        self._shares: dict[str, tuple[ShareFact, ...]] = {}
        self._direct = frozenset(self.gaps)
        self._planted = set(result.season.table("plantings")["origin.lot"].dropna())
        self._add_departures()

    def _find(self, gap: Gap) -> tuple[Named, ...]:
        if gap.rule == _BOUGHT:
            return self._find_bought(gap)
        if gap.rule != "reference-unknown" or gap.table not in _OUTSIDE or not gap.field:
            return ()
        named = self._find_unknown(gap)
        return () if named is None else (named,)

    def _find_bought(self, gap: Gap) -> tuple[Named, ...]:
        """The supplier's lots behind a gap about bought seed; none where one of them has no number."""
        row = self.result.season.row("lots", gap.id)
        if row is None or len(gap.field) < 2:
            return ()
        sources: Any = self.result.season.table("lots")["sources"].iat[row]
        supplier = sources[int(gap.field[1])].get("supplier", "")
        parts = self._bought.get((gap.id, supplier), [])
        if not parts or not all(lot for lot, _ in parts):
            return ()
        return tuple(dict.fromkeys(Named(lot, supplier) for lot, _ in parts))

    def _find_unknown(self, gap: Gap) -> Named | None:
        """The lot that a gap says is unknown, and the party or supplier that the record names."""
        row = self.result.season.row(gap.table, gap.id)
        if row is None:
            return None
        frame = self.result.season.table(gap.table)
        if gap.table == "lots":
            position = gap.field[1] if len(gap.field) > 1 else -1
            sources: Any = frame["sources"].iat[row]
            if not isinstance(position, int) or position >= len(sources) or gap.field[-1] != "lot":
                return None
            lot = sources[position].get("lot")
            return Named(str(lot), "") if lot else None
        column, named = _OUTSIDE[gap.table]
        if gap.field[0] != column:
            return None
        lot, party = frame[column].iat[row], frame[named].iat[row]
        return Named(str(lot), party if isinstance(party, str) else "")

    def _add_departures(self) -> None:
        """Seed that left is not suspect where every lot that it hangs on is traced at the other members."""
        if not self.gaps:
            return
        for position, gap in enumerate(self.result.gaps):
            if gap.rule == SUSPECT and gap.lots:
                behind = self.named_behind(gap.lots[0])
                if behind and self.answered(gap.lots[0]).standing == "traced":
                    self.gaps[position] = behind

    def named_behind(self, lot: str) -> tuple[Named, ...]:
        """What this lot's claim rests on at other members, as the gaps that reach it say, each lot once."""
        gaps = self.result.gaps
        found: dict[str, Named] = {}
        for position in sorted(self._direct):
            if lot in gaps[position].lots:
                for named in self.gaps[position]:
                    if not found.get(named.lot, Named("", "")).party:
                        found[named.lot] = named
        return tuple(found.values())

    def lots_behind(self, lot: str) -> tuple[str, ...]:
        """The other members' lots that this lot's claim rests on."""
        return tuple(one.lot for one in self.named_behind(lot))

    @cached_property
    def _standings(self) -> Any:
        return judge_gaps(self.result.case, self.result.gaps)

    def answered(self, lot: str) -> Grams:
        """What the lot would be if each of those lots were traced and led to."""
        grams: LotGrams | None = self._standings.lots.get(lot)
        if grams is None:
            return Grams(unproven_mg=0, unsettled=1)
        masses = dict.fromkeys(_WORDS, 0)
        for share in self.shares(lot):
            masses[share.answered] += share.weight_mg
        for weight, faults in grams.movements:
            effect = self._standings.effect(faults, "traced", self._mended)
            taken = min(weight, masses["traced"]) if effect != "traced" else 0
            masses["traced"] -= taken
            masses[effect] += taken
        found = Grams(*(masses[word] for word in _WORDS))
        left = grams.whole - self._mended
        return found._replace(unsettled=int(bool(left) and found.standing == "traced"))

    @property
    def _mended(self) -> frozenset[int]:
        return frozenset(self.gaps)

    def shares(self, lot: str) -> tuple[ShareFact, ...]:
        """The lot's grams by the other members' lots that they hang on."""
        if lot not in self._shares:
            # A lot that is blended into itself has nothing to hand on.
            self._shares[lot] = ()
            self._shares[lot] = self._share_out(lot)
        return self._shares[lot]

    def _share_out(self, lot: str) -> tuple[ShareFact, ...]:
        grams: LotGrams | None = self._standings.lots.get(lot)
        if grams is None:
            return ()
        behind = self.lots_behind(lot)
        found: dict[tuple[str, str, tuple[int, ...], bool], int] = {}
        for atom in grams.atoms:
            for weight, answered, needs in self._divide(lot, grams, atom):
                own = self._standings.effect(atom.faults, atom.floor, ())
                at = tuple(sorted(behind.index(name) for name in needs if name in behind))
                key = (own, answered, at, not any(name in self._planted for name in needs))
                found[key] = found.get(key, 0) + weight
        return tuple(ShareFact(weight, *key) for key, weight in found.items() if weight)

    def _divide(self, lot: str, grams: LotGrams, atom: Atom) -> Iterator[tuple[int, str, set[str]]]:
        """An atom by what it hangs on: its milligrams, what they are when that is answered, the lots.

        A gap about another member's lot reaches every gram of the lot that it went into; here each part
        hangs on its own source alone.
        """
        needs = self._needs(atom)
        floor = "traced" if self._is_floor_of_others(grams, atom) else atom.floor
        answered = self._standings.effect(atom.faults, floor, self._mended)
        source = grams.sources[atom.part]
        blended = self._held_elsewhere(grams)
        if source is not None and source.id in blended:
            yield atom.weight_mg, answered, needs - blended | {source.id}
        elif source is not None and source.table == "lots" and needs:
            yield from self._divide_blend(source.id, atom.weight_mg, answered, needs - blended)
        elif source is None and needs:
            yield from self._divide_bought(lot, atom, floor, needs - blended)
        else:
            yield atom.weight_mg, answered, needs - blended

    def _needs(self, atom: Atom) -> set[str]:
        return {named.lot for fault in atom.faults & self._direct for named in self.gaps[fault]}

    def _held_elsewhere(self, grams: LotGrams) -> set[str]:
        lots = {node.id for node in grams.sources if node is not None and node.table == "lots"}
        return lots.difference(self._standings.lots)

    def _divide_blend(
        self, lot: str, weight: int, answered: str, needs: set[str]
    ) -> Iterator[tuple[int, str, set[str]]]:
        """Grams out of an own lot, as that lot divides."""
        parts, names = self.shares(lot), self.lots_behind(lot)
        if not parts:
            yield weight, answered, needs
            return
        for mass, part in zip(apportion(weight, [one.weight_mg for one in parts]), parts, strict=True):
            word = max(answered, part.answered, key=_RANKS.__getitem__)
            yield mass, word, {names[at] for at in part.needs} | (needs - set(names))

    def _divide_bought(
        self, lot: str, atom: Atom, floor: str, needs: set[str]
    ) -> Iterator[tuple[int, str, set[str]]]:
        """Bought seed of several suppliers stands in a lot as one rest: their weights divide it."""
        parts = [part for (of, _), bought in self._bought.items() if of == lot for part in bought]
        if len(parts) < 2:
            yield atom.weight_mg, self._standings.effect(atom.faults, floor, self._mended), needs
            return
        bought = {at for at in atom.faults if self.result.gaps[at].rule == _BOUGHT}
        alone = self._standings.effect(atom.faults, floor, self._mended | bought)
        outside = {named.lot for at in bought & self._direct for named in self.gaps[at]}
        for mass, (name, _) in zip(apportion(atom.weight_mg, [m for _, m in parts]), parts, strict=True):
            if name in outside:
                yield mass, alone, {name} | (needs - outside)
            else:
                yield mass, max(alone, "unproven", key=_RANKS.__getitem__), needs - outside

    def _is_floor_of_others(self, grams: LotGrams, atom: Atom, deep: int = 0) -> bool:
        """Whether grams are unproven for no more than that the lot they came from is another member's."""
        source = grams.sources[atom.part]
        if atom.floor != "unproven" or atom.stage or source is None or source.table != "lots":
            return False
        own: LotGrams | None = self._standings.lots.get(source.id)
        if own is None:
            return source.id in self._needs(atom)
        behind = [one for one in own.atoms if one.floor == "unproven"]
        return deep < 50 and all(self._is_floor_of_others(own, one, deep + 1) for one in behind)
