"""What to do first: which few entries, or parts taken out, turn the most grams to traced.

A gram is proved when every fault that touches it is mended, so entries work in bundles: the bundle
that proves the most grams an entry comes first, then the best of what is left. With few entries every
bundle is tried; beyond that only those that some grams wait for as a whole.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from itertools import accumulate
from typing import TYPE_CHECKING, Final, NamedTuple

from certgen.lineage.weighing import NEVER, Share, TooMuchToWeigh, Waiting, choose_bundles, order_steps
from certgen.records.quantities import format_mass

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence

    from certgen.lineage.graph import Node
    from certgen.lineage.standing import Atom, LotGrams, Standings

_SHOWN: Final = 4
#: How the entry begins that stands for a lot's removal.
_REMOVAL: Final = "\1"
#: So many faults, counted at each part of each lot, are weighed at most.
_MOST_FAULTS: Final = 200_000


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


class Mending(NamedTuple):
    """What to do first. Of the `lots` with grams that aren't traced so many were `weighed`: those for which
    least is missing, all of them unless that takes too long."""

    mends: tuple[Mend, ...]
    lots: int
    weighed: int


def find_mending(standings: Standings, separable: Collection[str] = ()) -> Mending:
    """What to supply and what to take out, what adds most first. Grams that nothing can prove are left alone.

    `separable` names the lots of which nothing has left, so that a part can still be taken out. Where a
    season is so entangled that weighing everything against everything takes too long, only the lots for
    which least is missing are weighed.
    """
    open_ = [grams for grams in standings.lots.values() if _is_open(grams)]
    kept = _choose_lots(grams for grams in open_ if not grams.is_summed)
    while True:
        try:
            chosen = {grams.lot for grams in kept}
            some = standings.only(lot for lot in standings.lots if lot in chosen)
            return Mending(_weigh_lots(some, separable), len(open_), len(kept))
        except TooMuchToWeigh:
            kept = kept[: len(kept) // 4]


def _is_open(grams: LotGrams) -> bool:
    return bool(grams.movements) or grams.is_summed or any(atom.faults for atom in grams.atoms)


def _choose_lots(lots: Iterable[LotGrams]) -> list[LotGrams]:
    """The lots for which least is missing, as many as can be weighed."""
    by_faults = sorted((_count_faults(grams), position, grams) for position, grams in enumerate(lots))
    counts = accumulate(count for count, *_ in by_faults)
    return [grams for (*_, grams), count in zip(by_faults, counts, strict=True) if count <= _MOST_FAULTS]


def _faults_of(grams: LotGrams) -> frozenset[int]:
    return frozenset[int]().union(
        *(atom.faults for atom in grams.atoms), *(held for _, held in grams.movements)
    )


def _count_faults(grams: LotGrams) -> int:
    return sum(1 + len(atom.faults) for atom in grams.atoms) + sum(
        len(faults) for _, faults in grams.movements
    )


def _weigh_lots(standings: Standings, separable: Collection[str]) -> tuple[Mend, ...]:
    """What to do first for all lots. Raises TooMuchToWeigh."""
    choices = _Choices(standings, separable)
    shares = [choices.share(grams) for grams in standings.lots.values()]
    steps = dict.fromkeys(step for bundle in choose_bundles(shares) for step in choices.split(bundle))
    # Of equals what is supplied stands before what is taken out.
    ordered = order_steps(sorted(steps, key=choices.takes_out), shares)
    found = [choices.tell(step, gain, [shares[lot].lot for lot in lots]) for step, gain, lots in ordered]
    done = {mend.lots[0] for mend in found if mend.action == "take out"}
    later = [_free(standings, removal) for lot, removal in choices.removals.items() if lot not in done]
    return (*found, *filter(None, later))


class _Choices:
    """What can be done: the entry that mends each fault, and what can be taken out. Entries have numbers."""

    def __init__(self, standings: Standings, separable: Collection[str]) -> None:
        self.removals = _find_removals(standings, separable)
        self._entries = _entries(standings)
        self._faults = _faults_by_entry(self._entries, self.removals)
        self._names = sorted(self._faults)
        self._numbers = {entry: number for number, entry in enumerate(self._names)}
        self._taken = {self._numbers[removal.entry] for removal in self.removals.values()}

    def takes_out(self, step: frozenset[int]) -> bool:
        """Whether a step stands for a lot's removal."""
        return not self._taken.isdisjoint(step)

    def split(self, bundle: frozenset[int]) -> Iterator[frozenset[int]]:
        """A bundle's removals one by one, then its entries together."""
        removals = sorted(bundle & self._taken)
        yield from (frozenset({entry}) for entry in removals)
        if rest := bundle.difference(removals):
            yield rest

    def share(self, grams: LotGrams) -> Share:
        """A lot's grams by the entries they wait for; those that no entry can prove are left out."""
        faults = _faults_of(grams)
        waits = {fault: self._numbers[self._entries[fault]] for fault in faults if fault in self._entries}
        held = tuple(
            (weight, frozenset(waits.get(at, NEVER) for at in faults)) for weight, faults in grams.movements
        )
        removal = self.removals.get(grams.lot)
        if removal is None:
            return Share(grams.lot, _wait(grams.atoms, waits), held)
        number = self._numbers[removal.entry]
        waits.update(dict.fromkeys(removal.cures, number))
        staying = [atom for atom in grams.atoms if atom.part not in removal.parts]
        going = [atom for atom in grams.atoms if atom.part in removal.parts]
        return Share(grams.lot, _wait(staying, waits), held, _wait(going, waits), number)

    def tell(self, step: frozenset[int], gain: int, lots: Iterable[str]) -> Mend:
        """A step in words."""
        told = [self._names[number] for number in sorted(step)]
        gaps = tuple(sorted({fault for entry in told for fault in self._faults[entry]}))
        if not self.takes_out(step):
            return Mend("supply", _list_entries(told), gain, tuple(lots), gaps, tuple(told))
        removal = self.removals[told[0].removeprefix(_REMOVAL)]
        return Mend("take out", _list_entries(removal.entries), gain, (removal.lot,), gaps, removal.entries)


def _wait(atoms: Iterable[Atom], waits: Mapping[int, int]) -> tuple[Waiting, ...]:
    """The atoms that something can prove, by what they wait for."""
    return tuple(
        (atom.weight_mg, frozenset(waits[fault] for fault in atom.faults))
        for atom in atoms
        if atom.floor == "traced" and atom.faults <= waits.keys()
    )


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


def _entries(standings: Standings) -> dict[int, str]:
    """The entry that mends each unproven fault. Faults with one entry are mended together."""
    return {
        position: fault.supply or f"what gap {position + 1} asks for"
        for position, fault in enumerate(standings.faults)
        if fault.weight == "unproven" and fault.touches != "whole"
    }


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
