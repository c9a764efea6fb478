"""Lines that run from one member's seed into another's trees, and what that makes of a lot's standing."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from certgen.coop.between.numbers import Directory, qualify
from certgen.coop.between.result import Disagreement
from certgen.rules.wording import join, noun

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from certgen.coop.members.facts import GapFact, Grams, LotFact, MemberSummary, MendFact, PlantingFact


@dataclass(frozen=True, slots=True)
class Origin:
    """A lot that a member's record names and doesn't hold, and the member that holds it, if one does."""

    member: str
    table: str
    record: str
    lot: str
    holder: str | None

    @property
    def where(self) -> str:
        """The record's name in the whole co-op."""
        return qualify(self.member, self.table, self.record)

    @property
    def what(self) -> str:
        """The record as a message names it."""
        return f"{self.member}'s {noun(self.table)} {self.record}"


class Origins:
    """Every lot that is named across members, looked up where it is held.

    A lot is answered for when its holder's records trace every gram of it, through further members too.
    Seed whose line goes round in a circle is answered for by nobody.
    """

    def __init__(self, summaries: Mapping[str, MemberSummary], directory: Directory) -> None:
        self._summaries = summaries
        self._directory = directory
        self._standing: dict[tuple[str, str], Grams] = {}
        self.named = tuple(self._find_named())
        self._holder = {(one.member, one.lot): one.holder for one in self.named if one.holder}

    def _find_named(self) -> Iterator[Origin]:
        for key, summary in self._summaries.items():
            seen = set()
            for gap in summary.gaps:
                if gap.outside:
                    seen.add((gap.table, gap.id))
                    holder = self._find_holder(key, gap.outside, gap.named)
                    yield Origin(key, gap.table, gap.id, gap.outside, holder)
            for planting in summary.plantings:
                if not planting.known and ("plantings", planting.planting) not in seen:
                    holder = self._find_holder(key, planting.lot, planting.supplier)
                    yield Origin(key, "plantings", planting.planting, planting.lot, holder)

    def _find_holder(self, key: str, lot: str, named: str) -> str | None:
        holder = self._directory.find(named) if named else None
        return holder if holder and holder != key and self._directory.lot(holder, lot) else None

    def standing(self, member: str, lot: LotFact) -> Grams:
        """The lot's standing with the other members' records at hand."""
        at = (member, lot.lot)
        if at not in self._standing:
            self._standing[at] = lot.own  # for a line that comes back to itself
            if lot.outside and all(self._is_answered(member, name) for name in lot.outside):
                self._standing[at] = lot.answered
        return self._standing[at]

    def _is_answered(self, member: str, lot: str) -> bool:
        holder = self._holder.get((member, lot))
        fact = self._directory.lot(holder, lot) if holder else None
        return fact is not None and self.standing(str(holder), fact).standing == "traced"

    def answers(self, member: str, gap: GapFact) -> bool:
        """Whether another member's records answer a gap about an unknown lot."""
        return bool(gap.outside) and self._is_answered(member, gap.outside)

    def spares(self, member: str, mend: MendFact) -> bool:
        """Whether other members' records do all that this would mend."""
        return bool(mend.outside) and all(self._is_answered(member, lot) for lot in mend.outside)

    def trail(self, member: str, planting: PlantingFact, most: int = 12) -> tuple[str, ...]:
        """The line back from a planting through other members' lots: `HOLLOW:lots/L1`, nearest first."""
        line: list[str] = []
        at, fact = member, planting
        while len(line) < most:
            holder = at if fact.known else self._holder.get((at, fact.lot))
            lot = self._directory.lot(holder, fact.lot) if holder else None
            if holder is None or lot is None:
                break
            name = qualify(holder, "lots", lot.lot)
            if name in line:
                break
            line.append(name)
            behind = {one.planting: one for one in self._summaries[holder].plantings}
            before = [behind[name] for name in lot.plantings if name in behind]
            if not before:
                break
            at, fact = holder, before[0]
        return tuple(line)

    def compare(self) -> Iterator[Disagreement]:
        """Lots named across members that nobody holds or that aren't traced where they are held."""
        for origin in self.named:
            if origin.holder is None:
                yield from self._compare_unheld(origin)
            elif origin.table == "plantings":
                lot = self._directory.lot(origin.holder, origin.lot)
                standing = self.standing(origin.holder, lot).standing if lot else "unproven"
                if standing != "traced":
                    yield Disagreement(
                        "origin-unproven",
                        (origin.member, origin.holder),
                        (origin.where, qualify(origin.holder, "lots", origin.lot)),
                        f"{origin.what} was grown from lot {origin.lot} of {origin.holder}, and that lot is "
                        f"{standing}.",
                    )

    def _compare_unheld(self, origin: Origin) -> Iterator[Disagreement]:
        """A lot that whoever is named doesn't hold, or that others hold and nobody is named."""
        named = self._named_member(origin)
        if named is not None:
            if self._directory.was_read(named) and origin.table == "plantings":
                yield Disagreement(
                    "origin-unknown",
                    (origin.member, named),
                    (origin.where,),
                    f"{origin.what} names lot {origin.lot} of {named}; {named}'s records have no lot of that "
                    "number.",
                )
            return
        holders = [key for key in self._directory.holders(origin.lot) if key != origin.member]
        if holders:
            yield Disagreement(
                "origin-unnamed",
                (origin.member, *holders),
                (origin.where, *(qualify(key, "lots", origin.lot) for key in holders)),
                f"{origin.what} names lot {origin.lot}, which {join(holders)} "
                f"{'has' if len(holders) == 1 else 'have'}, and doesn't say whom the seed came from.",
            )

    def _named_member(self, origin: Origin) -> str | None:
        summary = self._summaries[origin.member]
        names = [gap.named for gap in summary.gaps if (gap.outside, gap.id) == (origin.lot, origin.record)]
        names = names or [fact.supplier for fact in summary.plantings if fact.planting == origin.record]
        member = self._directory.find(names[0]) if names and names[0] else None
        return member if member != origin.member else None
