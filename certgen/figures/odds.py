"""What test results leave of the chance that a tree is transgenic, and what that means for a lot's seed."""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

from certgen.figures.arguments import check_proportion

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping, Sequence

SELFED_SHARE = 0.75
"""Share of transgenic embryos in the selfed seed of a tree with one copy of the insert (3 : 1)."""


@dataclass(frozen=True, slots=True)
class MethodResult:
    """One result by one method, with the method's sensitivity and specificity, both from 0 to 1."""

    method: str
    positive: bool
    sensitivity: float
    specificity: float = 1.0

    @property
    def likelihoods(self) -> tuple[float, float]:
        """The chance of this result on a transgenic tree and on one that is not."""
        if self.positive:
            return self.sensitivity, 1 - self.specificity
        return 1 - self.sensitivity, self.specificity

    @property
    def strength(self) -> float:
        """How far the result moves the odds: |ln of the likelihood ratio|, infinite if it settles."""
        carrying, clean = self.likelihoods
        if carrying == clean:
            return 0.0
        return math.inf if min(carrying, clean) == 0 else abs(math.log(carrying / clean))


def keep_strongest(results: Iterable[MethodResult]) -> tuple[MethodResult, ...]:
    """One result a method, the one that moves the odds most: repeats of one method share its blind spots.

    Of equally strong ones a positive stands before a negative.
    """
    by_method: defaultdict[str, list[MethodResult]] = defaultdict(list)
    for result in results:
        check_proportion(result.sensitivity, "The sensitivity")
        check_proportion(result.specificity, "The specificity")
        by_method[result.method].append(result)
    return tuple(
        max(by_method[method], key=lambda result: (result.strength, result.positive))
        for method in sorted(by_method)
    )


def update_tree(prior: float, results: Iterable[MethodResult]) -> float:
    """The chance that a tree is transgenic, after its results.

    Bayes: π·ΠP(result | transgenic) against (1-π)·ΠP(result | not), one result a method (keep_strongest). The
    methods must fail independently; where they share a blind spot, use update_events.
    Raises ValueError if two results that are each beyond doubt contradict one another.
    """
    return update_events({"": prior}, [(result, frozenset({""})) for result in results])[""]


def update_events(
    priors: Mapping[str, float], results: Sequence[tuple[MethodResult, frozenset[str]]]
) -> dict[str, float]:
    """The chance of each event in one tree, after results by methods that see only some events.

    A tree holds one event or none; `priors` are the events' chances before, and each result comes with the
    events that its method sees. To an event that it cannot see, a method answers as it does to a clean
    tree: a negative lowers the others and leaves this one. Raises ValueError for priors beyond 1 in sum, or
    contradictory results.
    """
    for prior in priors.values():
        check_proportion(prior, "The prior chance")
    none = 1 - math.fsum(priors.values())
    if none < -1e-12:
        raise ValueError("The events' chances before the tests add up to more than 1.")
    seen: defaultdict[MethodResult, frozenset[str]] = defaultdict(frozenset)
    for result, events in results:
        seen[result] |= events
    weights, free = dict(priors), max(0.0, none)
    for result in keep_strongest(seen):
        carrying, clean = result.likelihoods
        free *= clean
        for event in weights:
            weights[event] *= carrying if event in seen[result] else clean
    total = math.fsum((free, *weights.values()))
    if total == 0:
        raise ValueError(
            "The results contradict one another: each leaves no doubt, and they say opposite things."
        )
    return {event: weights[event] / total for event in priors}


def positive_value(prior: float, sensitivity: float, specificity: float) -> float:
    """The chance that a positive is true: π·Se / (π·Se + (1-π)(1-Sp)).

    Raises ValueError if no positive can occur.
    """
    _check_three(prior, sensitivity, specificity)
    true, false = prior * sensitivity, (1 - prior) * (1 - specificity)
    if true + false == 0:
        raise ValueError("With these figures a positive result cannot occur, so it has no value.")
    return true / (true + false)


def negative_value(prior: float, sensitivity: float, specificity: float) -> float:
    """The chance that a negative is true: (1-π)Sp / ((1-π)Sp + π(1-Se)). Raises ValueError if none occurs."""
    _check_three(prior, sensitivity, specificity)
    true, false = (1 - prior) * specificity, prior * (1 - sensitivity)
    if true + false == 0:
        raise ValueError("With these figures a negative result cannot occur, so it has no value.")
    return true / (true + false)


def _check_three(prior: float, sensitivity: float, specificity: float) -> None:
    check_proportion(prior, "The prior chance")
    check_proportion(sensitivity, "The sensitivity")
    check_proportion(specificity, "The specificity")


@dataclass(frozen=True, slots=True)
class Parent:
    """A lot's parent: share of the seed, chance of being transgenic, and whether a negative clears it.

    `embryo_share` is the share of its seed that would then carry the insert: 0.75 for a selfed tree with
    one copy.
    """

    name: str
    share: float
    chance: float
    cleared: bool
    embryo_share: float = SELFED_SHARE


@dataclass(frozen=True, slots=True)
class LotOdds:
    """Shares of a lot's seed, from 0 to 1.

    `expected`: Σ share · embryo share · chance. `any_parent`: the chance that at least one parent is
    transgenic. `uncleared`: the share if every parent that no negative clears were transgenic with two
    copies (all its seed). `one_parent`: the share if the parent that weighs most were transgenic after all,
    with its own embryo share.
    """

    expected: float
    any_parent: float
    uncleared: float
    one_parent: float


def judge_lot(parents: Sequence[Parent]) -> LotOdds:
    """The lot's expected and worst-case share of transgenic seed. Computed; expectation standard.

    Raises ValueError if there is no parent or the shares do not add up to one.
    """
    for parent in parents:
        _check_three(parent.chance, parent.share, parent.embryo_share)
    if abs(math.fsum(parent.share for parent in parents) - 1) > 1e-9:
        raise ValueError("The parents' shares of the lot must add up to 1.")
    return LotOdds(
        expected=math.fsum(p.share * p.embryo_share * p.chance for p in parents),
        any_parent=1 - math.prod(1 - p.chance for p in parents),
        uncleared=math.fsum(p.share for p in parents if not p.cleared),
        one_parent=max(p.share * p.embryo_share for p in parents),
    )


def weigh_untested(parents: Sequence[Parent], name: str, chance_if_cleared: float) -> float:
    """How many times the lot's expected share one untested parent makes it, against the same parent cleared.

    Raises ValueError if the parent is not among them, or the cleared lot would have no risk at all.
    """
    found = weigh_each_untested(parents, chance_if_cleared, names={name})
    if name not in {parent.name for parent in parents}:
        raise ValueError(f"{name} is not among the lot's parents.")
    if not found:
        raise ValueError("The lot would have no risk at all with that parent cleared, so there is no ratio.")
    return found[name]


def weigh_each_untested(
    parents: Sequence[Parent], chance_if_cleared: float, names: Collection[str] | None = None
) -> dict[str, float]:
    """`weigh_untested` of each parent that no negative clears (or of `names`), where there is a ratio.

    Each alone, the others as they are: expected / (expected - share·embryo·(chance - chance if cleared)).
    """
    check_proportion(chance_if_cleared, "The chance if cleared")
    expected = judge_lot(parents).expected
    found = {}
    for at, one in enumerate(parents):
        if one.name not in names if names is not None else one.cleared:
            continue
        weight = one.share * one.embryo_share
        base = max(0.0, expected - weight * one.chance) + weight * chance_if_cleared
        if chance_if_cleared == 0 and not any(
            p.share and p.embryo_share and p.chance for i, p in enumerate(parents) if i != at
        ):
            continue
        if base > 0:
            found[one.name] = expected / base
    return found
