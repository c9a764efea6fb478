"""What each lot's grams are worth: traced, unproven, rejected or unaccounted.

A lot is a list of atoms, each with the faults that touch it (`lineage.judging` takes it apart); its standing
follows from the faults that aren't mended. Grams that a count found gone are unaccounted, which is never
traced.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from typing import TYPE_CHECKING, Final, NamedTuple

from certgen.lineage.faults import EFFECT

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterable, Mapping, Sequence

    from certgen.lineage.faults import Fault
    from certgen.lineage.graph import Node

STANDINGS: Final = ("traced", "unproven", "rejected", "unaccounted")
#: From the best to the worst that grams of a lot can be.
RANKS: Final[Mapping[str, int]] = {
    standing: rank for rank, standing in enumerate(("traced", "unaccounted", "unproven", "rejected"))
}
_STANDING_OF: Final = {rank: standing for standing, rank in RANKS.items()}


class Atom(NamedTuple):
    """Grams of a lot that share everything: the part they came in with, the lot's stage, and the faults.

    `floor` is the best standing they can have when all those faults are mended.
    """

    weight_mg: int
    part: int
    stage: int
    floor: str
    faults: frozenset[int]


class Supply(NamedTuple):
    """Grams of a lot and where they came from; of bought seed the packet that leads it back to its parents
    (a node of the table `packets`, which no lineage holds)."""

    source: Node
    weight_mg: int


@dataclass(frozen=True, slots=True)
class Part:
    """One source of a lot. `source` is None for grams that no source accounts for. Masses in milligrams."""

    source: Node | None
    weight_mg: int
    traced_mg: int
    unproven_mg: int
    rejected_mg: int
    unaccounted_mg: int = 0


@dataclass(frozen=True, slots=True)
class LotStanding:
    """A lot's standing by gram: its four masses add up to `weight_mg`, exactly.

    `standing` is the worst that any gram has; grams that are nowhere, and sums that don't meet, leave the
    lot as a whole unproven. The parts say what came in; grams whose own movement lacks something count as
    unproven in the totals but not in the parts.
    """

    lot: str
    variety: str
    standing: str
    weight_mg: int
    traced_mg: int
    unproven_mg: int
    rejected_mg: int
    unaccounted_mg: int = 0
    parts: tuple[Part, ...] = ()


@dataclass(frozen=True, slots=True)
class LotGrams:
    """A lot taken apart into atoms, with the movements that a fault stands at and faults of it as a whole.

    `mixed` are the faults of what changed the lot, one after the other: each opened a stage. Where
    `is_summed`, what was blended into it is told by what it is worth, and not by its faults one by one.
    """

    lot: str
    variety: str
    weight_mg: int
    sources: tuple[Node | None, ...]
    atoms: tuple[Atom, ...]
    movements: tuple[tuple[int, frozenset[int]], ...] = ()
    whole: frozenset[int] = frozenset()
    mixed: tuple[frozenset[int], ...] = ()
    is_summed: bool = False

    def at(self, stage: int) -> Sequence[Atom]:
        """What was in the lot at a stage: what left then, or what left later without what came in since.

        Where nothing did, the lot as it is.
        """
        own = len(self.sources) - len(self.mixed)
        since = frozenset().union(*self.mixed[stage:]) - frozenset().union(*self.mixed[:stage])
        then = [atom for atom in self.atoms if atom.stage == stage]
        later = [
            atom._replace(faults=atom.faults - since)
            for atom in self.atoms
            if atom.stage > stage and atom.part < own + stage
        ]
        return then or later or self.atoms

    def renumbered(self, renumber: Callable[[frozenset[int]], frozenset[int]]) -> LotGrams:
        """The same with each of its faults at another position."""
        return replace(
            self,
            atoms=tuple(atom._replace(faults=renumber(atom.faults)) for atom in self.atoms),
            movements=tuple((weight, renumber(faults)) for weight, faults in self.movements),
            whole=renumber(self.whole),
            mixed=tuple(map(renumber, self.mixed)),
        )


@dataclass(frozen=True)
class Standings:
    """Every lot with the faults that touch it; says its standing with any of them mended."""

    faults: tuple[Fault, ...]
    lots: Mapping[str, LotGrams]

    def judge(self, mended: Collection[int] = frozenset()) -> dict[str, LotStanding]:
        """Every lot's standing, as if the faults with these positions were mended."""
        return {lot: self._judge_lot(grams, mended) for lot, grams in self.lots.items()}

    def only(self, lots: Iterable[str]) -> Standings:
        """The same of some lots alone."""
        return Standings(self.faults, {lot: self.lots[lot] for lot in lots if lot in self.lots})

    def under(self, faults: Sequence[Fault]) -> Standings | None:
        """The same lots under other faults, of which those that tell are the same in the same order.

        None where they aren't: then the lots have to be taken apart again.
        """
        before, after = ([at for at, one in enumerate(some) if one.tells] for some in (self.faults, faults))
        if [self.faults[at] for at in before] != [faults[at] for at in after]:
            return None
        if before == after:
            return Standings(tuple(faults), self.lots)
        renumbered = dict(zip(before, after, strict=True))
        # Very many atoms share few sets.
        renumber = cache(lambda positions: frozenset(renumbered[at] for at in positions))
        return Standings(tuple(faults), {lot: grams.renumbered(renumber) for lot, grams in self.lots.items()})

    def effect(self, faults: Iterable[int], floor: str, mended: Collection[int]) -> str:
        """What the faults that are left make of grams."""
        return find_effect((self.faults[fault] for fault in faults if fault not in mended), floor)

    def _effects(
        self, atoms: Iterable[Atom], mended: Collection[int]
    ) -> dict[tuple[frozenset[int], str], str]:
        """What is made of atoms, by their faults and floor: many share both."""
        alike = {(atom.faults, atom.floor) for atom in atoms}
        return {(faults, floor): self.effect(faults, floor, mended) for faults, floor in alike}

    def worst_at(self, lot: str, stage: int, mended: Collection[int] = frozenset()) -> str:
        """The worst that any gram is that was in the lot at a stage; unproven for a lot that isn't known."""
        grams = self.lots.get(lot)
        if grams is None:
            return "unproven"
        effects = self._effects(grams.at(stage), mended)
        known = [effect for effect in effects.values() if effect != "unaccounted"]
        return max(known, key=RANKS.__getitem__, default="unproven")

    def _judge_lot(self, grams: LotGrams, mended: Collection[int]) -> LotStanding:
        totals = [dict.fromkeys(STANDINGS, 0) for _ in grams.sources]
        effects = self._effects(grams.atoms, mended)
        for atom in grams.atoms:
            totals[atom.part][effects[atom.faults, atom.floor]] += atom.weight_mg
        whole = {standing: sum(part[standing] for part in totals) for standing in STANDINGS}
        self._hold_back(whole, grams, mended)
        open_ = bool(grams.whole - frozenset(mended)) or whole["unaccounted"] or whole["unproven"]
        worst = "rejected" if whole["rejected"] else "unproven" if open_ else "traced"
        parts = tuple(
            Part(
                source,
                sum(part.values()),
                part["traced"],
                part["unproven"],
                part["rejected"],
                part["unaccounted"],
            )
            for source, part in zip(grams.sources, totals, strict=True)
        )
        return LotStanding(
            grams.lot,
            grams.variety,
            worst,
            grams.weight_mg,
            whole["traced"],
            whole["unproven"],
            whole["rejected"],
            whole["unaccounted"],
            parts,
        )

    def _hold_back(self, whole: dict[str, int], grams: LotGrams, mended: Collection[int]) -> None:
        """Moves what left by movements that a fault stands at; thousands of one number share their faults."""
        alike = {faults for _, faults in grams.movements}
        effects = {faults: self.effect(faults, "traced", mended) for faults in alike}
        for weight, faults in grams.movements:
            if effects[faults] != "traced":
                _move(whole, weight, effects[faults])


def find_effect(faults: Iterable[Fault], floor: str) -> str:
    """What faults make of grams that are no better than `floor`."""
    if floor == "unaccounted":
        return floor
    worst = RANKS[floor]
    for fault in faults:
        if fault.touches == "missing":
            return "unaccounted"
        worst = max(worst, RANKS[EFFECT[fault.weight]])
    return _STANDING_OF[worst]


def _move(whole: dict[str, int], weight: int, effect: str) -> None:
    """Moves a movement's grams to a worse standing: out of the traced ones first."""
    for standing in ("traced", "unproven")[: RANKS[effect] - 1]:
        taken = min(weight, whole[standing])
        whole[standing] -= taken
        whole[effect] += taken
        weight -= taken


def apportion(total: int, weights: Sequence[int]) -> list[int]:
    """`total` shared out in proportion to the weights, by largest remainder.

    Whole numbers that add up to `total` exactly. Equal remainders go to the earlier weight. With
    nothing to go by (all weights zero) everything falls to the first.
    """
    whole = sum(weights)
    if whole == 0:
        return [total if position == 0 else 0 for position in range(len(weights))]
    shares = [total * weight // whole for weight in weights]
    remainders = [total * weight % whole for weight in weights]
    left = total - sum(shares)
    for position in sorted(range(len(weights)), key=lambda at: -remainders[at])[:left]:
        shares[position] += 1
    return shares
