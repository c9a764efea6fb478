"""Distributions at their edges and as properties; second engines are in tests/outside."""

from __future__ import annotations

import math

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
