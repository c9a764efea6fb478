"""What to do first: which few entries, or parts taken out, turn the most grams to traced.

A gram is proved when every fault that touches it is mended, so entries work in bundles: the bundle
that proves the most grams an entry comes first, then the best of what is left. With few entries every
bundle is tried; beyond that only those that some grams wait for as a whole.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations
from typing import TYPE_CHECKING, Final, NamedTuple

from certgen.records.quantities import format_mass

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence

    from certgen.lineage.graph import Node
    from certgen.lineage.standing import Atom, LotGrams, Standings

#: With so many entries or fewer every bundle is tried (4,096 of them at most).
EXACT_ENTRIES: Final = 12
_SHOWN: Final = 4
#: What grams wait for that no entry can give.
_NEVER: Final = "\0"
#: How the entry begins that stands for a lot's removal.
_REMOVAL: Final = "\1"
#: A mass in milligrams and the entries it waits for.
_Waiting = tuple[int, frozenset[str]]


@dataclass(frozen=True, slots=True)
class Mend:
    """Something to do, what it proves and where.

    `action` is `supply` or `take out`. `entries` are the single things to do, `text` names them all.
    `proves_mg` is what it adds to the traced grams once everything before it in the list is done, so that a
    list never proves more than isn't traced. `frees_mg` are the grams that a part taken out leaves in a lot
    which then holds nothing rejected: traced once everything before it is done. `gaps` are positions in the
    list of faults.
    """

    action: str
    text: str
    proves_mg: int
    lots: tuple[str, ...]
    gaps: tuple[int, ...]
    entries: tuple[str, ...] = ()
    frees_mg: int = 0


@dataclass(frozen=True, slots=True)
class _Removal:
    """The rejected parts of a lot, which could be taken out of it, and the faults that this would mend."""

    lot: str
    parts: frozenset[int]
    cures: frozenset[int]
    entries: tuple[str, ...]
    gaps: tuple[int, ...]

    @property
    def entry(self) -> str:
        """What stands for the removal among the entries that grams wait for."""
        return f"{_REMOVAL}{self.lot}"


class _Share:
    """A lot's grams by the entries they wait for, and movements that hold grams back meanwhile.

    `going` are grams of the parts that `removal` takes out.
    """

    def __init__(
        self, lot: str, atoms: list[_Waiting], held: list[_Waiting], going: list[_Waiting], removal: str
    ) -> None:
        self.lot = lot
        self._proved = 0
        self._atoms = atoms
        self._held = held
        self._going = going
        self._removal = removal
        self.supply(frozenset())

    def copy(self) -> _Share:
        """The same grams, to try entries on."""
        other = _Share(self.lot, list(self._atoms), list(self._held), list(self._going), self._removal)
        other._proved = self._proved
        return other

    @property
    def waiting(self) -> list[_Waiting]:
        """Grams with the entries they wait for."""
        return self._atoms + self._held + [(weight, waits) for weight, waits in self._going if waits]

    def traced(self, bundle: frozenset[str] = frozenset()) -> int:
        """The grams that are traced once a bundle is supplied too."""
        there = self._atoms if self._removal in bundle else self._atoms + self._going
        proved = sum(weight for weight, waits in there if waits <= bundle)
        held = sum(weight for weight, waits in self._held if not waits <= bundle)
        return max(0, self._proved + proved - held)

    def supply(self, bundle: frozenset[str]) -> None:
        """Takes a bundle as supplied from now on."""
        left = [(weight, waits - bundle) for weight, waits in self._atoms]
        self._proved += sum(weight for weight, waits in left if not waits)
        self._atoms = [(weight, waits) for weight, waits in left if waits]
        gone = self._removal in bundle
        self._going = [] if gone else [(weight, waits - bundle) for weight, waits in self._going]
        held = [(weight, waits - bundle) for weight, waits in self._held]
        self._held = [(weight, waits) for weight, waits in held if waits]


class _Gain(NamedTuple):
    """What a bundle proves, in milligrams, in which lots; the rank is the lower the better."""

    rank: tuple[Fraction, int, list[str]]
    grams: int
    lots: frozenset[int]


def find_mending(standings: Standings, separable: Collection[str] = ()) -> tuple[Mend, ...]:
    """What to supply and what to take out, what adds most first. Grams that nothing can prove are left alone.

    `separable` names the lots of which nothing has left, so that a part can still be taken out.
    """
    entries = _entries(standings)
    removals = _find_removals(standings, separable)
    shares = [_share(grams, entries, removals.get(grams.lot)) for grams in standings.lots.values()]
    bundles = [bundle for bundle, _, _ in _supply([share.copy() for share in shares])]
    steps = dict.fromkeys(step for bundle in bundles for step in _split(bundle))
    found = list(_in_order(steps, shares, _faults_by_entry(entries, removals), removals))
    done = {mend.lots[0] for mend in found if mend.action == "take out"}
    later = [_free(standings, removal) for lot, removal in removals.items() if lot not in done]
    return (*found, *filter(None, later))


def _find_removals(standings: Standings, separable: Collection[str]) -> dict[str, _Removal]:
    """What to take out, by lot."""
    lots = [grams for grams in standings.lots.values() if grams.lot in separable]
    found = [_find_removal(standings, grams) for grams in lots]
    return {removal.lot: removal for removal in found if removal is not None}


def _faults_by_entry(entries: Mapping[int, str], removals: Mapping[str, _Removal]) -> dict[str, list[int]]:
    """The faults that each entry or removal mends."""
    found: dict[str, list[int]] = {}
    for fault, entry in entries.items():
        found.setdefault(entry, []).append(fault)
    found.update({removal.entry: list(removal.gaps) for removal in removals.values()})
    return found


def _split(bundle: frozenset[str]) -> Iterator[frozenset[str]]:
    """A bundle's removals one by one, then its entries together."""
    removals = sorted(entry for entry in bundle if entry.startswith(_REMOVAL))
    yield from (frozenset({entry}) for entry in removals)
    if rest := bundle.difference(removals):
        yield rest


def _is_removal(step: frozenset[str]) -> bool:
    return min(step).startswith(_REMOVAL)


def _in_order(
    steps: Iterable[frozenset[str]],
    shares: Sequence[_Share],
    by_entry: Mapping[str, Sequence[int]],
    removals: Mapping[str, _Removal],
) -> Iterator[Mend]:
    """The steps by what each adds to those before it, most first; of equals what is supplied."""
    left = sorted(steps, key=_is_removal)
    while left:
        gains = [sum(share.traced(step) - share.traced() for share in shares) for step in left]
        best = max(range(len(left)), key=gains.__getitem__)
        step = left.pop(best)
        before = [share.traced() for share in shares]
        for share in shares:
            share.supply(step)
        lots = tuple(share.lot for share, old in zip(shares, before, strict=True) if share.traced() > old)
        gaps = tuple(sorted({fault for entry in step for fault in by_entry[entry]}))
        if _is_removal(step):
            removal = removals[min(step).removeprefix(_REMOVAL)]
            told = removal.entries
            yield Mend("take out", _list_entries(told), gains[best], (removal.lot,), gaps, told)
        else:
            told = tuple(sorted(step))
            yield Mend("supply", _list_entries(told), gains[best], lots, gaps, told)


def _entries(standings: Standings) -> dict[int, str]:
    """The entry that mends each unproven fault. Faults with one entry are mended together."""
    return {
        position: fault.supply or f"what gap {position + 1} asks for"
        for position, fault in enumerate(standings.faults)
        if fault.weight == "unproven" and fault.touches != "whole"
    }


def _share(grams: LotGrams, entries: Mapping[int, str], removal: _Removal | None) -> _Share:
    """A lot's grams by the entries they wait for; those that no entry can prove are left out."""
    waits = dict(entries)
    if removal is not None:
        waits.update(dict.fromkeys(removal.cures, removal.entry))
    gone = removal.parts if removal is not None else ()
    atoms: list[_Waiting] = []
    going: list[_Waiting] = []
    for atom in grams.atoms:
        if atom.floor == "traced" and atom.faults <= waits.keys():
            share = (atom.weight_mg, frozenset(waits[fault] for fault in atom.faults))
            (going if atom.part in gone else atoms).append(share)
    held = [
        (weight, frozenset(entries.get(fault, _NEVER) for fault in faults))
        for weight, faults in grams.movements
    ]
    return _Share(grams.lot, atoms, held, going, "" if removal is None else removal.entry)


def _supply(shares: list[_Share]) -> Iterator[tuple[frozenset[str], int, tuple[str, ...]]]:
    """Bundles of entries, each the best of what is left, until nothing more can be proved."""
    lots_of = _lots_waiting(shares)
    gains: dict[frozenset[str], _Gain] = {}
    while True:
        bundle = _find_best(shares, gains, lots_of)
        if bundle is None:
            return
        _, gain, touched = gains[bundle]
        before = {lot: shares[lot].traced() for lot in sorted(touched)}
        for lot in touched:
            shares[lot].supply(bundle)
        # Only bundles that work on the same lots can have changed their worth.
        gains = {one: known for one, known in gains.items() if not known.lots & touched}
        yield (
            bundle,
            gain,
            tuple(shares[lot].lot for lot, old in before.items() if shares[lot].traced() > old),
        )


def _find_best(
    shares: Sequence[_Share], gains: dict[frozenset[str], _Gain], lots_of: Mapping[str, set[int]]
) -> frozenset[str] | None:
    """The bundle that proves most, None if none proves anything; what each proves is kept in `gains`."""
    worth = []
    for bundle in _bundles(shares):
        if bundle not in gains:
            gains[bundle] = _weigh(bundle, shares, lots_of)
        if gains[bundle].grams > 0:
            worth.append(bundle)
    return min(worth, key=lambda one: gains[one].rank, default=None)


def _lots_waiting(shares: Sequence[_Share]) -> dict[str, set[int]]:
    """By entry the positions of the lots of which some grams wait for it."""
    found: dict[str, set[int]] = {}
    for position, share in enumerate(shares):
        for _, waits in share.waiting:
            for entry in waits:
                found.setdefault(entry, set()).add(position)
    return found


def _weigh(bundle: frozenset[str], shares: Sequence[_Share], lots_of: Mapping[str, set[int]]) -> _Gain:
    """What a bundle of entries would prove."""
    touched = frozenset(lot for entry in bundle for lot in lots_of[entry])
    gain = sum(shares[lot].traced(bundle) - shares[lot].traced() for lot in touched)
    return _Gain((Fraction(-gain, len(bundle)), len(bundle), sorted(bundle)), gain, touched)


def _bundles(shares: Iterable[_Share]) -> Iterator[frozenset[str]]:
    """Bundles worth trying: every one if the entries are few, else what some grams wait for."""
    needs: dict[frozenset[str], None] = {}
    for share in shares:
        provable = [waits for _, waits in share.waiting if _NEVER not in waits]
        needs.update(dict.fromkeys(provable))
        if provable:
            needs[frozenset().union(*provable)] = None
    entries = sorted({entry for waits in needs for entry in waits})
    if len(entries) > EXACT_ENTRIES:
        yield from needs
        return
    for size, _ in enumerate(entries, start=1):
        yield from (frozenset(bundle) for bundle in combinations(entries, size))


def _find_removal(standings: Standings, grams: LotGrams) -> _Removal | None:
    """The rejected parts of a lot, where something that isn't rejected is left without them."""
    curable = _curable(standings, grams)
    out = _rejected_parts(standings, grams, curable)
    gone = [atom for atom in grams.atoms if atom.part in out]
    if not out or len(gone) == len(grams.atoms):
        return None
    faults = frozenset().union(*(atom.faults for atom in gone))
    gaps = sorted(fault for fault in faults if standings.faults[fault].weight == "rejects")
    return _Removal(grams.lot, frozenset(out), frozenset(curable), _say_parts(grams, gone), tuple(gaps))


def _rejected_parts(standings: Standings, grams: LotGrams, curable: Mapping[int, set[Node]]) -> set[int]:
    """The parts of a lot that are rejected whatever is cured, and those whose removal cures something."""
    return {
        atom.part
        for atom in grams.atoms
        if standings.effect(atom.faults, atom.floor, curable) == "rejected"
        or any(grams.sources[atom.part] in curable[fault] for fault in atom.faults if fault in curable)
    }


def _say_parts(grams: LotGrams, gone: Sequence[Atom]) -> tuple[str, ...]:
    """`the 8 g of batch X2 in lot L1`, a text for each part that goes."""
    masses: Counter[int] = Counter()
    for atom in gone:
        masses[atom.part] += atom.weight_mg
    return tuple(
        f"the {format_mass(masses[part])} {_source(grams.sources[part])} in lot {grams.lot}"
        for part in sorted(masses)
    )


def _curable(standings: Standings, grams: LotGrams) -> dict[int, set[Node]]:
    """The rejecting faults of a lot that taking out one of its parts mends, each with the parts."""
    found = {}
    for position in {fault for atom in grams.atoms for fault in atom.faults}:
        fault = standings.faults[position]
        if fault.weight == "rejects" and set(fault.take_out) & set(grams.sources):
            found[position] = set(fault.take_out)
    return found


def _free(standings: Standings, removal: _Removal) -> Mend | None:
    """A removal that adds nothing to what is traced, but frees the rest of its lot once that is proved."""
    left = [atom for atom in standings.lots[removal.lot].atoms if atom.part not in removal.parts]
    provable = sum(
        atom.weight_mg
        for atom in left
        if atom.floor == "traced"
        and all(standings.faults[fault].weight == "unproven" for fault in atom.faults - removal.cures)
    )
    if not provable:
        return None
    told = _list_entries(removal.entries)
    return Mend("take out", told, 0, (removal.lot,), removal.gaps, removal.entries, provable)


def _source(node: Node | None) -> str:
    if node is None:
        return "that no source accounts for"
    return f"from {'batch' if node.table == 'batches' else 'lot'} {node.id}"


def _list_entries(entries: Iterable[str]) -> str:
    """The entries in one sentence; beyond a few the rest are counted."""
    shown = list(entries)
    if len(shown) > _SHOWN + 1:
        shown = [*shown[:_SHOWN], f"{len(shown) - _SHOWN} more"]
    return shown[0] if len(shown) == 1 else f"{', '.join(shown[:-1])} and {shown[-1]}"
