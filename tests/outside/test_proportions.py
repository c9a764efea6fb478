"""Limits of a share: published worked figures, and scipy, statsmodels and mpmath as second engines."""

from __future__ import annotations

import math

import mpmath
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import special, stats
from statsmodels.stats.proportion import proportion_confint

from certgen.figures.distributions import (
    beta_quantile,
    binomial_at_most,
    binomial_chances,
    chi_square_above,
    normal_quantile,
    range_quantile,
)
from certgen.figures.germination import limit_germination
from certgen.figures.proportions import (
    bound_after_none,
    bound_with_uniform_prior,
    exact_limits,
    rule_of_three,
    score_limits,
)

COVERS = ("certgen.figures.proportions",)


# Computed; verified with statsmodels. The last is Newcombe 1998 (from memory).
@pytest.mark.parametrize(
    ("positive", "tested", "low", "high", "places"),
    [(1, 100, 0.000253, 0.054459, 6), (3, 400, 0.001549, 0.021761, 6), (12, 400, 0.015596, 0.051817, 6),
     (3, 20, 0.032071, 0.378927, 6), (0, 1000, 0.0, 0.003682, 6), (81, 263, 0.2527, 0.3676, 4),
     (15, 148, 0.0578, 0.1617, 4), (0, 20, 0.0, 0.1684, 4), (1, 29, 0.0009, 0.1776, 4)],
)  # fmt: skip
def test_exact_limits_two_sided(positive, tested, low, high, places):
    """Clopper-Pearson at 95 %, two-sided."""
    limits = exact_limits(positive, tested)

    assert (low, high) == (round(limits.low, places), round(limits.high, places))


# Newcombe 1998, Stat Med 17 (numbers from memory).
@pytest.mark.parametrize(
    ("positive", "tested", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_score_limits(positive, tested, low, high):
    """Wilson's limits at 95 %."""
    limits = score_limits(positive, tested)

    assert (low, high) == (round(limits.low, 4), round(limits.high, 4))


# Computed; verified with mpmath.
@pytest.mark.parametrize(
    ("tested", "percent", "places"),
    [(10, 25.8866, 4), (20, 13.9108, 4), (30, 9.5034, 4), (59, 4.9508, 4), (100, 2.9513, 4), (200, 1.49, 2),
     (299, 0.99691, 5), (400, 0.74614, 5), (1000, 0.29912, 5), (3000, 0.09981, 5)],
)  # fmt: skip
def test_bound_after_none_one_sided(tested, percent, places):
    """The upper bound after none found, 95 % one-sided."""
    assert percent == round(100 * bound_after_none(tested), places)


def test_none_of_a_hundred_two_ways():
    """2.95 % one-sided, 3.62 % two-sided (computed; verified with scipy)."""
    assert (2.95, 3.62) == (
        round(100 * bound_after_none(100), 2),
        round(100 * bound_after_none(100, sides=2), 2),
    )


# HortScience 40(4):1094D, 2005: 0 of 1,000 seeds; the bound is computed.
def test_the_downwind_field():
    """None of 1,000 seeds leaves at most 0.299 %."""
    assert 0.299 == round(100 * bound_after_none(1000), 3)


# Hanley and Lippman-Hand 1983 (from memory).
@pytest.mark.parametrize(("tested", "rule", "exact"), [(14, 21.4, 19.3), (100, 3.00, 2.95)])
def test_rule_of_three_overstates(tested, rule, exact):
    """3/n is an approximation on the high side."""
    assert (rule, exact) == (
        round(100 * rule_of_three(tested), 1 if rule > 10 else 2),
        round(100 * bound_after_none(tested), 1 if rule > 10 else 2),
    )


# Computed; verified with scipy.
@pytest.mark.parametrize(
    ("tested", "bound", "places"), [(10, 0.2384, 4), (59, 0.0487, 4), (299, 0.009936, 6)]
)
def test_bound_with_uniform_prior(tested, bound, places):
    """1 - 0.05^(1/(n+1)) after none of n."""
    assert bound == round(bound_with_uniform_prior(0, tested), places)


# Computed; verified with statsmodels: 280 of 400 germinated.
def test_the_uncertainty_of_a_germination_figure():
    """70 % of 400 seeds is 65.2 to 74.5 %, exact at 95 %."""
    limits = limit_germination([68, 74, 70, 68])

    assert (65.2, 74.5) == (round(100 * limits.low, 1), round(100 * limits.high, 1))


# Khan, Tyagi and Jokhan 2002: 1,838 hermaphrodites and 783 females; limits computed.
def test_the_measured_share_of_hermaphrodites():
    """70.1 %, 68.3 to 71.9."""
    limits = exact_limits(1838, 1838 + 783)

    assert [70.1, 68.3, 71.9] == [round(100 * part, 1) for part in (limits.estimate, limits.low, limits.high)]


# Standard normal tables (probits).
@pytest.mark.parametrize(("share", "probit"), [(0.98, 2.0537), (0.90, 1.2816), (0.70, 0.5244)])
def test_probits(share, probit):
    """The deviates that score limits are made of."""
    assert probit == round(normal_quantile(share), 4)


@given(st.integers(1, 3000), st.sampled_from([0.8, 0.9, 0.95, 0.99, 0.999]), st.data())
@settings(max_examples=200)
def test_statsmodels_agrees(tested, confidence, data):
    """Exact and score limits equal statsmodels' `beta` and `wilson`."""
    positive = data.draw(st.integers(0, tested))
    exact = exact_limits(positive, tested, confidence)
    score = score_limits(positive, tested, confidence)

    # statsmodels leaves a few 1e-17 where a limit is 0 or 1.
    for method, limits in (("beta", exact), ("wilson", score)):
        expected = proportion_confint(positive, tested, alpha=1 - confidence, method=method)
        for theirs, ours in zip(expected, (limits.low, limits.high), strict=True):
            assert math.isclose(theirs, ours, rel_tol=1e-8, abs_tol=1e-12)


@pytest.mark.parametrize(
    ("positive", "tested"), [(1, 10), (7, 10), (1, 100_000), (3, 1_000_000), (99_999, 100_000)]
)
def test_mpmath_agrees_far_out(positive, tested):
    """The limits satisfy the defining equations in 40 digits, for very large samples too."""
    limits = exact_limits(positive, tested)
    with mpmath.workdps(40):
        below = mpmath.betainc(positive, tested - positive + 1, 0, limits.low, regularized=True)
        above = mpmath.betainc(positive + 1, tested - positive, limits.high, 1, regularized=True)

    assert math.isclose(0.025, float(below), rel_tol=1e-6)
    assert math.isclose(0.025, float(above), rel_tol=1e-6)


@given(st.integers(1, 2000), st.integers(1, 2000), st.floats(1e-6, 1 - 1e-6))
def test_scipy_agrees_on_beta_quantiles(a, b, probability):
    """The inverse of the incomplete beta integral equals scipy's."""
    assert math.isclose(special.betaincinv(a, b, probability), beta_quantile(probability, a, b), rel_tol=1e-9)


@given(st.integers(1, 1000), st.floats(1e-6, 1 - 1e-6), st.data())
def test_scipy_agrees_on_binomial_chances(trials, chance, data):
    """Cumulative and single binomial chances equal scipy's."""
    count = data.draw(st.integers(-1, trials))

    assert math.isclose(
        stats.binom.cdf(count, trials, chance),
        binomial_at_most(count, trials, chance),
        rel_tol=1e-8,
        abs_tol=1e-13,
    )
    if count >= 0:
        expected = stats.binom.pmf(count, trials, chance)
        assert math.isclose(expected, binomial_chances(trials, chance)[count], rel_tol=1e-8, abs_tol=1e-13)


@given(st.floats(0.001, 200), st.integers(1, 12))
def test_scipy_agrees_on_chi_square(value, freedom):
    """The upper tail of chi-square equals scipy's."""
    assert math.isclose(stats.chi2.sf(value, freedom), chi_square_above(value, freedom), rel_tol=1e-9)


@pytest.mark.parametrize("items", [2, 3, 4, 6, 8, 16])
def test_scipy_agrees_on_the_range_of_normal_values(items):
    """The studentised range with infinite freedom equals scipy's."""
    assert math.isclose(
        stats.studentized_range.ppf(0.975, items, math.inf), range_quantile(0.975, items), rel_tol=1e-6
    )


@given(st.integers(1, 500), st.floats(0.5, 0.999), st.data())
def test_scipy_agrees_on_the_uniform_prior(tested, confidence, data):
    """The bound equals scipy's beta quantile."""
    positive = data.draw(st.integers(0, tested))
    expected = stats.beta.ppf(confidence, positive + 1, tested - positive + 1)

    assert math.isclose(expected, bound_with_uniform_prior(positive, tested, confidence), rel_tol=1e-9)
