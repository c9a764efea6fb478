"""How many bags to hang for the grams wanted: from the share that sets, and the seed that a fruit gives."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from certgen.figures.arguments import (
    MOST_TESTED,
    Number,
    check_confidence,
    check_count,
    check_mass,
    check_proportion,
)
from certgen.figures.distributions import beta_quantile, binomial_at_most

#: Beyond this no orchard hangs bags, and the arithmetic loses its meaning.
MOST_FRUIT = 1_000_000
#: Of a million bags one gives fruit: with fewer than that nobody plans.
LEAST_SET = 1e-6


@dataclass(frozen=True, slots=True)
class MeanLimits:
    """A mean of several figures, and the one-sided limits that it lies above and below."""

    figures: int
    mean: float
    deviation: float
    low: float
    high: float
    confidence: float


def student_quantile(probability: float, freedom: int) -> float:
    """Student's t below which the given probability lies, for whole degrees of freedom.

    For p > 1/2: t = sqrt(f·(1 - x)/x), x the beta quantile of 2(1 - p) at (f/2, 1/2). Standard.
    """
    check_confidence(probability)
    check_count(freedom, "The degrees of freedom", least=1, most=MOST_TESTED)
    if probability == 0.5:
        return 0.0
    tail = min(probability, 1 - probability)
    x = beta_quantile(2 * tail, freedom / 2, 0.5)
    t = math.sqrt(freedom * (1 - x) / x)
    return t if probability > 0.5 else -t


def limit_mean(figures: Sequence[float], confidence: float = 0.95) -> MeanLimits:
    """The mean with its limits by Student's t: x̄ ± t·s/√n, one-sided each; the lower one never below zero.

    For a mean of some runs' grams a fruit. Standard; the figures are taken to scatter normally. Raises
    ValueError for fewer than two figures, or one below zero.
    """
    check_confidence(confidence)
    if len(figures) < 2:
        raise ValueError("One figure alone shows no variation: it takes two.")
    for figure in figures:
        check_mass(figure, "A figure", zero=True)
    number = len(figures)
    mean = math.fsum(figures) / number
    deviation = math.sqrt(math.fsum((figure - mean) ** 2 for figure in figures) / (number - 1))
    half = student_quantile(confidence, number - 1) * deviation / math.sqrt(number)
    return MeanLimits(number, mean, deviation, max(0.0, mean - half), mean + half, confidence)


def count_fruit(grams: Number, grams_a_fruit: Number, packed_share: float = 1.0) -> int:
    """Fruit that give so many grams to sell: ceil(G / (g·q)), q the share of a fruit's seed that is sold.

    Raises ValueError where a fruit gives nothing, or where it takes more than a million fruit.
    """
    wanted, each = check_mass(grams, "The grams wanted"), check_mass(grams_a_fruit, "The grams a fruit gives")
    check_proportion(packed_share, "The share that is left to sell", zero=False)
    fruit = wanted / (each * check_mass(packed_share, "The share that is left to sell"))
    if fruit > MOST_FRUIT:
        raise ValueError(
            f"That would take over a million fruit at {float(each):.3g} g a fruit: nobody bags so many."
        )
    return math.ceil(fruit)


def count_bags(fruit: int, set_share: float) -> int:
    """Bags of which so many are to be expected to give fruit, one each: ceil(F / s)."""
    check_count(fruit, "The number of fruit", least=1, most=MOST_FRUIT)
    _check_set_share(set_share)
    # A hair is taken off before rounding up: 3 / 0.3 is 10.000000000000002 in binary.
    return max(fruit, math.ceil(fruit / set_share * (1 - 1e-12)))


def _check_set_share(share: float) -> None:
    check_proportion(share, "The share of bags that give fruit", zero=False)
    if share < LEAST_SET:
        raise ValueError("So few bags give fruit that no number of them is a plan.")


def count_bags_surely(fruit: int, set_share: float, confidence: float = 0.95) -> int:
    """The fewest bags of which at least so many give fruit, one each, with the confidence.

    Smallest B with P(X < F) <= 1 - c, X binomial of B bags and the share s; found by halving, since more
    bags only help. Binomial, standard. Raises ValueError where it would take a million times the fruit.
    """
    check_count(fruit, "The number of fruit", least=1, most=MOST_FRUIT)
    _check_set_share(set_share)
    allowed = 1 - check_confidence(confidence)
    if set_share == 1:
        return fruit
    low, high = fruit - 1, fruit
    while binomial_at_most(fruit - 1, high, set_share) > allowed:
        low, high = high, 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        if binomial_at_most(fruit - 1, middle, set_share) <= allowed:
            high = middle
        else:
            low = middle
    return high
