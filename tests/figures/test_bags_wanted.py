"""Bags for the grams wanted, against scipy, every case counted and a simulation."""

from __future__ import annotations

import random
from decimal import Decimal
from math import comb

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from certgen.figures.bags_wanted import (
    count_bags,
    count_bags_surely,
    count_fruit,
    limit_mean,
    student_quantile,
)


@given(st.floats(0.001, 0.999), st.integers(1, 200))
def test_students_t_is_scipys(probability, freedom):
    """Both tails."""
    assert student_quantile(probability, freedom) == pytest.approx(
        stats.t.ppf(probability, freedom), rel=1e-9, abs=1e-9
    )


@given(st.lists(st.floats(0.5, 50), min_size=2, max_size=30))
def test_the_limits_of_a_mean_are_scipys(figures):
    """One-sided, from the sample's own scatter."""
    found = limit_mean(figures)
    error = stats.sem(figures)

    assert found.mean == pytest.approx(sum(figures) / len(figures))
    if error > 1e-9:
        low, high = stats.t.interval(0.9, len(figures) - 1, found.mean, error)
        assert (found.low, found.high) == pytest.approx((max(0, low), high), rel=1e-9)
    assert 0 <= found.low <= found.mean * (1 + 1e-12)


@given(st.integers(1, 60), st.floats(0.02, 1), st.floats(0.5, 0.99))
def test_so_many_bags_are_enough_and_one_fewer_is_not(fruit, set_share, confidence):
    """By scipy's binomial; never fewer than are enough on average, unless half a chance will do."""
    bags = count_bags_surely(fruit, set_share, confidence)

    assert stats.binom.sf(fruit - 1, bags, set_share) >= confidence - 1e-9
    if bags > fruit:
        assert stats.binom.sf(fruit - 1, bags - 1, set_share) < confidence + 1e-9


def test_every_case_of_a_few_bags_counted():
    """Three fruit at one in two: 8 of 10 bags miss them with 56 cases of 1,024, 8 bags with 37 of 256."""
    missed = sum(comb(10, k) for k in range(3)) / 2**10
    assert (56 / 1024, 37 / 256) == (missed, sum(comb(8, k) for k in range(3)) / 2**8)
    assert 11 == count_bags_surely(3, 0.5)
    assert 10 == count_bags_surely(3, 0.5, 0.94)


def test_a_simulated_season_gives_the_fruit():
    """Five thousand seasons (seed 3): 40 fruit at 80 % come in at least 95 of 100."""
    source = random.Random(3)
    bags = count_bags_surely(40, 0.8)
    enough = sum(sum(source.random() < 0.8 for _ in range(bags)) >= 40 for _ in range(5000))

    assert enough / 5000 >= 0.94


@given(st.integers(1, 10_000), st.floats(0.01, 1))
def test_the_mean_is_never_beyond_what_is_sure(fruit, set_share):
    """Expected bags give at least the fruit on average, and one fewer doesn't."""
    bags = count_bags(fruit, set_share)

    assert bags * set_share >= fruit * (1 - 1e-9)
    assert bags == fruit or (bags - 1) * set_share < fruit


def test_fruit_are_counted_whole():
    """250 g at 7 g a fruit, nine tenths of it sold, are 40 fruit (39.7); as typed, not as floats."""
    assert 40 == count_fruit(250, 7, 0.9)
    assert 3 == count_fruit(Decimal("0.3"), 0.1)
    assert 1 == count_fruit(Decimal("1e-20"), 5)


@pytest.mark.parametrize(
    "call",
    [
        lambda: count_fruit(0, 7),
        lambda: count_fruit(-1, 7),
        lambda: count_fruit(float("nan"), 7),
        lambda: count_fruit(float("inf"), 7),
        lambda: count_fruit(1e300, 7),
        lambda: count_fruit(250, 1e-300),
        lambda: count_fruit(250, 0),
        lambda: count_fruit(250, 7, 0),
        lambda: count_bags(0, 0.5),
        lambda: count_bags(5, 0),
        lambda: count_bags_surely(5, 0),
        lambda: count_bags_surely(0, 0.5),
        lambda: count_bags_surely(10**15, 0.5),
        lambda: count_bags_surely(10**6, 1e-5),
        lambda: count_bags_surely(5, 1e-300),
        lambda: count_bags_surely(5, 0.5, 1),
        lambda: limit_mean([3.0]),
        lambda: limit_mean([3.0, float("nan")]),
        lambda: limit_mean([3.0, -1.0]),
        lambda: student_quantile(0.5, 0),
        lambda: student_quantile(1.0, 3),
    ],
)
def test_what_cannot_be_is_refused(call):
    """At once, in words."""
    with pytest.raises(ValueError, match=r"must|million|number|shows no variation"):
        call()
