"""What screening leaves open of each tree: what a carrier would have passed with, and its chance to be one.

Planning figures: they rest on assumed test performances and handling, all listed by `list_assumptions` and
all changeable under `practice:` in the season. What they mean for a lot stands in `certgen.dossier.lot_odds`.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, NamedTuple

from certgen.figures.leaf_pools import dilute
from certgen.figures.odds import (
    MethodResult,
    find_weights,
    keep_strongest,
    pass_chance,
)
from certgen.figures.pooled_trees import (
    PoolResult,
    weigh_pooled,
)
from certgen.records.rows import plain_rows, plain_values
from certgen.standards.practice import HANDLING, PRIOR, list_assumed

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from certgen.examination import Result
    from certgen.figures.pooled_trees import Chance, Weights

#: The method by which a lot's own seed is tested in pools.
SEED_METHOD: Final = "pcr"


@dataclass(frozen=True, slots=True)
class Assumption:
    """A figure that the odds rest on: the name to change it by, what it is, its per cent, its source."""

    key: str
    title: str
    percent: float
    source: str
    mark: str


def list_assumptions(result: Result) -> tuple[Assumption, ...]:
    """Every assumed figure, the season's own in place of the profile's."""
    assumptions = []
    for key in list_assumed(result.profile):
        practice = result.case.practice(key)
        if practice is not None and practice.usual is not None:
            assumptions.append(
                Assumption(key, practice.title, practice.usual, practice.source, practice.mark)
            )
    return tuple(assumptions)


def take_shares(result: Result) -> dict[str, float]:
    """The assumed figures as shares from 0 to 1, by the name to change them by."""
    return {assumption.key: assumption.percent / 100 for assumption in list_assumptions(result)}


def find_floor(result: Result) -> float:
    """The share below which no odds are told: the least that handling errors are taken to be."""
    practice = result.case.practice(HANDLING)
    return 0.0 if practice is None or practice.low is None else practice.low / 100


def list_priors(result: Result) -> tuple[float, ...]:
    """The chances before any test that figures are shown for: the crop's low, usual and high figure."""
    practice = result.case.practice(PRIOR)
    given = () if practice is None else (practice.low, practice.usual, practice.high)
    return tuple(sorted({percent / 100 for percent in given if percent is not None}))


class Single(NamedTuple):
    """A result of one tree's own leaf, the events of concern that its method sees, and it in words."""

    result: MethodResult
    sees: frozenset[str]
    words: str


class Pooled(NamedTuple):
    """A result of a pool of leaves, by which method, the events of concern that this sees, and in words."""

    method: str
    result: PoolResult
    sees: frozenset[str]
    words: str


@dataclass(frozen=True, slots=True)
class Evidence:
    """What counting samples say of the register's trees: by tree those of its own leaves and of its pools.

    `pools` are all pools, `events` the events of concern, `shares` the assumed figures as shares.
    """

    trees: tuple[str, ...]
    events: tuple[str, ...]
    shares: Mapping[str, float]
    singles: Mapping[str, Sequence[Single]]
    pools: Sequence[Pooled]
    pooled: Mapping[str, Sequence[Pooled]]


class _Sample(NamedTuple):
    """A counting sample of a tree as the columns of `case.samples` have it."""

    row: int
    tree: str | None
    method: str
    targets: Sequence[str] | None
    outcome: str
    result: str | None
    doubt: str
    leaves: int
    pooled: bool

    @property
    def positive(self) -> bool:
        """Whether it, or the pool that it was in, came out positive."""
        unsure = self.pooled and self.result == "positive" and self.doubt != "controls"
        return self.outcome == "positive" or unsure


def gather_evidence(result: Result) -> Evidence:
    """The samples that count, of all years: void ones are left out, and pools that missed a known carrier.

    A negative of a pool larger than its method bears says nothing; a positive of one does.
    """
    shares, events = take_shares(result), result.case.events_of_concern
    singles: defaultdict[str, list[Single]] = defaultdict(list)
    pools: defaultdict[int, list[_Sample]] = defaultdict(list)
    sees: dict[tuple[str, tuple[str, ...]], frozenset[str]] = {}
    for sample in map(_Sample._make, plain_rows(result.case.samples, *_Sample._fields)):
        method = result.profile.methods.get(sample.method)
        if sample.tree is None or method is None or not (sample.positive or sample.outcome == "negative"):
            continue
        kind = (sample.method, tuple(sample.targets or ()))
        if kind not in sees:
            sees[kind] = frozenset(method.sees(kind[1])) & frozenset(events)
        if sample.pooled:
            pools[sample.row].append(sample)
        else:
            singles[sample.tree].append(_make_single(sample, sees[kind], shares))
    listed = [
        _make_pool(members, sees[members[0].method, tuple(members[0].targets or ())], shares)
        for members in pools.values()
    ]
    trees = tuple(dict.fromkeys(plain_values(result.season.table("trees")["tree"])))
    return Evidence(trees, events, shares, dict(singles), listed, _by_tree(listed))


def _by_tree(pools: Sequence[Pooled]) -> dict[str, list[Pooled]]:
    found: defaultdict[str, list[Pooled]] = defaultdict(list)
    for pool in pools:
        for tree in pool.result.trees:
            found[tree].append(pool)
    return dict(found)


def perform(method: str, shares: Mapping[str, float]) -> tuple[float, float]:
    """A method's sensitivity and specificity for a single leaf."""
    return shares[f"{method}_sensitivity_pct"], shares[f"{method}_specificity_pct"]


def list_used(result: Result, known: Evidence) -> tuple[Assumption, ...]:
    """The assumptions without the figures of methods by which nothing of this evidence was tested."""
    used = {one.result.method for singles in known.singles.values() for one in singles}
    used |= {pool.method for pool in known.pools}
    if (result.season.table("tests")["kind"] == "transgene").any():
        used.add(SEED_METHOD)
    idle = {
        f"{method}_{figure}_pct"
        for method in result.profile.methods
        if method not in used
        for figure in ("sensitivity", "specificity")
    }
    return tuple(one for one in list_assumptions(result) if one.key not in idle)


def _make_single(sample: _Sample, sees: frozenset[str], shares: Mapping[str, float]) -> Single:
    words = f"{sample.method} {'positive' if sample.positive else 'negative'}"
    result = MethodResult(sample.method, sample.positive, *perform(sample.method, shares))
    return Single(result, sees, words)


def _make_pool(members: Sequence[_Sample], sees: frozenset[str], shares: Mapping[str, float]) -> Pooled:
    first = members[0]
    trees = frozenset(sample.tree for sample in members if sample.tree is not None)
    words = f"{first.method} {'positive' if first.positive else 'negative'} in a pool of {first.leaves}"
    result = PoolResult(first.positive, trees, first.leaves, *perform(first.method, shares))
    return Pooled(first.method, result, sees, words)


@dataclass(frozen=True, slots=True)
class TreeOdds:
    """What a tree's results leave open. Chances from 0 to 1.

    `passing` is, by event, the chance that a carrier would have had these negatives: 1 where none can see it.
    `unseen` are the events of concern that none of its results can see.
    """

    tree: str
    results: tuple[str, ...]
    unseen: tuple[str, ...]
    passing: Mapping[str, float]


def weigh_trees(result: Result, evidence: Evidence | None = None) -> dict[str, TreeOdds]:
    """Every tree of the register with what its results leave open; repeats of one method count once.

    Each event stands by itself: what is listed beside it changes nothing.
    """
    known = gather_evidence(result) if evidence is None else evidence
    alike: dict[tuple[object, ...], TreeOdds] = {}
    found = {}
    for tree in known.trees:
        own, pooled = tuple(known.singles.get(tree, ())), tuple(known.pooled.get(tree, ()))
        # Trees are many, kinds of evidence few.
        kind = (own, *((pool.method, pool.result.positive, pool.result.leaves, pool.sees) for pool in pooled))
        if kind not in alike:
            alike[kind] = _weigh_tree(known, tree, own, pooled)
        same = alike[kind]
        found[tree] = TreeOdds(tree, same.results, same.unseen, same.passing)
    return found


def _weigh_tree(known: Evidence, tree: str, own: Sequence[Single], pooled: Sequence[Pooled]) -> TreeOdds:
    pieces: tuple[Single | Pooled, ...] = (*own, *pooled)
    seen: frozenset[str] = frozenset().union(*(piece.sees for piece in pieces))
    words = tuple(dict.fromkeys(piece.words for piece in pieces))
    unseen = tuple(event for event in known.events if event not in seen)
    error = known.shares[HANDLING]
    passing = {}
    for event in known.events:
        misses = list_misses(known, event, tree)
        passing[event] = pass_chance(misses, error) if misses else 1.0
    return TreeOdds(tree, words, unseen, passing)


def list_misses(known: Evidence, event: str, tree: str) -> list[float]:
    """What each method that was negative on a tree and sees the event misses, in the order of their names."""
    found = list_negatives(event, known.singles.get(tree, ()), known.pooled.get(tree, ()))
    return [1 - one.sensitivity for one in keep_strongest(found)]


def list_negatives(event: str, own: Sequence[Single], pooled: Sequence[Pooled]) -> list[MethodResult]:
    """The negatives that see an event, a pool's as one of a leaf so diluted."""
    found = [one.result for one in own if event in one.sees and not one.result.positive]
    return found + [
        MethodResult(
            one.method,
            positive=False,
            sensitivity=dilute(one.result.sensitivity, one.result.leaves),
            specificity=one.result.specificity,
        )
        for one in pooled
        if event in one.sees and not one.result.positive
    ]


def find_chances(known: Evidence, prior: float) -> dict[str, dict[str, Chance]]:
    """By event and tree the chance that it carries, after all results, from a chance before of `prior`.

    Trees of a pool are judged together; handling errors are reckoned with.
    """
    error = known.shares[HANDLING]
    alike: dict[tuple[MethodResult, ...], Weights] = {}

    def weigh(tree: str, event: str) -> Weights:
        own = tuple(one.result for one in known.singles.get(tree, ()) if event in one.sees)
        if own not in alike:
            alike[own] = find_weights(prior, own, error)
        return alike[own]

    trees = dict.fromkeys((*known.trees, *known.pooled))
    # Events that the same results see have the same chances.
    sights = {one.sees for singles in known.singles.values() for one in singles}
    sights |= {pool.sees for pool in known.pools}
    by_sight: dict[frozenset[frozenset[str]], dict[str, Chance]] = {}
    found = {}
    for event in known.events:
        seen = frozenset(sees for sees in sights if event in sees)
        if seen not in by_sight:
            weights = {tree: weigh(tree, event) for tree in trees}
            by_sight[seen] = weigh_pooled(weights, count_pools(known, event))
        found[event] = by_sight[seen]
    return found


def count_pools(known: Evidence, event: str) -> list[PoolResult]:
    """The pools that see an event, each tree in them as often as it counts.

    In a negative pool a tree doesn't count that has a result of its own by the same method, or stands in a
    smaller negative pool of it: repeats of one method share its blind spots. Of positive pools of one method
    with the same trees one counts.
    """
    found: dict[object, PoolResult] = {}
    counted: set[tuple[str, str]] = {
        (one.result.method, tree)
        for tree, singles in known.singles.items()
        for one in singles
        if event in one.sees
    }
    for one in sorted(known.pools, key=lambda pool: pool.result.leaves):
        pool = one.result
        if event not in one.sees:
            continue
        if pool.positive:
            found.setdefault((one.method, pool.trees), pool)
            continue
        left = frozenset(tree for tree in pool.trees if (one.method, tree) not in counted)
        counted.update((one.method, tree) for tree in left)
        if left:
            found[one] = PoolResult(False, left, pool.leaves, pool.sensitivity, pool.specificity)
    return list(found.values())
