"""What a count of positives says about the true share: limits, and bounds after none found."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from certgen.figures.arguments import (
    as_float,
    check_confidence,
    check_count,
    check_positives,
    check_proportion,
)
from certgen.figures.distributions import beta_quantile, normal_quantile

Sides = Literal[1, 2]
_MOST_TAIL = 0.5


@dataclass(frozen=True, slots=True)
class Limits:
    """A share between two limits, all between 0 and 1.

    `sides` must be printed with it: none in 100 is at most 2.95 % one-sided but 3.62 % two-sided, both at
    95 %.
    """

    estimate: float
    low: float
    high: float
    confidence: float
    sides: Sides


def tail(confidence: float, sides: Sides = 1) -> float:
    """The chance left beyond a limit: 1 - confidence, halved for two sides.

    Raises ValueError for a one-sided confidence below 0.5, whose limit would lie beyond the estimate.
    """
    if as_float(sides) not in (1, 2):
        raise ValueError("A bound is one-sided or two-sided, and has no other number of sides.")
    left = (1 - check_confidence(confidence)) / sides
    if left > _MOST_TAIL:
        raise ValueError(
            f"A one-sided limit at {confidence} lies beyond the estimate: take a confidence of 0.5 or more."
        )
    return left


def exact_limits(positive: int, tested: int, confidence: float = 0.95, sides: Sides = 2) -> Limits:
    """Clopper-Pearson limits of a share.

    low = beta quantile of α/2 at (k, n-k+1), high = that of 1-α/2 at (k+1, n-k); with `sides` 1 the whole α
    stands at each limit, and only one of the two may be quoted. Source: Clopper and Pearson 1934 (from
    memory).
    """
    positive, tested = check_positives(positive, tested)
    beyond = tail(confidence, sides)
    low = 0.0 if positive == 0 else beta_quantile(beyond, positive, tested - positive + 1)
    high = 1.0 if positive == tested else beta_quantile(beyond, positive + 1, tested - positive, upper=True)
    return Limits(positive / tested, low, high, confidence, sides)


def score_limits(positive: int, tested: int, confidence: float = 0.95, sides: Sides = 2) -> Limits:
    """Wilson's score limits of a share.

    (p + z²/2n ± z·sqrt(p(1-p)/n + z²/4n²)) / (1 + z²/n). Source: Wilson 1927, as compared by Newcombe 1998
    (from memory).
    """
    positive, tested = check_positives(positive, tested)
    z = normal_quantile(1 - tail(confidence, sides))
    share, lead = positive / tested, z * z / tested
    half = z * math.sqrt(share * (1 - share) / tested + lead / (4 * tested))
    low = 0.0 if positive == 0 else (share + lead / 2 - half) / (1 + lead)
    high = 1.0 if positive == tested else (share + lead / 2 + half) / (1 + lead)
    return Limits(share, low, high, confidence, sides)


def bound_after_none(
    tested: int, confidence: float = 0.95, sides: Sides = 1, sensitivity: float = 1.0
) -> float | None:
    """The largest share still consistent with no positive among `tested`.

    1 - α^(1/n), with α/2 for a two-sided figure; divided by the sensitivity, since a positive seed shows
    itself with that chance only. None if the test is so insensitive that nothing is bounded. Binomial,
    standard.
    """
    tested = check_count(tested, "The number tested", least=1)
    sensitivity = check_proportion(sensitivity, "The sensitivity", zero=False)
    bound = -math.expm1(math.log(tail(confidence, sides)) / tested) / sensitivity
    return bound if bound <= 1 else None


def rule_of_three(tested: int) -> float:
    """3/n, the short cut for none found at 95 % one-sided.

    It overstates (21.4 % against 19.3 % for 14 seeds): for a caption only, never for a verdict.
    Source: Hanley and Lippman-Hand 1983 (from memory).
    """
    return min(1.0, 3 / check_count(tested, "The number tested", least=1))


def bound_with_uniform_prior(positive: int, tested: int, confidence: float = 0.95) -> float:
    """The share that the true one stays below with the given probability, all being equally likely before.

    Quantile of the beta distribution at (k+1, n-k+1); with none found 1 - (1-c)^(1/(n+1)). Bayes, standard.
    """
    positive, tested = check_positives(positive, tested)
    beyond = 1 - check_confidence(confidence)
    if positive == 0:
        return -math.expm1(math.log(beyond) / (tested + 1))
    return beta_quantile(beyond, positive + 1, tested - positive + 1, upper=True)
