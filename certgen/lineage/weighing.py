"""Which entries prove how many grams: weighed against each other, best first.

A lot's traced grams follow from the entries that are supplied, and nothing else; what a bundle of entries
adds is a difference of two such sums. Once a bundle is supplied, only those that share an entry with it, or
that grams wait for together with it, can be worth something else, so only those are weighed again. Entries
are whole numbers, in the order of their words.
"""

from __future__ import annotations

from collections import Counter
from heapq import heapify, heappop, heappush
from itertools import combinations
from typing import TYPE_CHECKING, Final, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator, Sequence
    from collections.abc import Set as AbstractSet

#: With so many entries or fewer every bundle is tried (4,095 of them at most).
EXACT_ENTRIES: Final = 12
#: So much is looked at before weighing ends without an answer: about half a second's work.
MOST_LOOKS: Final = 2_000_000
#: What a lot costs that isn't plain, beside its grams.
_LOOKS_A_LOT: Final = 8
#: The entries of so large a bundle or a smaller one are put in order at once.
_FEW: Final = 32
#: What grams wait for that no entry can give.
NEVER: Final = -1

#: A mass in milligrams and the entries it waits for.
Waiting = tuple[int, frozenset[int]]


class TooMuchToWeigh(Exception):  # noqa: N818 (nothing went wrong: whoever asks can ask for less)
    """More would have to be looked at than `MOST_LOOKS`."""


class Share(NamedTuple):
    """A lot's grams by the entries they wait for.

    `held` are movements that hold grams back meanwhile, `going` grams of the parts that the entry `removal`
    takes out.
    """

    lot: str
    atoms: tuple[Waiting, ...]
    held: tuple[Waiting, ...] = ()
    going: tuple[Waiting, ...] = ()
    removal: int | None = None

    @property
    def waiting(self) -> Iterator[frozenset[int]]:
        """What some grams wait for."""
        return (waits for _, waits in (*self.atoms, *self.held, *self.going) if waits)

    @property
    def is_plain(self) -> bool:
        """Whether its traced grams are those of its atoms alone."""
        return not self.held and self.removal is None

    def traced(self, done: AbstractSet[int], bundle: AbstractSet[int]) -> int:
        """The grams that are traced once a bundle is supplied besides what is done, in milligrams."""
        gone = self.removal in done or self.removal in bundle
        there = self.atoms if gone else self.atoms + self.going
        proved = sum(weight for weight, waits in there if waits - done <= bundle)
        return max(0, proved - sum(weight for weight, waits in self.held if not waits - done <= bundle))


class Scale:
    """Lots' grams on which bundles of entries are weighed; `done` are the entries supplied so far."""

    def __init__(self, shares: Sequence[Share]) -> None:
        self.done: set[int] = set()
        self._looks = MOST_LOOKS
        self._shares = shares
        #: Of plain lots: what waits for the same counts together, and is found by the first entry it lacks.
        self._weight: Counter[frozenset[int]] = Counter()
        self._lots: dict[frozenset[int], list[int]] = {}
        self._rest: dict[frozenset[int], frozenset[int]] = {}
        self._lacking: dict[int, set[frozenset[int]]] = {}
        self._naming: dict[int, list[frozenset[int]]] = {}
        #: Of the others: by entry the lots that wait for it, and those in which something lacks it first, and
        #: by lot what is traced so far.
        self._others: dict[int, set[int]] = {}
        self._firsts: dict[int, set[int]] = {}
        self._traced: dict[int, int] = {}
        self._costs = [_LOOKS_A_LOT + len(share.atoms) + len(share.held) for share in shares]
        for position, share in enumerate(shares):
            if share.is_plain:
                for weight, waits in share.atoms:
                    self._add_plain(position, weight, waits)
            else:
                removal = () if share.removal is None else (share.removal,)
                for entry in (*(entry for waits in share.waiting for entry in waits), *removal):
                    self._others.setdefault(entry, set()).add(position)
                for entry in self._find_firsts(share):
                    self._firsts.setdefault(entry, set()).add(position)

    def _add_plain(self, position: int, weight: int, waits: frozenset[int]) -> None:
        if waits and waits not in self._weight:
            self._lots[waits] = []
            self._rest[waits] = waits
            self._lacking.setdefault(min(waits), set()).add(waits)
            for entry in waits:
                self._naming.setdefault(entry, []).append(waits)
        if waits:
            self._weight[waits] += weight
            self._lots[waits].append(position)

    def look(self, number: int) -> None:
        """Counts what is looked at. Raises TooMuchToWeigh."""
        self._looks -= number
        if self._looks < 0:
            raise TooMuchToWeigh

    def weigh(self, bundle: AbstractSet[int]) -> int:
        """The milligrams that some entries would prove, on top of those supplied so far."""
        plain = sum(self._weight[waits] for waits in self._proved(bundle))
        self._touched(bundle)
        return plain + sum(self._gain(lot, bundle) for lot in self._able(bundle))

    def find_lots(self, bundle: AbstractSet[int]) -> list[int]:
        """The positions of the lots in which some entries would prove something."""
        lots = {lot for waits in self._proved(bundle) for lot in self._lots[waits]}
        self._touched(bundle)
        return sorted(lots | {lot for lot in self._able(bundle) if self._gain(lot, bundle) > 0})

    def supply(self, bundle: AbstractSet[int]) -> set[int]:
        """Takes entries as supplied; gives all those of which some bundle may now be worth something else."""
        touched = self._touched(bundle)
        affected = {entry for lot in touched for waits in self._shares[lot].waiting for entry in waits}
        changed = {waits for entry in bundle for waits in self._naming.get(entry, ())}
        self.look(len(bundle) + len(affected) + sum(len(self._rest[waits]) for waits in changed))
        self._finish(bundle, touched)
        for waits in changed:
            before = self._rest[waits]
            self._rest[waits] = after = before - bundle
            if before:
                self._lacking[min(before)].discard(waits)
            if after:
                self._lacking.setdefault(min(after), set()).add(waits)
                affected |= after
        return affected

    def _finish(self, bundle: AbstractSet[int], touched: Iterable[int]) -> None:
        """Puts entries to those done; what the touched lots lack first changes."""
        for lot in touched:
            self._traced.pop(lot, None)
            for entry in self._find_firsts(self._shares[lot]):
                self._firsts[entry].discard(lot)
        self.done |= bundle
        for lot in touched:
            for entry in self._find_firsts(self._shares[lot]):
                self._firsts.setdefault(entry, set()).add(lot)

    def _proved(self, bundle: AbstractSet[int]) -> list[frozenset[int]]:
        """What waits, in plain lots, for nothing but some entries any more."""
        waiting = [waits for entry in bundle for waits in self._lacking.get(entry, ())]
        self.look(len(bundle) + len(waiting))
        able = [waits for waits in waiting if len(self._rest[waits]) <= len(bundle)]
        self.look(sum(len(self._rest[waits]) for waits in able))
        return [waits for waits in able if self._rest[waits] <= bundle]

    def _touched(self, bundle: AbstractSet[int]) -> set[int]:
        """The lots, other than plain ones, that wait for any of the entries."""
        found = (
            set[int]().union(*(self._others.get(entry, ()) for entry in bundle)) if self._others else set()
        )
        self.look(sum(map(self._costs.__getitem__, found)))
        return found

    def _find_firsts(self, share: Share) -> set[int]:
        """The entries of which one has to be supplied before anything changes in a lot."""
        left = (waits - self.done for waits in share.waiting)
        firsts = {min(waits) for waits in left if waits}
        return firsts if share.removal is None else {*firsts, share.removal}

    def _able(self, bundle: AbstractSet[int]) -> set[int]:
        """Of the touched lots all in which something changes, and maybe others."""
        return set[int]().union(*(self._firsts.get(entry, ()) for entry in bundle)) if self._firsts else set()

    def _gain(self, lot: int, bundle: AbstractSet[int]) -> int:
        share = self._shares[lot]
        if lot not in self._traced:
            self._traced[lot] = share.traced(self.done, frozenset())
        return share.traced(self.done, bundle) - self._traced[lot]


class _Rest:
    """A bundle's entries that aren't supplied, in order: seldom asked for, so told when they first are."""

    __slots__ = ("_bundle", "_done", "_told")

    def __init__(self, bundle: frozenset[int], done: set[int]) -> None:
        self._bundle, self._done = bundle, done
        self._told: list[int] | None = None

    def __lt__(self, other: _Rest) -> bool:
        return self._tell() < other._tell()

    def _tell(self) -> list[int]:
        if self._told is None:
            self._told = sorted(self._bundle - self._done)
        return self._told


class _Rank(NamedTuple):
    """A bundle by its worth: the most grams an entry first, then fewer entries, then by their order.

    Grams an entry are whole numbers, negative so that most comes first, and so large that no two differ only
    behind the point. Of few entries all are there, in order, to be compared without a call.
    """

    worth: int
    size: int
    lowest: int
    rest: list[int] | _Rest
    number: int
    gain: int


class _Bundles:
    """Bundles of entries by their worth, kept as entries are supplied."""

    def __init__(self, scale: Scale, bundles: Iterable[frozenset[int]]) -> None:
        self._scale = scale
        self._bundles = list(bundles)
        self._gains = [scale.weigh(bundle) for bundle in self._bundles]
        self._counts = list(map(len, self._bundles))
        #: Each bundle's entries, last first, down to the first that isn't supplied.
        self._left = [sorted(bundle, reverse=True) for bundle in self._bundles]
        self._naming: dict[int, list[int]] = {}
        for number, bundle in enumerate(self._bundles):
            for entry in bundle:
                self._naming.setdefault(entry, []).append(number)
        # Fractions with denominators up to n differ by a part of n squared at least.
        self._finest = max(self._counts, default=1) ** 2
        self._heap = [self._rank(number) for number, gain in enumerate(self._gains) if gain > 0]
        heapify(self._heap)

    def take_best(self) -> frozenset[int] | None:
        """The best bundle, supplied from now on; None if none proves anything."""
        while self._heap:
            best = heappop(self._heap)
            number = best.number
            if (best.gain, best.size) == (self._gains[number], self._counts[number]):
                bundle = self._bundles[number] - self._scale.done
                self._supply(bundle, best.gain)
                return bundle
        return None

    def _rank(self, number: int) -> _Rank:
        left, done = self._left[number], self._scale.done
        while left[-1] in done:
            left.pop()
        gain, count, bundle = self._gains[number], self._counts[number], self._bundles[number]
        rest = sorted(bundle - done) if count <= _FEW else _Rest(bundle, done)
        return _Rank(-(gain * self._finest // count), count, left[-1], rest, number, gain)

    def _supply(self, bundle: frozenset[int], gain: int) -> None:
        affected = self._scale.supply(bundle)
        shared = Counter(number for entry in bundle for number in self._naming.pop(entry))
        others = {number for entry in affected - bundle for number in self._naming.get(entry, ())}
        self._scale.look(len(others) + len(shared))
        for number in sorted(others.union(shared)):
            self._counts[number] -= shared[number]
            if not self._counts[number]:
                self._gains[number] = 0
            elif shared[number] == len(bundle):
                # What a bundle proves besides a part of it that has been supplied is known without weighing.
                self._gains[number] -= gain
            else:
                self._gains[number] = self._scale.weigh(self._bundles[number] - self._scale.done)
            if self._gains[number] > 0:
                heappush(self._heap, self._rank(number))


def choose_bundles(shares: Sequence[Share]) -> Iterator[frozenset[int]]:
    """Bundles of entries, each the best of what is left, until nothing more can be proved.

    Every bundle is tried if the entries are few, else what some grams wait for and what a lot waits for.
    Raises TooMuchToWeigh.
    """
    scale = Scale(shares)
    needs: dict[frozenset[int], None] = {}
    for share in shares:
        provable = [waits for waits in share.waiting if NEVER not in waits]
        needs.update(dict.fromkeys(provable))
        if provable:
            needs[frozenset().union(*provable)] = None
    entries = frozenset().union(*needs)
    if len(entries) > EXACT_ENTRIES:
        bundles = _Bundles(scale, needs)
        # Only entries of bundles are supplied, each once.
        while len(entries) - len(scale.done) > EXACT_ENTRIES:
            best = bundles.take_best()
            if best is None:
                return
            yield best
    bundles = _Bundles(scale, _every(sorted(entries - scale.done)))
    while (best := bundles.take_best()) is not None:
        yield best


def _every(entries: Collection[int]) -> Iterator[frozenset[int]]:
    for size, _ in enumerate(entries, start=1):
        yield from map(frozenset, combinations(entries, size))


def order_steps(
    steps: Sequence[frozenset[int]], shares: Sequence[Share]
) -> Iterator[tuple[frozenset[int], int, list[int]]]:
    """The steps by what each adds to those before it, most first; of equals the one that is named first.

    Gives each with its milligrams and the positions of the lots in which it proves something. No two steps
    share an entry. Raises TooMuchToWeigh.
    """
    scale = Scale(shares)
    gains = [scale.weigh(step) for step in steps]
    naming = {entry: number for number, step in enumerate(steps) for entry in step}
    heap = [(-gain, number) for number, gain in enumerate(gains)]
    heapify(heap)
    done: set[int] = set()
    while heap:
        gain, number = heappop(heap)
        if number in done or -gain != gains[number]:
            continue
        done.add(number)
        lots = scale.find_lots(steps[number])
        affected = scale.supply(steps[number])
        for other in {naming[entry] for entry in affected if entry in naming} - done:
            gains[other] = scale.weigh(steps[other])
            heappush(heap, (-gains[other], other))
        yield steps[number], -gain, lots
