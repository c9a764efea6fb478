"""Counts each lot's grams: which part is of what standing, what left with whom, and what is nowhere."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from second_engine.values import plain, silent
from second_engine.weights import CAME, MIXED, Entry, Weights

if TYPE_CHECKING:
    from second_engine.farm import Thing
    from second_engine.solving import Answer

TRACED, UNPROVEN, REJECTED = range(3)
Shares = list[int]


def share_out(whole: int, by: Sequence[int]) -> Shares:
    """A mass shared in proportion, in whole milligrams: largest remainder first, the earlier part on ties."""
    total = sum(by)
    if not total:
        return [0] * len(by)
    shares = [whole * one // total for one in by]
    order = sorted(range(len(by)), key=lambda at: (-(whole * by[at] % total), at))
    for at in order[: whole - sum(shares)]:
        shares[at] += 1
    return shares


@dataclass
class Account:
    """A lot's grams in the end, and what was on hand on the days that somebody asks about."""

    weight: int = 0
    held: Shares = field(default_factory=lambda: [0, 0, 0])
    left: Shares = field(default_factory=lambda: [0, 0, 0])
    unaccounted: int = 0
    #: What each drawing lot's part took, by standing.
    drawn: dict[int, Shares] = field(default_factory=dict)
    #: (day, what was on hand after what came in that day)
    days: list[tuple[int, Shares]] = field(default_factory=list)
    #: By movement, what was on hand just before it.
    before: dict[int, Shares] = field(default_factory=dict)
    #: On hand at the end of each day with an entry, by the book.
    closes: list[tuple[int, int]] = field(default_factory=list)
    why: set[str] = field(default_factory=set)

    def on(self, when: int) -> Shares:
        """What was on hand on a day, before anything went out."""
        found = [0, 0, 0]
        for at, shares in self.days:
            if at <= when:
                found = shares
        return found


class Grams:
    """The accounts of all lots, each worked out when it is first asked for."""

    def __init__(
        self, weights: Weights, answer: Answer, lots: list[Thing], sown: dict[tuple[int, int], int]
    ) -> None:
        self.weights, self.answer = weights, answer
        self.lots = {lot.id: lot for lot in lots}
        #: (lot, planting) → the movement that says it was sown there.
        self.sown = sown
        self.plantings: dict[int, tuple[int, int]] = {}
        self.parts: dict[int, list[int]] = defaultdict(list)
        for lot, part, _ in weights.writer.parts:
            self.parts[lot.id].append(part)
        self.accounts: dict[int, Account] = {}
        self._open: set[int] = set()
        self._runs: dict[int, int] = {}

    def account(self, lot: int) -> Account | None:
        """A lot's account; `None` while it is being worked out, where lots go round in a circle."""
        if lot in self._open:
            return None
        if lot not in self.accounts:
            self._open.add(lot)
            self.accounts[lot] = self._keep(lot)
            self._open.discard(lot)
        return self.accounts[lot]

    # Where a part comes from

    def run_standing(self, run: int) -> int:
        """A run is one mixture: it takes the worst of everything on its line."""
        if run not in self._runs:
            worst = self.answer.worst("run", run)
            for planting in self.answer.rests_on[run]:
                if worst < UNPROVEN and not self._sown_traced(planting):
                    worst = UNPROVEN
            self._runs[run] = worst
        return self._runs[run]

    def _sown_traced(self, planting: int) -> bool:
        """Whether all grams of the lot that a planting was sown from, as on hand then, are traced."""
        lot, planted = self.plantings[planting]
        account = self.account(lot)
        if account is None:
            return False
        move = self.sown.get((lot, planting))
        held = account.before.get(move) if move is not None else None
        held = account.on(planted) if held is None else held
        return sum(held) > 0 and held[UNPROVEN] == held[REJECTED] == 0

    def _part(self, part: int, mg: int, account: Account) -> Shares:
        named, _ = self.weights.sources[part]
        least = self.answer.worst("part", part)
        shares = [0, 0, mg]
        if part in self.weights.writer.vouched:
            shares = [mg, 0, 0]
        elif named is None:
            shares = [0, mg, 0]
        elif named.table == "batches":
            shares = [0, 0, 0]
            shares[self.run_standing(named.id)] = mg
            if self._runs[named.id] > self.answer.worst("run", named.id):
                account.why.add(f"run {named.key}: sown from an own lot that isn't all traced")
        else:
            other = self.account(named.id)
            drawn = other.drawn.get(part, [0, 0, 0]) if other else [0, 0, 0]
            shares = share_out(mg, drawn) if sum(drawn) else [0, mg, 0]
            if shares[UNPROVEN] or shares[REJECTED]:
                account.why.add(f"blended lot {named.key}")
        return _at_least(shares, least)

    # A lot's book

    def _keep(self, number: int) -> Account:
        lot, least = self.lots[number], self.answer.worst("lot", number)
        account = Account(weight=lot.mg("weight") or 0)
        packed = _at_least(self._packed(number, account), least)
        book = sorted([*self.weights.books[number], *self._mixings(number)])
        bought: dict[str, Shares] = defaultdict(lambda: [0, 0, 0])
        held = 0
        for count, entry in enumerate(book, start=1):
            within = max(entry.step, count)
            if entry.kind == "packed":
                if sum(account.held):
                    # Seed that was there before the lot was packed is in it now.
                    packed = _at_least(packed, REJECTED if account.held[REJECTED] else UNPROVEN)
                account.held = [old + new for old, new in zip(account.held, packed, strict=True)]
                held += entry.mg
            elif entry.kind == "mixing":
                account.held = [0, 0, sum(account.held)]
            elif entry.phase == CAME:
                self._came(account, entry, bought, least)
                held += entry.mg
            elif entry.kind in {"counted", "opening stock"}:
                if abs(entry.mg - held) > within:
                    self._counted(account, entry.mg - held, least)
                    held = entry.mg
            else:
                self._went(account, entry, bought)
                # There is never less than nothing, whatever the book says has gone.
                held = max(held - entry.mg, 0)
            if entry.phase <= MIXED:
                account.days.append((entry.when, list(account.held)))
            else:
                account.days.append((entry.when + 1, list(account.held)))
            account.closes.append((entry.when, held))
        return account

    def _packed(self, number: int, account: Account) -> Shares:
        """What the lot was packed of: its parts, and what no source accounts for."""
        weight = account.weight
        parts = self.parts[number]
        weights = [self.weights.sources[part][1] for part in parts]
        lot = self.lots[number]
        within = max(self.weights.farm.seasons[lot.season].step, len(parts) + 1)
        missing = weight - sum(weights)
        if missing > within or not sum(weights):
            amounts, missing = weights, max(missing, 0)
        else:
            amounts, missing = share_out(weight, weights), 0
        shares = [0, missing, 0]
        if missing:
            account.why.add("no source for all")
        for part, mg in zip(parts, amounts, strict=True):
            shares = [old + new for old, new in zip(shares, self._part(part, mg, account), strict=True)]
        return shares

    def _mixings(self, number: int) -> list[Entry]:
        # Before it was packed there was nothing to mix: then the day is wrong, and not the word.
        packed = self.lots[number].day("packed") or 0
        days = [max(when, packed) for lot, when in self.answer.mixed_from if lot == number]
        return [Entry(when, MIXED, 0, "mixing", 0, number) for when in days]

    def _came(self, account: Account, entry: Entry, bought: dict[str, Shares], least: int) -> None:
        """What a party bought and gives back sealed is the lot's own seed; all else is foreign."""
        own = 0
        if entry.kind == "returned":
            party = _party(entry)
            mine = bought[party]
            own = min(entry.mg, sum(mine)) if party else 0
            back = share_out(own, mine)
            bought[party] = [old - new for old, new in zip(mine, back, strict=True)]
            account.left = [old - new for old, new in zip(account.left, back, strict=True)]
            account.held = [old + new for old, new in zip(account.held, back, strict=True)]
        foreign = entry.mg - own
        if own and foreign <= entry.step:
            # Within what the scale shows no more came back than was bought.
            foreign = 0
        if foreign:
            account.why.add(f"{entry.kind}: foreign seed")
        account.weight += foreign
        worst = UNPROVEN if foreign else TRACED
        if entry.number in self.answer.other_status:
            worst = REJECTED
        if entry.number in self.answer.unsealed:
            account.why.add(f"{entry.kind}: not said to be sealed, or without paper")
            worst = max(worst, UNPROVEN)
        worst = max(worst, self.answer.worst("move", entry.number))
        account.held[max(worst, least)] += foreign
        account.held = _at_least(account.held, worst)

    def _counted(self, account: Account, more: int, least: int) -> None:
        """Below the book: the missing grams are unaccounted. Above: seed of unknown origin was added."""
        account.why.add("a count off the book")
        if more < 0:
            gone = share_out(min(-more, sum(account.held)), account.held)
            account.held = [old - new for old, new in zip(account.held, gone, strict=True)]
            account.unaccounted += sum(gone)
        else:
            account.weight += more
            account.held[max(UNPROVEN, least)] += more
            account.held = _at_least(account.held, UNPROVEN)

    def _went(self, account: Account, entry: Entry, bought: dict[str, Shares]) -> None:
        account.before[entry.number] = list(account.held)
        taken = share_out(min(entry.mg, sum(account.held)), account.held)
        account.held = [old - new for old, new in zip(account.held, taken, strict=True)]
        if entry.kind == "blended":
            account.drawn[entry.number] = taken
        taken = _at_least(taken, self.answer.worst("move", entry.number))
        account.left = [old + new for old, new in zip(account.left, taken, strict=True)]
        if entry.kind in {"sold", "transferred"} and _party(entry):
            party = _party(entry)
            bought[party] = [old + new for old, new in zip(bought[party], taken, strict=True)]


def _party(entry: Entry) -> str:
    return "" if silent(entry.party) else plain(entry.party)


def _at_least(shares: Shares, least: int) -> Shares:
    """Grams of no better standing than `least`."""
    made = list(shares)
    for at in range(least):
        made[least] += made[at]
        made[at] = 0
    return made
