"""Trees tested in pools of leaves: what a pool's result says of each tree, and what a whole screening misses.

A pool's trees are judged together: a positive pool says that at least one of them carries, and which one it
may be depends on what else is known of each. That is computed exactly over all ways in which the trees may
carry, gathered by number; where pools overlap so much that this takes too long, bounds stand in its place.
"""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING, Final, NamedTuple

from certgen.figures.arguments import check_count, check_proportion
from certgen.figures.leaf_pools import dilute

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

#: States of overlapping pools looked at; beyond it bounds are given. A pool of 20 trees alone has 21.
MOST_STATES: Final = 4_000


class Weights(NamedTuple):
    """What Bayes compares of one tree: π·P(results | carrier), divided by whether its own leaf was tested,
    and (1-π)·P(results | none)."""

    seen: float
    mislaid: float
    clean: float

    @property
    def total(self) -> float:
        """Their sum; 0 where the results cannot occur together."""
        return self.seen + self.mislaid + self.clean


@dataclass(frozen=True, slots=True)
class PoolResult:
    """A pool's result: its trees, the leaves in it, and the method's figures for a single leaf (0 to 1).

    `trees` may be fewer than the `leaves`: those left out have better results by the same method. More are
    refused where the pool is weighed.
    """

    positive: bool
    trees: frozenset[str]
    leaves: int
    sensitivity: float
    specificity: float = 1.0

    def likelihood(self, carriers: int) -> float:
        """The chance of this result with so many carriers among its trees."""
        found = dilute(self.sensitivity, self.leaves, carriers) if carriers else 1 - self.specificity
        return found if self.positive else 1 - found


@dataclass(frozen=True, slots=True)
class Chance:
    """A chance from 0 to 1, exact where `low` and `high` are one, else somewhere between them."""

    low: float
    high: float

    @property
    def exact(self) -> bool:
        """Whether it is one figure."""
        return self.low == self.high


UNKNOWN: Final = Chance(0.0, 1.0)
"""The chance where results contradict one another beyond doubt."""


def weigh_pooled(
    weights: Mapping[str, Weights], pools: Sequence[PoolResult], most_states: int = MOST_STATES
) -> dict[str, Chance]:
    """The chance that each tree carries, after the pools' results, all trees of a pool judged together.

    `weights` are each tree's after its own results, as `find_weights` gives them; trees are independent
    before the pools, and a carrier whose leaf was mislaid isn't in the pool. Bayes over every number of
    carriers in each group of trees that stand in the same pools. Trees whose results cannot occur together
    are `UNKNOWN`. Raises ValueError for weights below nothing, and for a pool's tree without any.
    """
    check_count(most_states, "The number of states")
    for weight in (part for one in weights.values() for part in one):
        check_proportion(weight, "A tree's weight")
    _check_pools(weights, pools)
    found = {tree: _weigh_alone(one) for tree, one in weights.items()}
    for trees, together in _components(pools):
        found |= _weigh_together({tree: weights[tree] for tree in trees}, together, most_states)
    return found


def _check_pools(trees: Mapping[str, object], pools: Sequence[PoolResult]) -> None:
    for pool in pools:
        check_proportion(pool.sensitivity, "The sensitivity")
        check_proportion(pool.specificity, "The specificity")
        leaves = check_count(pool.leaves, "The number of leaves in a pool", least=1)
        if leaves < len(pool.trees):
            raise ValueError(f"{len(pool.trees)} trees in a pool of {leaves} leaves: more than it holds.")
        if strange := sorted(pool.trees - set(trees)):
            raise ValueError(f"A pool holds {strange[0]!r:.40}, a tree of which nothing else is given.")


def _weigh_alone(weights: Weights) -> Chance:
    return _exactly((weights.seen + weights.mislaid) / weights.total) if weights.total else UNKNOWN


def _weigh_together(
    weights: Mapping[str, Weights], pools: Sequence[PoolResult], most_states: int
) -> dict[str, Chance]:
    """The trees of one component, exactly where its states are few enough."""
    if not all(one.total for one in weights.values()):
        return dict.fromkeys(weights, UNKNOWN)
    known = {tree: _norm(one) for tree, one in weights.items()}
    groups = _group(known, pools)
    if math.prod(len(group) + 1 for group in groups.values()) <= most_states:
        inside = _weigh_exactly(known, groups, pools)
    else:
        inside = {tree: _bound(pair, tree, pools) for tree, pair in known.items()}
    return {tree: _finish(chance, weights[tree]) for tree, chance in inside.items()}


def _norm(weights: Weights) -> tuple[float, float]:
    """A carrier's leaf in the pool, or none, as shares of one."""
    return weights.seen / weights.total, (weights.mislaid + weights.clean) / weights.total


def _exactly(chance: float) -> Chance:
    return Chance(min(1.0, chance), min(1.0, chance))


def _finish(inside: Chance, weights: Weights) -> Chance:
    """The chance of a carrier from that of a carrier's leaf in the pool: the leaf may have been mislaid."""
    outside = weights.mislaid + weights.clean
    if inside is UNKNOWN:
        return UNKNOWN
    mislaid = weights.mislaid / outside if outside else 0.0
    low, high = (min(1.0, one + (1 - one) * mislaid) for one in (inside.low, inside.high))
    return Chance(low, high)


def _components(pools: Sequence[PoolResult]) -> Iterator[tuple[list[str], list[PoolResult]]]:
    """Trees that hang together through pools, with those pools; trees and pools in order."""
    left = [pool for pool in pools if pool.trees]
    while left:
        together = [left.pop(0)]
        trees = set(together[0].trees)
        while reached := [pool for pool in left if pool.trees & trees]:
            left = [pool for pool in left if not pool.trees & trees]
            together += reached
            trees.update(*(pool.trees for pool in reached))
        yield sorted(trees), together


def _group(trees: Mapping[str, object], pools: Sequence[PoolResult]) -> dict[tuple[int, ...], list[str]]:
    """The trees by the pools that they stand in, by place."""
    groups: defaultdict[tuple[int, ...], list[str]] = defaultdict(list)
    for tree in trees:
        groups[tuple(at for at, pool in enumerate(pools) if tree in pool.trees)].append(tree)
    return dict(groups)


def _count_ways(weights: Sequence[tuple[float, float]]) -> list[float]:
    """The weight of each number of carriers among some trees (Poisson binomial)."""
    ways = [1.0]
    for carrying, clean in weights:
        ways = [
            (ways[number] * clean if number < len(ways) else 0.0)
            + (ways[number - 1] * carrying if number else 0.0)
            for number in range(len(ways) + 1)
        ]
    return ways


def _weigh_exactly(
    weights: Mapping[str, tuple[float, float]],
    groups: Mapping[tuple[int, ...], list[str]],
    pools: Sequence[PoolResult],
) -> dict[str, Chance]:
    places = list(groups)
    ways = [_count_ways([weights[tree] for tree in groups[place]]) for place in places]
    rest = _weigh_rest(places, ways, pools)
    total = math.fsum(way * weight for way, weight in zip(ways[0], rest[0], strict=True))
    if total == 0:
        return dict.fromkeys(weights, UNKNOWN)
    found: dict[str, Chance] = {}
    for place, outside in zip(places, rest, strict=True):
        # Trees of one group with like results have like chances.
        alike: dict[tuple[float, float], Chance] = {}
        for tree in groups[place]:
            pair = weights[tree]
            if pair not in alike:
                left = _count_ways([weights[other] for other in groups[place] if other != tree])
                carrying = math.fsum(way * outside[number + 1] for number, way in enumerate(left))
                alike[pair] = _exactly(pair[0] * carrying / total)
            found[tree] = alike[pair]
    return found


def _weigh_rest(
    places: Sequence[tuple[int, ...]], ways: Sequence[Sequence[float]], pools: Sequence[PoolResult]
) -> list[list[float]]:
    """Of each group, by the number of carriers in it, the weight of all else: other groups and results."""
    rest = [[0.0] * len(one) for one in ways]
    for counts in product(*(range(len(one)) for one in ways)):
        likely = _likelihood(places, counts, pools)
        chosen = [one[number] for one, number in zip(ways, counts, strict=True)]
        for at, own in enumerate(counts):
            rest[at][own] += likely * math.prod(chosen[:at] + chosen[at + 1 :])
    return rest


def _likelihood(
    places: Sequence[tuple[int, ...]], counts: Sequence[int], pools: Sequence[PoolResult]
) -> float:
    carriers = _carriers(places, counts, len(pools))
    return math.prod(pool.likelihood(number) for pool, number in zip(pools, carriers, strict=True))


def _bound(pair: tuple[float, float], tree: str, pools: Sequence[PoolResult]) -> Chance:
    """The least and the greatest chance, whatever the others are.

    The odds move by P(results | it carries) / P(results | it doesn't), averaged over the others; a ratio of
    averages lies between the least and the greatest ratio, taken pool by pool.
    """
    low = high = math.inf if pair[1] == 0 else pair[0] / pair[1]
    for pool in pools:
        if tree not in pool.trees:
            continue
        ratios = []
        for others in range(len(pool.trees)):
            with_it, without = pool.likelihood(others + 1), pool.likelihood(others)
            if with_it or without:
                ratios.append(with_it / without if without else math.inf)
        low, high = (
            _times(low, min(ratios, default=0.0), 0.0),
            _times(high, max(ratios, default=math.inf), math.inf),
        )
    return Chance(_as_chance(low), _as_chance(high))


def _times(odds: float, ratio: float, unsure: float) -> float:
    """Their product; nothing times infinity may be anything, so the bound that holds always is taken."""
    return unsure if {odds, ratio} == {0.0, math.inf} else odds * ratio


def _as_chance(odds: float) -> float:
    return 1.0 if odds == math.inf else odds / (1 + odds)


def all_pass_chances(
    misses: Mapping[str, float],
    pools: Sequence[PoolResult],
    most: int,
    handling_error: float = 0.0,
    most_states: int = MOST_STATES,
) -> tuple[float, ...]:
    """The chance that 0, 1, … `most` carriers among the screened trees all pass, each set equally likely.

    Σ over sets of d trees of P(all pass) / C(n, d). `misses` are the chances that each tree's own samples
    miss it (1 without any), `pools` the negative pools; carriers in one pool are found or missed together,
    the more of them the likelier found. A leaf is another tree's with chance `handling_error`, each for
    itself. Clean trees never spoil a pool. Pools that overlap too much are left out, which only raises the
    figure. Raises ValueError for more carriers than trees.
    """
    check_proportion(handling_error, "The handling error")
    check_count(most, "The number of carriers")
    check_count(most_states, "The number of states")
    _check_pools(misses, pools)
    most = int(most)
    if most > len(misses):
        raise ValueError(f"{most} carriers among {len(misses)} screened trees: more than there are.")
    pooled: set[str] = set()
    passing = [1.0]
    for trees, together in _components([pool for pool in pools if not pool.positive]):
        groups = _group(dict.fromkeys(trees), together)
        if math.prod(min(len(group), most) + 1 for group in groups.values()) > most_states:
            continue
        pooled.update(trees)
        passing = _multiply(passing, _pass_component(misses, groups, together, most, handling_error), most)
    alone = [tree for tree in misses if tree not in pooled]
    ways = _pass_ways([misses[tree] for tree in alone], most, handling_error)
    passing = _multiply(passing, [math.fsum(by_seen) for by_seen in ways], most)
    return tuple(min(1.0, passing[number] / math.comb(len(misses), number)) for number in range(most + 1))


def _pass_ways(misses: Sequence[float], most: int, error: float) -> list[list[float]]:
    """By the number of carriers, and of those whose own leaf was tested, the summed chance to pass alone."""
    ways = [[1.0]]
    for miss in misses:
        check_proportion(miss, "The chance to miss")
        size = min(most, len(ways))
        grown = [[0.0] * (number + 1) for number in range(size + 1)]
        for number, by_seen in enumerate(ways):
            for seen, way in enumerate(by_seen):
                grown[number][seen] += way
                if number < size:
                    grown[number + 1][seen] += way * error
                    grown[number + 1][seen + 1] += way * (1 - error) * miss
        ways = grown
    return ways


def _pass_component(
    misses: Mapping[str, float],
    groups: Mapping[tuple[int, ...], list[str]],
    pools: Sequence[PoolResult],
    most: int,
    error: float,
) -> list[float]:
    places = list(groups)
    ways = [_pass_ways([misses[tree] for tree in groups[place]], most, error) for place in places]
    total = [0.0] * (most + 1)
    for counts in product(*(range(len(one)) for one in ways)):
        likely = math.prod(
            pool.likelihood(number) if number else 1.0
            for pool, number in zip(pools, _carriers(places, counts, len(pools)), strict=True)
        )
        # By the number of carriers, those of this state whose own leaf was tested.
        passing = [1.0]
        for one, seen in zip(ways, counts, strict=True):
            own = [by_seen[seen] if seen < len(by_seen) else 0.0 for by_seen in one]
            passing = _multiply(passing, own, most)
        for number, way in enumerate(passing):
            total[number] += likely * way
    return total


def _carriers(places: Sequence[tuple[int, ...]], counts: Sequence[int], pools: int) -> list[int]:
    carriers = [0] * pools
    for place, count in zip(places, counts, strict=True):
        for at in place:
            carriers[at] += count
    return carriers


def _multiply(left: Sequence[float], right: Sequence[float], most: int) -> list[float]:
    """The product of two series, up to the power `most`."""
    size = min(most, len(left) + len(right) - 2)
    return [
        math.fsum(
            left[at] * right[number - at]
            for at in range(max(0, number - len(right) + 1), min(number, len(left) - 1) + 1)
        )
        for number in range(size + 1)
    ]
