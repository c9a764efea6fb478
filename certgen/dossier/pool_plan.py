"""Leaf pools for the trees still to be screened, and which further test would lower most what is missed.

Planning figures: sensitivities, specificities and the dilution in a pool are assumed, and prices are only
those that were given.
"""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

from certgen.dossier.bag_plan import list_standing
from certgen.dossier.odds import take_shares
from certgen.figures.leaf_pools import PoolDesign, design_pools, dilute, find_cheapest
from certgen.figures.odds import pass_chance
from certgen.records.rows import plain_rows, plain_values
from certgen.standards.practice import HANDLING, PRIOR

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from decimal import Decimal

    from certgen.examination import Result
    from certgen.standards.screening import Method

#: Where the profile has no range for the share of transgenic trees.
_PREVALENCES = (0.01, 0.1)


@dataclass(frozen=True, slots=True)
class MethodPools:
    """One method's pools for the trees to screen.

    `largest` is the most leaves that a pool may hold, `largest_basis` who says so; 1 where nobody does.
    `sees` are the events of concern that it can see, with the right targets where it needs some. `sizes` has
    for each size of pool, from one leaf up, its design at each prevalence. `cheapest` is the size with the
    fewest tests to expect at each prevalence. `price` is that of one test, as given.
    """

    method: str
    title: str
    sensitivity: float
    specificity: float
    largest: int
    largest_basis: str
    sees: tuple[str, ...]
    needs_targets: bool
    sizes: tuple[tuple[PoolDesign, ...], ...]
    cheapest: tuple[int, ...]
    price: Decimal | None


@dataclass(frozen=True, slots=True)
class FurtherTest:
    """One more test of each tree's own leaf: what carriers of the worst event would pass with after it.

    `targets` are those that do equally well alone; empty for a method that needs none. `passing` is the
    chance for a carrier of the event that is then passed most easily, averaged over the trees.
    """

    method: str
    title: str
    targets: tuple[str, ...]
    tests: int
    passing: float
    cost: Decimal | None


@dataclass(frozen=True, slots=True)
class PoolPlan:
    """Trees to screen, to wait for, to give a leaf of their own; each method's pools; further tests.

    `singly` are trees of a positive pool, or whose results contradict one another: no pool settles them.
    `passing` is the chance with which a carrier among the `standing` trees has passed so far, for the event
    that passes most easily.
    """

    variety: str | None
    trees: tuple[str, ...]
    waiting: tuple[str, ...]
    singly: tuple[str, ...]
    prevalences: tuple[float, ...]
    methods: tuple[MethodPools, ...]
    events: tuple[str, ...]
    standing: int
    passing: float | None
    further: tuple[FurtherTest, ...]


def plan_pools(
    result: Result,
    *,
    variety: str | None = None,
    prevalences: Sequence[float] = (),
    prices: Mapping[str, Decimal] | None = None,
) -> PoolPlan:
    """Pools for the trees that stand and that no result clears or condemns, by each method of the profile.

    `prevalences` stand in place of the profile's range of transgenic trees; `prices` are of one test, by
    method.
    """
    standing = list_standing(result, variety)
    open_ = standing["verdict"].isin(["unscreened", "inconclusive"])
    samples = result.case.samples
    unsure = samples["pooled"] & (samples["result"] == "positive") & (samples["doubt"] != "controls")
    alone = (standing["verdict"] == "conflicting") | (open_ & standing["tree"].isin(samples["tree"][unsure]))
    open_ &= ~alone
    pending = standing["tree"].isin(samples["tree"][samples["outcome"] == "pending"])
    trees = tuple(plain_values(standing["tree"][open_ & ~pending]))
    shares = tuple(dict.fromkeys(prevalences)) or _list_prevalences(result)
    given = prices or {}
    kept = tuple(plain_values(standing["tree"][standing["verdict"] != "positive"]))
    events = result.case.events_of_concern
    passing = _list_passing(result, kept, events)
    return PoolPlan(
        variety=variety,
        trees=trees,
        waiting=tuple(plain_values(standing["tree"][open_ & pending])),
        singly=tuple(plain_values(standing["tree"][alone])),
        prevalences=shares,
        methods=tuple(
            _plan_method(result, method, len(trees), shares, given.get(key))
            for key, method in result.profile.methods.items()
        ),
        events=events,
        standing=len(kept),
        passing=_find_worst(passing, events, take_shares(result)[HANDLING]),
        further=_rank_further(result, passing, events, given),
    )


def _list_prevalences(result: Result) -> tuple[float, ...]:
    """Low, usual and high of what practice has for transgenic trees before any test."""
    prior = result.case.practice(PRIOR)
    bounds = () if prior is None else (prior.low, prior.usual, prior.high)
    known = tuple(dict.fromkeys(bound / 100 for bound in bounds if bound is not None))
    return known or _PREVALENCES


def _performance(result: Result, method: str) -> tuple[float, float]:
    """The method's sensitivity and specificity, the season's own in place of the profile's."""
    assumed = take_shares(result)
    return assumed[f"{method}_sensitivity_pct"], assumed[f"{method}_specificity_pct"]


def _plan_method(
    result: Result, method: Method, trees: int, prevalences: Sequence[float], price: Decimal | None
) -> MethodPools:
    finds, spares = _performance(result, method.key)
    most = result.case.practice(f"pool_leaves_{method.key}")
    largest, basis = 1, "No figure says how many leaves a pool may hold, so none is pooled"
    if most is not None and most.high is not None and most.high >= 1:
        largest, basis = int(most.high), f"{most.source} ({most.mark})"
    cheapest: tuple[int, ...] = ()
    sizes: tuple[tuple[PoolDesign, ...], ...] = ()
    if trees:
        best = [find_cheapest(trees, largest, share, finds, spares) for share in prevalences]
        cheapest = tuple(design.leaves for design in best)
        # Pools are made even: those of ten leaves among sixteen trees hold eight.
        evened = {design_pools(trees, size, 0.0).leaves for size in (1, *cheapest, largest)}
        sizes = tuple(
            tuple(design_pools(trees, size, share, finds, spares) for share in prevalences)
            for size in sorted(evened)
        )
    events = result.case.events_of_concern
    seen = method.sees(method.targets)
    return MethodPools(
        method.key,
        method.title,
        finds,
        spares,
        largest,
        basis,
        tuple(event for event in events if event in seen),
        method.needs_targets,
        sizes,
        cheapest,
        price,
    )


#: For each event the chance that each method, at its best negative, passes a carrier.
_ByEvent = dict[str, dict[str, float]]
#: Trees that are alike in that, and how many they are.
_Passing = list[tuple[int, _ByEvent]]


def _list_passing(result: Result, trees: Sequence[str], events: Sequence[str]) -> _Passing:
    """What the trees' negative results leave; repeats of one method count once, the best of them."""
    passing: dict[str, _ByEvent] = {tree: {event: {} for event in events} for tree in trees}
    performance = {key: _performance(result, key)[0] for key in result.profile.methods}
    samples = result.case.samples
    negative = samples[(samples["outcome"] == "negative") & samples["tree"].isin(list(trees))]
    for tree, key, targets, leaves in plain_rows(negative, "tree", "method", "targets", "leaves"):
        method = result.profile.methods.get(key or "")
        if method is None:
            continue
        missed = 1 - dilute(performance[method.key], leaves)
        for event in method.sees(targets or ()) & set(events):
            of_tree = passing[tree][event]
            of_tree[key] = min(missed, of_tree.get(key, 1.0))
    # Thousands of trees have a handful of results between them.
    alike: dict[str, tuple[int, _ByEvent]] = {}
    for by_event in passing.values():
        told = repr(sorted((event, sorted(chances.items())) for event, chances in by_event.items()))
        alike[told] = (alike.get(told, (0, by_event))[0] + 1, by_event)
    return list(alike.values())


def _find_worst(
    passing: _Passing,
    events: Sequence[str],
    handling: float,
    added: tuple[str, frozenset[str], float] | None = None,
) -> float | None:
    """The chance to pass for a carrier of the event that passes most easily, averaged over the trees.

    With the chance `handling` a tested tree's leaf was another's: no further test gets below it. `added` is
    a further single test of each: method, the events it sees, and what it misses. None without a tree or an
    event.
    """
    if not passing or not events:
        return None
    trees = sum(number for number, _ in passing)
    worst = 0.0
    for event in events:
        chances = []
        for number, by_event in passing:
            by_method = dict(by_event[event])
            if added is not None and event in added[1]:
                method, _, missed = added
                by_method[method] = min(missed, by_method.get(method, 1.0))
            passed = pass_chance(by_method.values(), handling) if by_method else 1.0
            chances.append(number * passed)
        worst = max(worst, math.fsum(chances) / trees)
    return worst


def _rank_further(
    result: Result, passing: _Passing, events: Sequence[str], prices: Mapping[str, Decimal]
) -> tuple[FurtherTest, ...]:
    """Each method, with one target where it needs some, by what passes after it; targets that "
    "tie together."""
    if not passing or not events:
        return ()
    handling = take_shares(result)[HANDLING]
    tied: defaultdict[tuple[str, float], list[str]] = defaultdict(list)
    for key, target, sees in _list_tests(result):
        missed = 1 - _performance(result, key)[0]
        worst = _find_worst(passing, events, handling, (key, sees, missed))
        tied[key, round(worst or 0.0, 12)].extend([target] if target else [])
    trees = sum(number for number, _ in passing)
    ranked = [
        FurtherTest(
            key,
            result.profile.methods[key].title,
            tuple(targets),
            trees,
            worst,
            None if key not in prices else prices[key] * trees,
        )
        for (key, worst), targets in tied.items()
    ]
    return tuple(sorted(ranked, key=lambda one: (one.passing, one.method)))


def _list_tests(result: Result) -> Iterator[tuple[str, str, frozenset[str]]]:
    for key, method in result.profile.methods.items():
        if not method.needs_targets:
            yield key, "", method.sees()
            continue
        for target in method.targets:
            yield key, target, method.sees([target])


def price_tests(tests: float, price: Decimal) -> float:
    """What so many tests cost, to two decimals, in whatever money the price was given."""
    return round(tests * float(price), 2)
