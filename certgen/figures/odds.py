"""What test results say of one tree: the chance that a carrier passes them, and its chance to be one."""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

from certgen.figures.arguments import check_confidence, check_count, check_proportion
from certgen.figures.pooled_trees import Weights
from certgen.figures.proportions import exact_limits

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence


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
    """One result a method, of results that all see one event: repeats of a method share its blind spots.

    Where a method was positive and negative by turns only its positives are looked at: a negative of the
    same method takes nothing back. Of those left the one that moves the odds most.
    """
    by_method: defaultdict[str, list[MethodResult]] = defaultdict(list)
    for result in results:
        check_proportion(result.sensitivity, "The sensitivity")
        check_proportion(result.specificity, "The specificity")
        by_method[result.method].append(result)
    return tuple(
        max(by_method[method], key=lambda result: (result.positive, result.strength))
        for method in sorted(by_method)
    )


def pass_chance(misses: Iterable[float], handling_error: float = 0.0) -> float:
    """The chance that a carrier passes: 1 - (1 - Πmiss)(1 - e), 1 where nothing was tested.

    `misses` are the chances, 1 - Se, that each method alone misses it; methods fail independently. `e` is
    the chance of a handling error: the leaf was another tree's, or labels were swapped. It counts once, for
    one mistake may go through all that is done with a leaf, and the other leaf is taken to be clean.
    Elementary probability.
    """
    missed = math.prod(check_proportion(miss, "The chance to miss") for miss in misses)
    return 1 - (1 - missed) * (1 - check_proportion(handling_error, "The handling error"))


def update_tree(prior: float, results: Iterable[MethodResult], handling_error: float = 0.0) -> float:
    """The chance that a tree carries an event, after results by methods that see it.

    Bayes: π·P(results | carrier) against (1-π)·P(results | none), one result a method (keep_strongest), the
    negatives of a carrier together as `pass_chance` has them. Methods fail independently.
    Raises ValueError if two results that are each beyond doubt contradict one another.
    """
    weights = find_weights(prior, results, handling_error)
    if weights.total == 0:
        raise ValueError(
            "The results contradict one another: each leaves no doubt, and they say opposite things."
        )
    return (weights.seen + weights.mislaid) / weights.total


def find_weights(prior: float, results: Iterable[MethodResult], handling_error: float = 0.0) -> Weights:
    """The weights of a tree after its own results, one a method (keep_strongest).

    A carrier's leaf was mislaid with the chance `handling_error`: then negatives say nothing of it. A
    positive is taken to be its own. Methods fail independently.
    """
    check_proportion(prior, "The prior chance")
    check_proportion(handling_error, "The handling error")
    kept = keep_strongest(results)
    missed = math.prod(1 - result.sensitivity for result in kept if not result.positive)
    found = prior * math.prod(result.sensitivity for result in kept if result.positive)
    clean = (1 - prior) * math.prod(result.likelihoods[1] for result in kept)
    return Weights(found * (1 - handling_error) * missed, found * handling_error, clean)


def update_events(
    priors: Mapping[str, float],
    results: Sequence[tuple[MethodResult, frozenset[str]]],
    handling_error: float = 0.0,
) -> dict[str, float]:
    """The chance of each event in one tree, after results by methods that see only some events.

    Each event has a chance of its own before, and only results that see it move it; so what is listed
    beside it changes nothing. A positive counts wholly for each event that its method sees, as if no other
    could have caused it: that errs on the careful side. Raises ValueError as `update_tree`.
    """
    return {
        event: update_tree(prior, [result for result, sees in results if event in sees], handling_error)
        for event, prior in priors.items()
    }


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
class Prevalence:
    """How common carriers are among trees like those tested: an estimate and two-sided limits, 0 to 1.

    `apparent` is the share that tested positive; the others have the method's errors taken out.
    """

    apparent: float
    estimate: float
    low: float
    high: float
    confidence: float


def estimate_prevalence(
    positive: int, tested: int, sensitivity: float, specificity: float, confidence: float = 0.95
) -> Prevalence:
    """The share of carriers from a count of positives by one method.

    (p + Sp - 1) / (Se + Sp - 1), Rogan and Gladen 1978 (from memory), held within 0 and 1; limits:
    Clopper-Pearson's for the count, put through the same formula, so Se and Sp count as known. Raises
    ValueError for a test that is no better than a coin (Se + Sp not above 1).
    """
    check_proportion(sensitivity, "The sensitivity")
    check_proportion(specificity, "The specificity")
    gain = sensitivity + specificity - 1
    if gain <= 0:
        raise ValueError("A test that finds carriers no oftener than others says nothing of their share.")
    limits = exact_limits(positive, tested, check_confidence(confidence))

    def correct(share: float) -> float:
        return min(1.0, max(0.0, (share + specificity - 1) / gain))

    return Prevalence(
        limits.estimate, correct(limits.estimate), correct(limits.low), correct(limits.high), confidence
    )


def seed_negative_chance(
    share: float, pools: int, seeds_per_pool: int, sensitivity: float, specificity: float = 1.0
) -> float:
    """The chance that every pool of a lot's seed is negative: ((1-P)·Sp + P·(1-Se))^n, P = 1 - (1-p)^m.

    `share` is p, that of the lot's seed which carries; n pools of m seeds, drawn anew from the whole lot.
    `sensitivity` and `specificity` are a pool's. Binomial, standard.
    """
    _check_three(share, sensitivity, specificity)
    check_count(pools, "The number of pools", least=1)
    check_count(seeds_per_pool, "The number of seeds in a pool", least=1)
    clean = float((1 - share) ** seeds_per_pool)
    return float((clean * specificity + (1 - clean) * (1 - sensitivity)) ** pools)


def update_by_seed(
    chance: float,
    share: float,
    pools: int,
    seeds_per_pool: int,
    sensitivity: float,
    specificity: float = 1.0,
    handling_error: float = 0.0,
) -> float:
    """A parent's chance after its lot's own seed was negative: Bayes, the other parents clean.

    c·(e·N(0) + (1-e)·N(p)) against (1-c)·N(0), with N from `seed_negative_chance`, p the share of the lot's
    seed that this parent would make carry, and e the chance that the seed tested was another lot's, taken to
    be clean. If more parents carry the test is likelier to find one, so that this errs on the careful side.
    """
    check_proportion(chance, "The chance")
    check_proportion(handling_error, "The handling error")
    clean = seed_negative_chance(0.0, pools, seeds_per_pool, sensitivity, specificity)
    carrying = handling_error * clean + (1 - handling_error) * seed_negative_chance(
        share, pools, seeds_per_pool, sensitivity, specificity
    )
    total = chance * carrying + (1 - chance) * clean
    if total == 0:
        raise ValueError("With these figures the seed's negative cannot occur, so it says nothing.")
    return chance * carrying / total
