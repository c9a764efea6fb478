"""Distributions at their edges and as properties; second engines are in tests/outside."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.figures.distributions import (
    beta_quantile,
    beta_tails,
    binomial_at_most,
    binomial_chances,
    chi_square_above,
    normal_quantile,
    range_quantile,
)


def test_binomial_edges():
    """Below nothing never, up to all always, and certain trials are certain."""
    assert 0.0 == binomial_at_most(-1, 5, 0.5)
    assert 1.0 == binomial_at_most(5, 5, 0.5)
    assert 1.0 == binomial_at_most(0, 5, 0)
    assert 0.0 == binomial_at_most(4, 5, 1)
    assert [1.0, 0.0, 0.0] == binomial_chances(2, 0)
    assert [0.0, 0.0, 1.0] == binomial_chances(2, 1)


@given(st.integers(1, 200), st.integers(1, 200), st.floats(0.001, 0.999))
def test_the_two_tails_add_up(a, b, x):
    """Below and above make one."""
    assert math.isclose(1, sum(beta_tails(a, b, math.log(x), math.log1p(-x))))


@given(st.integers(1, 300), st.integers(1, 300), st.floats(0.001, 0.999))
def test_a_quantile_leaves_its_probability(a, b, probability):
    """The integral at the quantile is the probability, from below as from above."""
    for upper in (False, True):
        x = beta_quantile(probability, a, b, upper=upper)
        tails = beta_tails(a, b, math.log(x), math.log1p(-x))
        assert math.isclose(probability, tails[upper], rel_tol=1e-7, abs_tol=1e-12)


@given(st.integers(0, 200), st.floats(0, 1))
def test_binomial_chances_add_up(trials, chance):
    """All outcomes together are certain."""
    assert math.isclose(1, math.fsum(binomial_chances(trials, chance)), rel_tol=1e-10)


def test_chi_square_of_nothing():
    """No deviation is always reached."""
    assert 1.0 == chi_square_above(0, 3)


def test_normal_and_range_quantiles():
    """1.96 for one value; the range of two is √2 times as wide."""
    assert 1.96 == round(normal_quantile(0.975), 2)
    assert math.isclose(math.sqrt(2) * normal_quantile(0.9875), range_quantile(0.975, 2), rel_tol=1e-7)


def test_a_small_deviation_is_not_always_reached():
    """Q(2) = exp(-x/2), Q(4) = exp(-x/2)·(1 + x/2), below a chi-square of one, too."""
    assert math.isclose(math.exp(-0.25), chi_square_above(0.5, 2))
    assert math.isclose(1.25 * math.exp(-0.25), chi_square_above(0.5, 4))
    assert math.isclose(math.erfc(math.sqrt(0.25)), chi_square_above(0.5, 1))


@given(st.integers(1, 120), st.floats(0.01, 0.99), st.data())
def test_at_most_so_many_is_the_sum_of_each(trials, chance, data):
    """The beta integral against a plain sum."""
    count = data.draw(st.integers(0, trials))
    each = binomial_chances(trials, chance)

    assert math.isclose(math.fsum(each[: count + 1]), binomial_at_most(count, trials, chance), rel_tol=1e-9)


def test_the_range_of_four_is_the_published_point():
    """3.984 at 97.5 %, from tables of the studentised range with infinite degrees of freedom."""
    assert 3.984 == round(range_quantile(0.975, 4), 3)


@pytest.mark.parametrize("x", [1e-6, 0.02, 0.3, 0.5, 0.77, 0.999])
def test_integrals_that_are_polynomials(x):
    """I_x(1, b) = 1 - (1-x)^b, I_x(a, 1) = x^a, I_x(2, 3) = 6x² - 8x³ + 3x⁴, and the arc sine law."""

    def below(a, b):
        return beta_tails(a, b, math.log(x), math.log1p(-x))[0]

    for power in (1, 2, 7, 40):
        assert math.isclose(-math.expm1(power * math.log1p(-x)), below(1, power), rel_tol=1e-12)
        assert math.isclose(x**power, below(power, 1), rel_tol=1e-12)
    assert math.isclose(6 * x**2 - 8 * x**3 + 3 * x**4, below(2, 3), rel_tol=1e-11)
    assert math.isclose(2 / math.pi * math.asin(math.sqrt(x)), below(0.5, 0.5), rel_tol=1e-11)


@pytest.mark.parametrize("size", [1, 2, 10, 300, 5000])
def test_halves_of_an_even_integral(size):
    """I_½(a, a) is one half; quantiles of one half are one half."""
    tails = beta_tails(size, size, math.log(0.5), math.log(0.5))

    assert (0.5, 0.5) == pytest.approx(tails, rel=1e-11)
    assert 0.5 == pytest.approx(beta_quantile(0.5, size, size), rel=1e-11)


def test_quantiles_by_hand():
    """Of the even distribution a tenth below, or a tenth above; of x² its root; one in a thousand million."""
    assert 0.1 == pytest.approx(beta_quantile(0.1, 1, 1), rel=1e-12)
    assert 0.9 == pytest.approx(beta_quantile(0.1, 1, 1, upper=True), rel=1e-12)
    assert 0.3 == pytest.approx(beta_quantile(0.09, 2, 1), rel=1e-12)
    assert 1e-9 == pytest.approx(beta_quantile(1e-9, 1, 1), rel=1e-12)


@pytest.mark.parametrize(("trials", "chance"), [(1, 0.3), (2, 0.25), (5, 0.5), (6, 0.9)])
def test_binomial_chances_by_counting(trials, chance):
    """C(n, k)·p^k·(1-p)^(n-k) for each k."""
    expected = [math.comb(trials, k) * chance**k * (1 - chance) ** (trials - k) for k in range(trials + 1)]

    assert expected == pytest.approx(binomial_chances(trials, chance), rel=1e-12)
    assert [1.0] == binomial_chances(0, 0.5)


def test_at_most_none_and_at_most_all_but_one():
    """(1-p)^n and 1 - p^n."""
    assert 0.7**4 == pytest.approx(binomial_at_most(0, 4, 0.3))
    assert 1 - 0.3**4 == pytest.approx(binomial_at_most(3, 4, 0.3))
    assert (1.0, 0.0) == (binomial_at_most(7, 5, 0.3), binomial_at_most(-2, 5, 0.3))


@pytest.mark.parametrize("value", [0.3, 1.0, 2.0, 9.0])
def test_chi_square_of_more_classes(value):
    """Q(3) and Q(5) add to Q(1) what the textbook adds; Q(6) is a sum of three."""
    half = value / 2
    odd = math.sqrt(2 * value / math.pi) * math.exp(-half)

    assert math.isclose(math.erfc(math.sqrt(half)) + odd, chi_square_above(value, 3), rel_tol=1e-12)
    assert math.isclose(
        math.erfc(math.sqrt(half)) + odd * (1 + value / 3), chi_square_above(value, 5), rel_tol=1e-12
    )
    assert math.isclose(math.exp(-half) * (1 + half + half**2 / 2), chi_square_above(value, 6), rel_tol=1e-12)


@given(st.integers(2, 12), st.floats(0.05, 0.99))
def test_a_range_grows_with_the_values(items, probability):
    """More values lie further apart; a greater chance takes a wider range."""
    assert range_quantile(probability, items) < range_quantile(probability, items + 1)
    assert range_quantile(probability * 0.9, items) < range_quantile(probability, items)


@pytest.mark.parametrize(
    # From tables of the studentised range with infinite degrees of freedom, at 95 %.
    ("items", "width"),
    [(2, 2.772), (3, 3.314), (5, 3.858), (10, 4.474)],
)
def test_ranges_at_95_per_cent(items, width):
    """As printed, to three decimals."""
    assert width == round(range_quantile(0.95, items), 3)
