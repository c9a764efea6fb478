"""What a season's whole screening would have missed, and how common carriers are by what it found."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from certgen.dossier.odds import count_pools, list_negatives
from certgen.figures.odds import Prevalence, estimate_prevalence, keep_strongest, pass_chance
from certgen.figures.pooled_trees import PoolResult, all_pass_chances
from certgen.standards.practice import HANDLING

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from certgen.dossier.odds import Evidence
    from certgen.examination import Result

#: So many carriers among the screened trees are asked after.
CARRIERS: Final = (1, 2, 3, 5)


@dataclass(frozen=True, slots=True)
class Power:
    """Of the trees that the screening cleared, the chance that so many carriers among them all passed it.

    `chances` go with `carriers`; `screened` is the number of trees whose results can see the events.
    """

    events: tuple[str, ...]
    screened: int
    carriers: tuple[int, ...]
    chances: tuple[float, ...]


def weigh_screening(result: Result, known: Evidence, trees: Iterable[str]) -> tuple[Power, ...]:
    """The power of the whole screening of some trees; events of which the same can be said share a line."""
    cleared = {tree for tree, verdict in result.case.verdicts["verdict"].items() if verdict == "clear"}
    wanted = [tree for tree in dict.fromkeys(trees) if tree in cleared]
    found: dict[tuple[int, tuple[float, ...]], list[str]] = {}
    for event in known.events:
        misses, pools = _screened(known, event, wanted)
        carriers = tuple(number for number in CARRIERS if number <= len(misses))
        if carriers:
            chances = all_pass_chances(misses, pools, carriers[-1], known.shares[HANDLING])
            key = (len(misses), tuple(chances[number] for number in carriers))
            found.setdefault(key, []).append(event)
    return tuple(
        Power(tuple(events), screened, CARRIERS[: len(chances)], chances)
        for (screened, chances), events in found.items()
    )


def _screened(
    known: Evidence, event: str, wanted: Sequence[str]
) -> tuple[dict[str, float], list[PoolResult]]:
    """The wanted trees whose negatives can see an event, with what their own leaves miss; and their pools."""
    pools = [
        PoolResult(False, trees, pool.leaves, pool.sensitivity, pool.specificity)
        for pool in count_pools(known, event)
        if not pool.positive and (trees := pool.trees & set(wanted))
    ]
    in_pools = {tree for pool in pools for tree in pool.trees}
    misses = {}
    for tree in wanted:
        own = keep_strongest(list_negatives(event, known.singles.get(tree, ()), ()))
        if own or tree in in_pools:
            misses[tree] = pass_chance(1 - one.sensitivity for one in own)
    return misses, pools


@dataclass(frozen=True, slots=True)
class Found:
    """How many trees tested singly by a method were positive, and what that says of such trees."""

    method: str
    tested: int
    positive: int
    prevalence: Prevalence | None


def count_found(known: Evidence) -> tuple[Found, ...]:
    """By method the trees that their own leaves were tested by; one with any positive is positive.

    `prevalence` is None for a method that, as assumed, is no better than a coin.
    """
    tested: Counter[str] = Counter()
    positive: Counter[str] = Counter()
    for singles in known.singles.values():
        tested.update({one.result.method for one in singles})
        positive.update({one.result.method for one in singles if one.result.positive})
    found = []
    for method, number in sorted(tested.items()):
        finds, spares = (known.shares[f"{method}_{name}_pct"] for name in ("sensitivity", "specificity"))
        share = estimate_prevalence(positive[method], number, finds, spares) if finds + spares > 1 else None
        found.append(Found(method, number, positive[method], share))
    return tuple(found)
