"""What lies ahead of a season: published tables and worked figures, and scipy as a second engine.

Sources: Dorfman 1943, the table of group sizes and relative costs, and Newcombe 1998, the table that compares
limits, both from memory and recomputed here; tables of Student's t as in any textbook; a plant-health
standard's table of sample sizes for large lots (from memory); the test data of a public ecology library for
the inverse of Simpson's index; Golosov 2010 for the number of Laakso and Taagepera (from memory).
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import optimize, stats

from certgen.figures.bags_wanted import count_bags_surely, student_quantile
from certgen.figures.contamination import count_checked, judge_failures
from certgen.figures.effective_number import count_parents, effective_by_families, effective_of, spread_shares
from certgen.figures.leaf_pools import design_pools, find_cheapest

COVERS = (
    "certgen.figures.bags_wanted",
    "certgen.figures.contamination",
    "certgen.figures.effective_number",
    "certgen.figures.leaf_pools",
)

#: Prevalence in per cent, best group size, tests in per cent of one a person.
DORFMAN = [
    (1, 11, 20), (2, 8, 27), (3, 6, 33), (4, 6, 38), (5, 5, 43), (6, 5, 47), (8, 4, 53), (9, 4, 56),
    (10, 4, 59), (12, 4, 65), (13, 3, 67), (15, 3, 72), (20, 3, 82), (25, 3, 91), (30, 3, 99),
]  # fmt: skip


@pytest.mark.parametrize(("percent", "size", "cost"), DORFMAN)
def test_group_sizes_and_costs_are_dorfmans(percent, size, cost):
    """In so many trees that any size divides them or nearly so, with a perfect test."""
    trees = 27_720
    best = find_cheapest(trees, 40, percent / 100)

    assert size == best.leaves
    assert cost == round(100 * best.tests / trees)


def test_from_a_third_on_no_pool_saves_tests():
    """Three leaves a pool are even with single ones at 1 - (1/3)^(1/3), 30.66 %."""
    even = optimize.brentq(lambda share: design_pools(300, 3, share).tests - 300, 0.2, 0.4)

    assert 0.3066 == round(even, 4) == round(1 - (1 / 3) ** (1 / 3), 4)
    assert 1 == find_cheapest(300, 40, 0.31).leaves
    assert 3 == find_cheapest(300, 40, 0.30).leaves


@pytest.mark.parametrize(
    ("failed", "checked", "low", "high"),
    [
        (81, 263, 0.2527, 0.3676),
        (15, 148, 0.0578, 0.1617),
        (0, 20, 0.0000, 0.1684),
        (1, 29, 0.0009, 0.1776),
        (5, 10, 0.1871, 0.8129),
        (10, 100, 0.0490, 0.1762),
    ],
)
def test_exact_limits_of_failures_are_the_published_ones(failed, checked, low, high):
    """Clopper and Pearson's, two-sided at 95 %."""
    found = judge_failures(failed, checked)

    assert (low, high) == (round(found.low, 4), round(found.high, 4))


@pytest.mark.parametrize(
    ("percent", "number"), [(10, 29), (5, 59), (2, 149), (1, 299), (0.5, 598), (0.1, 2995)]
)
def test_so_many_looked_at_bound_a_share(percent, number):
    """At 95 %, for a lot far larger than the sample."""
    assert number == count_checked(percent / 100)


@pytest.mark.parametrize(
    ("probability", "freedom", "value"),
    [
        (0.95, 1, 6.314), (0.95, 2, 2.920), (0.95, 5, 2.015), (0.95, 10, 1.812), (0.95, 14, 1.761),
        (0.95, 30, 1.697), (0.95, 120, 1.658), (0.975, 4, 2.776), (0.975, 9, 2.262), (0.995, 3, 5.841),
    ],
)  # fmt: skip
def test_students_t_is_the_textbooks(probability, freedom, value):
    """To three decimals."""
    assert value == round(student_quantile(probability, freedom), 3)


@given(st.integers(1, 500), st.floats(0.05, 0.99), st.sampled_from([0.5, 0.8, 0.9, 0.95, 0.99]))
def test_bags_are_the_fruit_and_the_failures_before_the_last(fruit, share, confidence):
    """The negative binomial's quantile: failures before so many successes, and the successes."""
    expected = fruit + int(stats.nbinom.ppf(confidence, fruit, share))

    # Where the chance hits the confidence to the last bit, either is right.
    failures = (expected - fruit - 1, expected - fruit)
    if all(abs(stats.nbinom.cdf(at, fruit, share) - confidence) > 1e-9 for at in failures):
        assert expected == count_bags_surely(fruit, share, confidence)


@pytest.mark.parametrize(
    ("counts", "number"),
    [
        ([1, 41, 0, 0, 12, 13], 2.250),
        ([13, 13, 13, 13], 4.000),
        ([1, 1, 1, 1, 1, 1], 6.000),
        ([75, 25], 1.600),
        ([75, 10, *[1] * 15], 1.742),
        ([55, 45], 1.980),
        ([35, 35, 30], 2.985),
    ],
)
def test_effective_numbers_are_the_published_ones(counts, number):
    """The inverse of the sum of squared shares, by way of the spread."""
    given_ = [count for count in counts if count]

    assert number == round(effective_of(len(given_), spread_shares(counts)), 3)


@pytest.mark.parametrize(
    ("parents", "variance", "number"),
    [
        (10, 2, Fraction(19, 2)),
        (10, 0, 19),
        (100, 2, Fraction(199, 2)),
        (100, 6, Fraction(199, 4)),
        (50, 4, 33),
    ],
)
def test_variance_in_family_size_counts_as_wright_has_it(parents, variance, number):
    """(4N - 2)/(V + 2), for a population that keeps its size."""
    assert Fraction(4 * parents - 2, variance + 2) == number
    assert float(number) == effective_by_families(parents, 2, variance)


def test_more_spread_takes_more_parents():
    """A coefficient of variation of a half takes a quarter more: 25 for 20, 80 for 64."""
    assert (25, 80) == (count_parents(20, 0.25), count_parents(64, 0.25))
    needed = [count_parents(30, spread / 10) for spread in range(20)]
    assert all(one <= other for one, other in pairwise(needed))
