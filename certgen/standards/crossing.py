"""Where rulebooks part: one season checked against several standards at once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from certgen.standards.reading import FrozenMapping
from certgen.standards.rulebook import Demand, DemandKind, Rulebook, demand_kinds


@dataclass(frozen=True, slots=True)
class Crossing:
    """One demand across rulebooks: what each asks (None: nothing), whether that is the same, who asks most.

    `strictest` names every rulebook whose demand, met, meets the others' too; it is empty when none does,
    as with lists that overlap, and when the demand has no order.
    """

    key: str
    title: str
    unit: str
    asked: Mapping[str, Demand | None]
    same: bool
    strictest: tuple[str, ...]


def crossing(rulebooks: Sequence[Rulebook]) -> tuple[Crossing, ...]:
    """The demands that at least one of the rulebooks makes, in the order of the demands' own list."""
    found = []
    for kind in demand_kinds().values():
        asked = {book.key: book.demands.get(kind.key) for book in rulebooks}
        if any(asked.values()):
            found.append(
                Crossing(
                    key=kind.key,
                    title=kind.title,
                    unit=kind.unit,
                    asked=FrozenMapping(asked),
                    same=len({None if one is None else one.value for one in asked.values()}) == 1,
                    strictest=_strictest(kind, {key: one for key, one in asked.items() if one is not None}),
                )
            )
    return tuple(found)


def _strictest(kind: DemandKind, made: Mapping[str, Demand]) -> tuple[str, ...]:
    def meets(key: str, other: str) -> bool:
        mine, theirs = made[key].value, made[other].value
        if mine == theirs:
            return True
        if isinstance(mine, tuple) and isinstance(theirs, tuple):
            return set(mine) >= set(theirs) if kind.stricter == "all of" else set(mine) <= set(theirs)
        if isinstance(mine, int | float) and isinstance(theirs, int | float):
            return mine > theirs if kind.stricter == "higher" else kind.stricter == "lower" and mine < theirs
        return False

    return tuple(key for key in made if all(meets(key, other) for other in made))
