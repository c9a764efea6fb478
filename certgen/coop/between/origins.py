"""Lines that run from one member's seed into another's lots and trees, and what that makes of the grams.

A lot packed from another member's lot takes each part as that member's records leave it, gram by gram. Trees
grown from another member's seed are led back only where every gram of that lot is traced.
"""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, Final, NamedTuple

from certgen.coop.between.disagreements import Disagreement, Told
from certgen.coop.between.links import Doubt, Link, Links
from certgen.coop.between.numbers import qualify
from certgen.coop.members.facts import Grams, ShareFact
from certgen.dossier.notices import SUSPECT
from certgen.lineage.standing import apportion
from certgen.rules.wording import capital, join

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from certgen.coop.between.disagreements import Reach
    from certgen.coop.between.numbers import Directory
    from certgen.coop.between.stops import Stops
    from certgen.coop.between.transfers import Transfer
    from certgen.coop.members.facts import GapFact, LotFact, MemberSummary, MendFact, PlantingFact

_WORDS: Final = ("traced", "unproven", "rejected", "unaccounted")
_RANKS: Final = {word: rank for rank, word in enumerate(("traced", "unaccounted", "unproven", "rejected"))}
#: Lots that stand on one another, at members, one after the other; a longer line is followed by nobody.
_DEEPEST: Final = 150
#: What is missing at a supplying member, told by kind in another's letter.
_TOLD: Final = 3


class Parents(NamedTuple):
    """A lot's seed parents through every member's records: how many, how many of them cleared, and the grams
    of which no member's records name any."""

    all: int
    cleared: int
    unknown_mg: int


class Origins:
    """Every lot that is named across members, looked up where it is held.

    A lot is answered for when its holder's records trace every gram of it, through further members too, and
    nothing speaks against the way that it came. What goes round in a circle is answered for by nobody.
    """

    def __init__(
        self,
        summaries: Mapping[str, MemberSummary],
        directory: Directory,
        transfers: Sequence[Transfer] = (),
        stops: Stops | None = None,
        reach: Sequence[Reach] = (),
    ) -> None:
        self._summaries = summaries
        self._directory = directory
        self.links = Links(summaries, directory, transfers, stops)
        #: Lots left unproven as a whole, and grams that left.
        self._doubted: set[tuple[str, str]] = set()
        self._left: dict[tuple[str, str], int] = defaultdict(int)
        for one in reach:
            if one.weight_mg is None:
                self._doubted.add((one.member, one.lot))
            else:
                self._left[one.member, one.lot] += one.weight_mg
        self._standing: dict[tuple[str, str], Grams] = {}
        self._parents: dict[tuple[str, str], tuple[set[str], set[str], int]] = {}

    # What grams are worth

    def standing(self, member: str, lot: LotFact) -> Grams:
        """The lot's standing with the other members' records at hand, and with all that speaks against it."""
        grams = self._judge(member, lot)
        taken = min(self._left.get((member, lot.lot), 0), grams.traced_mg)
        return grams._replace(traced_mg=grams.traced_mg - taken, unproven_mg=grams.unproven_mg + taken)

    def _judge(self, member: str, lot: LotFact, deep: int = 0) -> Grams:
        """The same, without what is said of single grams that left: for others stand on what they had."""
        at = (member, lot.lot)
        if at not in self._standing:
            self._standing[at] = lot.own  # for a line that comes back to itself
            grams = self._divide(member, lot, deep) if lot.outside and deep < _DEEPEST else lot.own
            if self._doubted & {at, (member, "")}:
                grams = grams._replace(traced_mg=0, unproven_mg=grams.unproven_mg + grams.traced_mg)
            self._standing[at] = grams
        return self._standing[at]

    def _divide(self, member: str, lot: LotFact, deep: int) -> Grams:
        supplies = [self._supply(member, name, deep + 1) for name in lot.outside]
        if all(one.standing == "traced" for one in supplies):
            return lot.answered
        masses = dict.fromkeys(_WORDS, 0)
        for share in lot.shares or _whole(lot):
            for word, mass in _split(share, [supplies[at] for at in share.needs]):
                masses[word] += mass
        # Movements of the member's own that lack something took grams out of the traced ones.
        shown = sum(share.weight_mg for share in lot.shares or _whole(lot) if share.own == "traced")
        moved = min(masses["traced"], max(0, shown - lot.own.traced_mg))
        masses["traced"] -= moved
        masses["unproven"] += moved
        return Grams(*(masses[word] for word in _WORDS))._replace(unsettled=lot.own.unsettled)

    def _supply(self, member: str, lot: str, deep: int = 0) -> Grams:
        """What seed of another member's lot is worth where it arrived: nothing where nobody leads it back."""
        link = self.links.find(member, lot)
        fact = self._directory.lot(link.holder, lot) if link is not None and link.holder else None
        if link is None or fact is None or link.holder is None:
            return _NOTHING
        grams = self._judge(link.holder, fact, deep)
        grams = grams._replace(unaccounted_mg=0, unproven_mg=grams.unproven_mg + grams.unaccounted_mg)
        if link.doubts or grams.unsettled or not grams.whole_mg:
            return Grams(0, max(1, grams.whole_mg - grams.rejected_mg), grams.rejected_mg)
        return grams

    def _is_answered(self, member: str, lot: str) -> bool:
        return self._supply(member, lot).standing == "traced"

    def held(self, member: str) -> Iterator[tuple[str, str, Grams]]:
        """Seed of other members' lots that the member's books leave in its store: the lot, who holds it, and
        what it is worth.
        """
        for link in self.links.of(member):
            left = self.links.left(link)
            if left > 0 and link.holder is not None:
                parts = apportion(left, self._supply(member, link.lot)[:4])
                yield link.lot, link.holder, Grams(*parts)

    def answers(self, member: str, gap: GapFact) -> bool:
        """Whether other members' records answer a gap about lots that are theirs."""
        return bool(gap.outside) and all(self._is_answered(member, lot) for lot in (gap.outside, *gap.also))

    def is_found(self, member: str, gap: GapFact) -> bool:
        """Whether every lot that a gap misses is another member's by name, so that more can be told of it."""
        links = [self.links.find(member, lot) for lot in (gap.outside, *gap.also)] if gap.outside else []
        return bool(links) and all(link is not None and (link.holder or link.named) for link in links)

    def spares(self, member: str, mend: MendFact) -> bool:
        """Whether other members' records do all that this would mend."""
        return bool(mend.outside) and all(self._is_answered(member, lot) for lot in mend.outside)

    # Where it came from

    def parents(self, member: str, lot: LotFact) -> Parents:
        """The lot's seed parents, through the lots of other members that are in it."""
        trees, uncleared, unknown = self._find_parents(member, lot)
        hidden = lot.parents - len(lot.trees) if lot.parents > len(lot.trees) else 0
        return Parents(len(trees) + hidden, len(trees) - len(uncleared), unknown)

    def _find_parents(self, member: str, lot: LotFact, deep: int = 0) -> tuple[set[str], set[str], int]:
        at = (member, lot.lot)
        if at in self._parents:
            return self._parents[at]
        self._parents[at] = set(), set(), 0
        trees = {qualify(member, "trees", name) for name in lot.trees}
        uncleared = {qualify(member, "trees", name) for name in lot.uncleared}
        unknown = 0
        for weight, holder, fact in self._blended(member, lot):
            if fact is None or deep > _DEEPEST:
                unknown += weight
                continue
            theirs, not_cleared, dark = self._find_parents(holder, fact, deep + 1)
            trees |= theirs
            uncleared |= not_cleared
            unknown += min(weight, dark)
        self._parents[at] = trees, uncleared, unknown
        return self._parents[at]

    def _blended(self, member: str, lot: LotFact) -> Iterator[tuple[int, str, LotFact | None]]:
        """The parts of a lot that are other members' seed: milligrams, whose, and the lot if it is found."""
        for share in lot.shares:
            for need in share.needs if share.blended else ():
                link = self.links.find(member, lot.outside[need])
                holder = link.holder if link is not None and link.holder else ""
                yield share.weight_mg, holder, self._directory.lot(holder, lot.outside[need])

    def trail(self, member: str, planting: PlantingFact, most: int = 12) -> tuple[str, ...]:
        """The line back from a planting through other members' lots: `HOLLOW:lots/L1`, nearest first."""
        line: list[str] = []
        at, fact = member, planting
        while len(line) < most:
            link = self.links.find(at, fact.lot)
            holder = at if fact.known else link.holder if link is not None else None
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

    def trail_of_lot(self, member: str, lot: LotFact) -> tuple[str, ...]:
        """Other members' lots that are in this one, and their plantings: `A:lots/A-1`, `A:plantings/P1`."""
        found: dict[str, None] = {}
        for _, holder, fact in self._blended(member, lot):
            if fact is not None:
                found[qualify(holder, "lots", fact.lot)] = None
                found.update((qualify(holder, "plantings", one), None) for one in fact.plantings)
        return tuple(found)

    # What is told of it

    def compare(self) -> Iterator[Disagreement]:
        """Lots named across members that nobody holds, that didn't come as told, or that aren't traced."""
        for link in self.links.links:
            if link.holder is None:
                yield from self._compare_unheld(link)
                continue
            for doubt in link.doubts:
                if doubt.kind:
                    yield self._tell_doubt(link, doubt)
            lot = self._directory.lot(link.holder, link.lot)
            standing = self._judge(link.holder, lot).standing if lot else "unproven"
            if standing != "traced":
                yield self._tell_untraced(link, link.holder, standing)

    def _tell_doubt(self, link: Link, doubt: Doubt) -> Disagreement:
        holder = str(link.holder)
        ask = "Please hold it against the dispatch note, and correct what is wrong."
        told = [Told(link.member, f"{capital(doubt.told)}. {ask}")]
        if doubt.kind == "origin-not-moved":
            # Whether it went there at all is the question, so nobody is named.
            asked = (
                f"Another member says to have had seed of your lot {link.lot}, and no stock book shows it."
            )
            told.append(
                Told(holder, f"{asked} If you gave any away, write it under `movements`, and to whom.")
            )
        members = (link.member, holder)
        return Disagreement(doubt.kind, members, (link.where,), f"{capital(doubt.text)}.", tuple(told))

    def _tell_untraced(self, link: Link, holder: str, standing: str) -> Disagreement:
        lot = link.lot
        kind = "origin-rejected" if standing == "rejected" else "origin-unproven"
        where = f"lot {lot} of {link.seller}" if link.seller else f"lot {lot} of another member"
        keep = "Please keep apart whatever rests on it, and sell none of it until we write to you."
        does = keep if standing == "rejected" else "There is nothing for you to write."
        missing = self._say_missing(holder, lot)
        told = [Told(link.member, f"Your {link.own} rests on {where}, which is {standing} there. {does}")]
        buyer = link.member if self._deals_with(holder, link) else "another member"
        needs = (
            "tell us what you know of it"
            if standing == "rejected"
            else "what it lacks stands at your lots below"
        )
        told.append(Told(holder, f"Your lot {lot} went to {buyer}, whose seed waits for it: {needs}."))
        if standing == "rejected":
            missing = ", for records there speak against it"
        message = f"{link.what} rests on lot {lot} of {holder}, and that lot is {standing}{missing}."
        records = (link.where, qualify(holder, "lots", lot))
        return Disagreement(kind, (link.member, holder), records, message, tuple(told))

    def _say_missing(self, holder: str, lot: str) -> str:
        """What the supplying member lacks for a lot, by kind of record and without its numbers."""
        found: dict[str, None] = {}
        for gap in self._summaries[holder].gaps:
            wants = gap.weight != "advice" and gap.rule != SUSPECT
            if lot in gap.lots and wants and not self.is_found(holder, gap):
                found[_KINDS.get(gap.table, "a record")] = None
        names = list(found)[:_TOLD]
        if names:
            return f" there for want of {join(names)}"
        return (
            " there, for papers there and elsewhere don't agree"
            if self._is_doubted(holder, lot)
            else " there"
        )

    def _is_doubted(self, holder: str, lot: str) -> bool:
        return bool(self._doubted & {(holder, lot), (holder, "")})

    @staticmethod
    def _deals_with(holder: str, link: Link) -> bool:
        return any(hop.sender == holder and hop.sent and hop.receiver == link.member for hop in link.hops)

    def _compare_unheld(self, link: Link) -> Iterator[Disagreement]:
        """A lot that whoever is named doesn't hold, or that others hold and nobody is named."""
        named = link.named
        if named is not None and not self._directory.was_read(named):
            yield Disagreement(
                "origin-unproven",
                (link.member, named),
                (link.where,),
                f"{link.what} rests on lot {link.lot} of {named}, whose records couldn't be read.",
                (Told(link.member, f"Your {link.own} rests on lot {link.lot} of {named}, {_UNREAD}"),),
            )
        elif named is not None:
            names = f"names lot {link.lot} of {named}"
            alike = self._directory.find_lot_alike(named, link.lot)
            have = f"have {alike}, which looks like it" if alike else "have no lot of that number"
            look = "Please look at the label, and correct the number or the supplier."
            asked = f"Another member names you for seed of lot {link.lot}, which isn't in your records."
            yield Disagreement(
                "origin-unknown",
                (link.member, named),
                (link.where,),
                f"{link.what} {names}; {named}'s records {have}.",
                (
                    Told(link.member, f"Your {link.own} {names}, whose records have no such lot. {look}"),
                    Told(
                        named, f"{asked} If it was yours in an earlier year, hand in that year's records too."
                    ),
                ),
            )
        elif not any(one.party for one in link.records) or link.hops:
            yield from self._compare_unnamed(link)

    def _compare_unnamed(self, link: Link) -> Iterator[Disagreement]:
        holders = [key for key in self._directory.holders(link.lot) if key != link.member]
        if holders:
            yield Disagreement(
                "origin-unnamed",
                (link.member, *holders),
                (link.where, *(qualify(key, "lots", link.lot) for key in holders)),
                f"{link.what} names lot {link.lot}, which {join(holders)} "
                f"{'has' if len(holders) == 1 else 'have'}, and doesn't say whom the seed came from.",
                (Told(link.member, f"Your {link.own} names lot {link.lot}, {_UNNAMED}"),),
            )


_NOTHING: Final = Grams(unproven_mg=1)
_UNREAD: Final = "whose records we couldn't read yet. There is nothing for you to write."
_UNNAMED: Final = (
    "which isn't yours, and doesn't say whom the seed came from. Write that under `origin.supplier` of a "
    "planting, under `party` of a movement."
)
#: What a supplying member lacks, by the table at which it is missing.
_KINDS: Final = {
    "blocks": "an entry about its land",
    "plantings": "a paper on what its trees were grown from",
    "trees": "a screening result",
    "screening": "a screening letter or what stands in it",
    "letters": "a laboratory's letter",
    "bagging": "an entry about a bag",
    "harvests": "an entry about a picking",
    "batches": "an entry about a run",
    "cleaning": "a cleaning",
    "lots": "an entry about the lot",
    "tests": "a test of the lot",
    "movements": "an entry of the stock book",
}


def _whole(lot: LotFact) -> tuple[ShareFact, ...]:
    """A lot that nobody divided: all of it hangs on everything."""
    needs = tuple(range(len(lot.outside)))
    return (ShareFact(lot.own.whole_mg, lot.own.standing, lot.answered.standing, needs, blended=False),)


def _split(share: ShareFact, supplies: Sequence[Grams]) -> Iterator[tuple[str, int]]:
    """A share's grams by their standing, given what the lots that it hangs on are worth."""
    if share.blended and len(supplies) == 1:
        (one,) = supplies
        for word, mass in zip(_WORDS, apportion(share.weight_mg, one[:4]), strict=True):
            yield _worse(word, share.answered), mass
        return
    worst = "traced"
    for one in supplies:
        worst = _worse(worst, one.standing)
    yield _worse(worst, share.answered), share.weight_mg


def _worse(first: str, second: str) -> str:
    return max(first, second, key=_RANKS.__getitem__)
