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

from certgen.figures.arguments import Number, exact

_TINY = 1e-300
_STEPS = 200_000


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
    """
    front = a * log_x + b * log_y + math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b)
    x = math.exp(log_x)
    if x <= (a + 1.0) / (a + b + 2.0):
        lower = min(1.0, math.exp(front) * _fraction(a, b, x) / a)
        return lower, 1.0 - lower
    upper = min(1.0, math.exp(front) * _fraction(b, a, math.exp(log_y)) / b)
    return 1.0 - upper, upper


@lru_cache(maxsize=4096)
def beta_quantile(probability: float, a: float, b: float, *, upper: bool = False) -> float:
    """The x with I_x(a, b) = probability; with `upper`, the x that leaves that probability above it.

    Bisection on the logit of x, to the last bit that a float can hold.
    """
    low, high = -745.0, 745.0
    for _ in range(80):
        middle = (low + high) / 2
        below, above = beta_tails(a, b, -_log1pexp(-middle), -_log1pexp(middle))
        if (above > probability) if upper else (below < probability):
            low = middle
        else:
            high = middle
    return 1.0 / (1.0 + math.exp(-(low + high) / 2))


def _log1pexp(value: float) -> float:
    return max(value, 0.0) + math.log1p(math.exp(-abs(value)))


def binomial_at_most(count: int, trials: int, chance: float) -> float:
    """P(X <= count) for X binomial: the chance of at most `count` successes in `trials`.

    Formula: I_(1-p)(n - k, k + 1), exact for whole numbers.
    """
    if count < 0:
        return 0.0
    if count >= trials or chance <= 0:
        return 1.0
    if chance >= 1:
        return 0.0
    return beta_tails(trials - count, count + 1, math.log1p(-chance), math.log(chance))[0]


def binomial_chances(trials: int, chance: float) -> list[float]:
    """P(X = 0), …, P(X = trials) for X binomial."""
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
    return NormalDist().inv_cdf(probability)


def chi_square_above(value: float, freedom: int) -> float:
    """P(chi-square > value) with a whole number of degrees of freedom.

    Formula: Q(1) = erfc(sqrt(x/2)), Q(2) = exp(-x/2), Q(k+2) = Q(k) + (x/2)^(k/2) exp(-x/2) / gamma(k/2 + 1).
    """
    if value <= 0:
        return 1.0
    half, step = value / 2, 2 - freedom % 2
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


@lru_cache(maxsize=256)
def range_quantile(probability: float, items: int) -> float:
    """The width that the range of `items` standard normal values stays within with the given probability.

    It is the studentised range with infinite degrees of freedom: 3.984 for four and 3.170 for two at 97.5 %.
    """
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

    Exact for fractions too: the half is judged before any decimal expansion is cut.
    """
    scaled = exact(value) * 10**places
    whole = (abs(scaled) + Fraction(1, 2)).__floor__()
    return Decimal(whole if scaled >= 0 else -whole).scaleb(-places)


def round_component(percent: Number | str) -> Decimal:
    """A component of a purity test in per cent, to two decimals; present but below 0.015 % it is 0.01 %.

    Source: 7 CFR 201.47. A component that is absent stays 0.00. Raises ValueError outside 0 to 100.
    """
    value = exact(percent)
    if not 0 <= value <= 100:
        raise ValueError(f"A component must lie between 0 % and 100 %, and is {percent} %.")
    # From 0.005 % on, half up gives 0.01 % anyway.
    return max(_TRACE, round_half_up(value, 2)) if value else round_half_up(0, 2)
