"""The few probability distributions that the figures rest on, in standard-library arithmetic.

Tails are computed on the side where they are small, and quantiles are sought on the logit scale, so that one
seed in a million is as precise as one in two. Formulas: standard; the continued fraction for the incomplete
beta integral is the usual textbook one, evaluated by Lentz's method (from memory).

Rounding as seed analysts do it: half up, on the decimal figure as written.
"""

from __future__ import annotations

import math
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from statistics import NormalDist

from certgen.figures.arguments import (
    MOST_COUNTED,
    MOST_TESTED,
    Number,
    as_float,
    check_count,
    check_proportion,
    exact,
)

_TINY = 1e-300
_STEPS = 200_000
_MOST_FREEDOM = 10_000
_MOST_ITEMS = 1_000_000
_MOST_PLACES = 30

MOST_LISTED = 100_000
"""The most trials whose chances are listed one by one."""


def _fraction(a: float, b: float, x: float) -> float:
    """The continued fraction of the incomplete beta integral; fast for x < (a + 1) / (a + b + 2)."""
    c, d = 1.0, 1.0 - (a + b) * x / (a + 1.0)
    d = 1.0 / (d if abs(d) > _TINY else _TINY)
    value = d
    for m in range(1, _STEPS):
        for term in (
            m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m)),
            -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1)),
        ):
            d = 1.0 + term * d
            d = 1.0 / (d if abs(d) > _TINY else _TINY)
            c = 1.0 + term / c
            c = c if abs(c) > _TINY else _TINY
            step = d * c
            value *= step
        if abs(step - 1.0) < 1e-15:
            return value
    raise ValueError(f"The incomplete beta integral did not settle for {a} and {b}.")


def beta_tails(a: float, b: float, log_x: float, log_y: float) -> tuple[float, float]:
    """The regularised incomplete beta integral I_x(a, b) and its complement, x + y = 1 given by their logs.

    The smaller of the two is computed and the other is one minus it, so the smaller keeps full precision.
    Raises ValueError unless a and b lie above 0 and up to MOST_TESTED + 1, and x and y add up to 1.
    """
    a, b, log_x, log_y = as_float(a), as_float(b), as_float(log_x), as_float(log_y)
    if not (0 < min(a, b) <= max(a, b) <= MOST_TESTED + 1 and log_x <= 0 and log_y <= 0) or (
        abs(math.exp(log_x) + math.exp(log_y) - 1) > 1e-9
    ):
        raise ValueError(f"The incomplete beta integral is not computed for {a}, {b}, {log_x} and {log_y}.")
    front = a * log_x + b * log_y + math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b)
    x = math.exp(log_x)
    if x <= (a + 1.0) / (a + b + 2.0):
        lower = min(1.0, math.exp(front) * _fraction(a, b, x) / a)
        return lower, 1.0 - lower
    upper = min(1.0, math.exp(front) * _fraction(b, a, math.exp(log_y)) / b)
    return 1.0 - upper, upper


def beta_quantile(probability: float, a: float, b: float, *, upper: bool = False) -> float:
    """The x with I_x(a, b) = probability; with `upper`, the x that leaves that probability above it.

    Bisection on the logit of x, to the last bit that a float can hold. Raises ValueError for a probability
    outside 0 to 1, and as beta_tails does.
    """
    return _find_quantile(check_proportion(probability, "The probability"), as_float(a), as_float(b), upper)


@lru_cache(maxsize=4096)
def _find_quantile(probability: float, a: float, b: float, upper: bool) -> float:
    low, high = -745.0, 745.0
    for _ in range(80):
        middle = (low + high) / 2
        below, above = beta_tails(a, b, -_log1pexp(-middle), -_log1pexp(middle))
        if (above > probability) if upper else (below < probability):
            low = middle
        else:
            high = middle
    middle = (low + high) / 2
    share = 1.0 / (1.0 + math.exp(-abs(middle)))
    return share if middle >= 0 else math.exp(middle) / (1.0 + math.exp(middle))


def _log1pexp(value: float) -> float:
    return max(value, 0.0) + math.log1p(math.exp(-abs(value)))


def binomial_at_most(count: int, trials: int, chance: float) -> float:
    """P(X <= count) for X binomial: the chance of at most `count` successes in `trials`.

    Formula: I_(1-p)(n - k, k + 1), exact for whole numbers. A count below 0 has no chance, one beyond the
    trials is sure. Raises ValueError for other than whole numbers, or more trials than MOST_TESTED.
    """
    chance = check_proportion(chance, "The chance")
    trials = check_count(trials, "The number of trials", most=MOST_TESTED)
    count = check_count(count, "The count", least=-MOST_COUNTED)
    if count < 0:
        return 0.0
    if count >= trials or chance <= 0:
        return 1.0
    if chance >= 1:
        return 0.0
    return beta_tails(trials - count, count + 1, math.log1p(-chance), math.log(chance))[0]


def binomial_chances(trials: int, chance: float) -> list[float]:
    """P(X = 0), …, P(X = trials) for X binomial, of 100,000 trials at most."""
    chance = check_proportion(chance, "The chance")
    trials = check_count(trials, "The number of trials", most=MOST_LISTED)
    if chance <= 0 or chance >= 1:
        sure = 0 if chance <= 0 else trials
        return [1.0 if k == sure else 0.0 for k in range(trials + 1)]
    log_p, log_q, log_all = math.log(chance), math.log1p(-chance), math.lgamma(trials + 1)
    return [
        math.exp(
            log_all - math.lgamma(k + 1) - math.lgamma(trials - k + 1) + k * log_p + (trials - k) * log_q
        )
        for k in range(trials + 1)
    ]


def normal_quantile(probability: float) -> float:
    """The standard normal deviate below which the given probability lies."""
    return NormalDist().inv_cdf(check_proportion(probability, "The probability", zero=False, one=False))


def t_quantile(probability: float, freedom: int) -> float:
    """The deviate of Student's distribution below which the given probability lies.

    t² = f·(1 - x)/x with x the quantile of beta(f/2, 1/2) at twice the smaller tail. Standard.
    """
    check_proportion(probability, "The probability", zero=False, one=False)
    freedom = check_count(freedom, "The degrees of freedom", least=1, most=_MOST_FREEDOM)
    tail = min(probability, 1 - probability)
    share = beta_quantile(2 * tail, freedom / 2, 0.5)
    size = math.sqrt(freedom * (1 - share) / share) if share > 0 else math.inf
    return size if probability > 0.5 else -size


def chi_square_above(value: float, freedom: int) -> float:
    """P(chi-square > value) with a whole number of degrees of freedom.

    Formula: Q(1) = erfc(sqrt(x/2)), Q(2) = exp(-x/2), Q(k+2) = Q(k) + (x/2)^(k/2) exp(-x/2) / gamma(k/2 + 1).
    Raises ValueError for a value that is no number, and for more than 10,000 degrees of freedom.
    """
    freedom = check_count(freedom, "The degrees of freedom", least=1, most=_MOST_FREEDOM)
    if math.isnan(as_float(value)):
        raise ValueError("The chi-square is not a number.")
    half, step = float(value) / 2, 2 - freedom % 2
    if half <= 0:
        return 1.0
    if math.isinf(half):
        return 0.0
    tail = math.exp(-half) if step == 2 else math.erfc(math.sqrt(half))
    while step < freedom:
        tail += math.exp(step / 2 * math.log(half) - half - math.lgamma(step / 2 + 1))
        step += 2
    return min(1.0, tail)


def _range_below(width: float, items: int) -> float:
    """P(range <= width) of n standard normal values: n ∫ φ(z) [Φ(z+w) − Φ(z)]^(n−1) dz, by trapezia.

    The integrand is smooth and nothing at both ends, where trapezia are as good as any rule.
    """
    steps, start, end = 400, -8.5, 8.5
    size = (end - start) / steps
    total = 0.0
    for i in range(steps):
        z = start + i * size
        share = (math.erf((z + width) / math.sqrt(2)) - math.erf(z / math.sqrt(2))) / 2
        total += math.exp(-z * z / 2) * share ** (items - 1)
    return items * total * size / math.sqrt(2 * math.pi)


def range_quantile(probability: float, items: int) -> float:
    """The width that the range of `items` standard normal values stays within with the given probability.

    It is the studentised range with infinite degrees of freedom: 3.984 for four and 3.170 for two at 97.5 %.
    From two items up to a million.
    """
    check_proportion(probability, "The probability", zero=False, one=False)
    return _find_range(
        float(probability), check_count(items, "The number of items", least=2, most=_MOST_ITEMS)
    )


@lru_cache(maxsize=256)
def _find_range(probability: float, items: int) -> float:
    low, high = 0.0, 16.0
    for _ in range(60):
        middle = (low + high) / 2
        if _range_below(middle, items) < probability:
            low = middle
        else:
            high = middle
    return (low + high) / 2


_TRACE = Decimal("0.01")


def round_half_up(value: Number | str, places: int = 0) -> Decimal:
    """The value to the given number of decimal places, a half going up (away from zero).

    Exact for fractions too: the half is judged before any decimal expansion is cut. Places below 0 are tens,
    hundreds and so on; 30 at most on either side.
    """
    places = check_count(places, "The number of decimal places", least=-_MOST_PLACES, most=_MOST_PLACES)
    scaled = exact(value) * Fraction(10) ** places
    whole = (abs(scaled) + Fraction(1, 2)).__floor__()
    # Written out, for scaling a Decimal would round it to its context's digits.
    return Decimal(f"{whole if scaled >= 0 else -whole}e{-places}")


def round_component(percent: Number | str) -> Decimal:
    """A component of a purity test in per cent, to two decimals; present but below 0.015 % it is 0.01 %.

    Source: 7 CFR 201.47. A component that is absent stays 0.00. Raises ValueError outside 0 to 100.
    """
    value = exact(percent)
    if not 0 <= value <= 100:
        raise ValueError(f"A component must lie between 0 % and 100 %, and is {percent} %.")
    # From 0.005 % on, half up gives 0.01 % anyway.
    return max(_TRACE, round_half_up(value, 2)) if value else round_half_up(0, 2)
