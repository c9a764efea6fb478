"""The shortest way to clean: which few entries, or parts taken out, turn the most grams to traced.

A gram is proved when every fault that touches it is mended, so entries work in bundles: the bundle
that proves the most grams an entry comes first, then the best of what is left. With few entries every
bundle is tried; beyond that only those that some grams wait for as a whole.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations
from typing import TYPE_CHECKING, Final, NamedTuple

from certgen.records.quantities import format_mass

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from certgen.lineage.graph import Node
    from certgen.lineage.standing import LotGrams, Standings

#: With so many entries or fewer every bundle is tried (4,096 of them at most).
EXACT_ENTRIES: Final = 12
_SHOWN: Final = 4
#: What grams wait for that no entry can give.
_NEVER: Final = "\0"
#: A mass in milligrams and the entries it waits for.
_Waiting = tuple[int, frozenset[str]]


@dataclass(frozen=True, slots=True)
class Mend:
    """Something to do, what it proves and where.

    `action` is `supply` or `take out`. `entries` are the single things to do, `text` names them all.
    `proves_mg` counts the grams that become traced once everything before it in the list is done; for
    a part taken out, the grams that are left and traced in a lot that then holds nothing rejected.
    `gaps` are positions in the list of faults.
    """

    action: str
    text: str
    proves_mg: int
    lots: tuple[str, ...]
    gaps: tuple[int, ...]
    entries: tuple[str, ...] = ()


class _Share:
    """A lot's grams by the entries they wait for, and movements that hold grams back meanwhile."""

    def __init__(self, lot: str, atoms: list[_Waiting], held: list[_Waiting]) -> None:
        self.lot = lot
        self._proved = 0
        self._atoms = atoms
        self._held = held
        self.supply(frozenset())

    @property
    def waiting(self) -> list[_Waiting]:
        """Grams with the entries they wait for."""
        return self._atoms + self._held

    def traced(self, bundle: frozenset[str] = frozenset()) -> int:
        """The grams that are traced once a bundle is supplied too."""
        proved = sum(weight for weight, waits in self._atoms if waits <= bundle)
        held = sum(weight for weight, waits in self._held if not waits <= bundle)
        return max(0, self._proved + proved - held)

    def supply(self, bundle: frozenset[str]) -> None:
        """Takes a bundle as supplied from now on."""
        left = [(weight, waits - bundle) for weight, waits in self._atoms]
        self._proved += sum(weight for weight, waits in left if not waits)
        self._atoms = [(weight, waits) for weight, waits in left if waits]
        held = [(weight, waits - bundle) for weight, waits in self._held]
        self._held = [(weight, waits) for weight, waits in held if waits]


class _Gain(NamedTuple):
    """What a bundle proves, in milligrams, in which lots; the rank is the lower the better."""

    rank: tuple[Fraction, int, list[str]]
    grams: int
    lots: frozenset[int]


def find_mending(standings: Standings) -> tuple[Mend, ...]:
    """What to supply and what to take out, best first. Grams that nothing can prove are left alone."""
    entries = _entries(standings)
    shares = [_share(grams, entries) for grams in standings.lots.values()]
    supplied = list(_supply(shares))
    by_entry: dict[str, list[int]] = {}
    for fault, entry in entries.items():
        by_entry.setdefault(entry, []).append(fault)
    found = [
        Mend(
            "supply",
            _list_entries(sorted(bundle)),
            proves,
            lots,
            tuple(sorted(fault for entry in bundle for fault in by_entry[entry])),
            tuple(sorted(bundle)),
        )
        for bundle, proves, lots in supplied
    ]
    removals = [one for grams in standings.lots.values() for one in _take_out(standings, grams)]
    later = [mend for mend, at_once in removals if not at_once]
    return (*_interleave(found, [mend for mend, at_once in removals if at_once]), *later)


def _entries(standings: Standings) -> dict[int, str]:
    """The entry that mends each unproven fault. Faults with one entry are mended together."""
    return {
        position: fault.supply or f"what gap {position + 1} asks for"
        for position, fault in enumerate(standings.faults)
        if fault.weight == "unproven"
    }


def _share(grams: LotGrams, entries: dict[int, str]) -> _Share:
    """A lot's grams by the entries they wait for; those that no entry can prove are left out."""
    atoms = [
        (atom.weight_mg, frozenset(entries[fault] for fault in atom.faults))
        for atom in grams.atoms
        if atom.floor == "traced" and atom.faults <= entries.keys()
    ]
    held = [
        (weight, frozenset(entries.get(fault, _NEVER) for fault in faults))
        for weight, faults in grams.movements
    ]
    return _Share(grams.lot, atoms, held)


def _supply(shares: list[_Share]) -> Iterator[tuple[frozenset[str], int, tuple[str, ...]]]:
    """Bundles of entries, each the best of what is left, until nothing more can be proved."""
    lots_of: dict[str, set[int]] = {}
    for position, share in enumerate(shares):
        for _, waits in share.waiting:
            for entry in waits:
                lots_of.setdefault(entry, set()).add(position)
    gains: dict[frozenset[str], _Gain] = {}
    while True:
        worth = []
        for bundle in _bundles(shares):
            if bundle not in gains:
                touched = frozenset(lot for entry in bundle for lot in lots_of[entry])
                gain = sum(shares[lot].traced(bundle) - shares[lot].traced() for lot in touched)
                rank = (Fraction(-gain, len(bundle)), len(bundle), sorted(bundle))
                gains[bundle] = _Gain(rank, gain, touched)
            if gains[bundle].grams > 0:
                worth.append(bundle)
        if not worth:
            return
        bundle = min(worth, key=lambda one: gains[one].rank)
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


def _take_out(standings: Standings, grams: LotGrams) -> list[tuple[Mend, bool]]:
    """Taking a lot's rejected parts out, where something traced or provable is left; and whether it helps
    at once, or only when the rest has been proved.
    """
    named = {
        fault: set(standings.faults[fault].take_out)
        for atom in grams.atoms
        for fault in atom.faults
        if standings.faults[fault].take_out and standings.faults[fault].weight == "rejects"
    }
    curable = {fault for fault, parts in named.items() if parts & set(grams.sources)}
    out = {
        atom.part
        for atom in grams.atoms
        if standings.effect(atom.faults, atom.floor, curable) == "rejected"
        or any(grams.sources[atom.part] in named[fault] for fault in atom.faults & curable)
    }
    left = [atom for atom in grams.atoms if atom.part not in out]
    standing = [(atom.weight_mg, standings.effect(atom.faults, atom.floor, curable)) for atom in left]
    proves = sum(weight for weight, word in standing if word == "traced")
    # Where nothing is traced yet, what the entries above it in the list will have proved counts.
    provable = sum(
        atom.weight_mg
        for atom in left
        if atom.floor == "traced"
        and all(standings.faults[fault].weight == "unproven" for fault in atom.faults - curable)
    )
    if not out or not (proves or provable):
        return []
    gone = [atom for atom in grams.atoms if atom.part in out]
    entries = tuple(
        f"the {format_mass(sum(atom.weight_mg for atom in gone if atom.part == part))} "
        f"{_source(grams.sources[part])} in lot {grams.lot}"
        for part in sorted(out)
    )
    gaps = {fault for atom in gone for fault in atom.faults if standings.faults[fault].weight == "rejects"}
    mend = Mend(
        "take out", _list_entries(entries), proves or provable, (grams.lot,), tuple(sorted(gaps)), entries
    )
    return [(mend, proves > 0)]


def _source(node: Node | None) -> str:
    if node is None:
        return "that no source accounts for"
    return f"from {'batch' if node.table == 'batches' else 'lot'} {node.id}"


def _interleave(supply: list[Mend], take_out: list[Mend]) -> tuple[Mend, ...]:
    """Both kinds by grams an entry; the bundles keep their order, for each builds on those before it."""
    take_out = sorted(take_out, key=lambda mend: Fraction(-mend.proves_mg, len(mend.entries)))
    found: list[Mend] = []
    for mend in supply:
        rate = Fraction(mend.proves_mg, len(mend.entries))
        while take_out and Fraction(take_out[0].proves_mg, len(take_out[0].entries)) > rate:
            found.append(take_out.pop(0))
        found.append(mend)
    return (*found, *take_out)


def _list_entries(entries: Iterable[str]) -> str:
    """The entries in one sentence; beyond a few the rest are counted."""
    shown = list(entries)
    if len(shown) > _SHOWN + 1:
        shown = [*shown[:_SHOWN], f"{len(shown) - _SHOWN} more"]
    return shown[0] if len(shown) == 1 else f"{', '.join(shown[:-1])} and {shown[-1]}"
