"""Pools of seed: published data sets and lists, and statsmodels as a second engine."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.stats.proportion import proportion_confint

from certgen.figures import proportions
from certgen.figures.pools import (
    bound_after_none,
    count_pools,
    detection_confidence,
    estimate_share,
    largest_pool,
    plan_cost,
)

COVERS = ("certgen.figures.pools",)

# 42 pools of 5: a veterinary worked example (its text gives the two methods' names the wrong way round; the
# values
# are right). 24 pools of 7: Tebbs and Bilder 2004 (0.0189, 0.0038-0.0543 from memory). The others are
# computed.
# Bias-reduced: Burrows 1987 (formula from memory), as Firth's correction for equal pools in Hepworth and
# Biggerstaff 2017.
ESTIMATES = [
    (42, 5, 22, 0.137903, 0.086587, 0.203766, 0.136121),
    (24, 7, 3, 0.018895, 0.003838, 0.054324, 0.018544),
    (20, 10, 3, 0.016121, 0.003254, 0.046514, 0.015739),
    (10, 300, 1, 0.000351, 0.000008, 0.001961, 0.000334),
]


@pytest.mark.parametrize(("pools", "seeds", "positive", "share", "low", "high", "reduced"), ESTIMATES)
def test_estimates(pools, seeds, positive, share, low, high, reduced):
    """Estimate, exact limits and bias-reduced estimate."""
    found = estimate_share(pools, seeds, positive)

    assert [share, low, high, reduced] == [
        round(part, 6) for part in (found.estimate, found.low, found.high, found.bias_reduced)
    ]


def test_the_veterinary_example_has_this_standard_error():
    """SE 0.027903, and by it 0.0832 to 0.1926 (the example's other pair of limits)."""
    found = estimate_share(42, 5, 22)

    assert 0.027903 == round(found.standard_error, 6)
    assert (0.0832, 0.1926) == (
        round(found.estimate - 1.959964 * found.standard_error, 4),
        round(found.estimate + 1.959964 * found.standard_error, 4),
    )


# A published list: pools needed at 95 % for 1 %, sensitivity 0.90 a pool.
@pytest.mark.parametrize(
    ("seeds", "needed"),
    [(1, 332), (2, 166), (3, 111), (4, 83), (5, 67), (10, 34), (15, 23), (20, 17), (25, 14), (30, 12),
     (40, 9),
     (50, 7), (100, 4)],
)  # fmt: skip
def test_pools_needed(seeds, needed):
    """Each figure of the list, and one pool fewer does not do."""
    assert needed == count_pools(0.01, seeds, 0.95, 0.9)
    assert detection_confidence(needed, seeds, 0.01, 0.9) >= 0.95
    assert detection_confidence(needed - 1, seeds, 0.01, 0.9) < 0.95


def test_thirty_pools_of_ten():
    """Published with the list: 93.28 % confidence; all negative means below 1.11 %."""
    assert 0.9328 == round(detection_confidence(30, 10, 0.01, 0.9), 4)
    assert 0.0111 == round(bound_after_none(30, 10, 0.95, 0.9), 4)


def test_pools_without_a_positive_are_as_good_as_single_seeds():
    """30 pools of 10 with a perfect test: 0.9936 %, as 300 seeds (computed; verified with mpmath)."""
    assert 0.9936 == round(100 * bound_after_none(30, 10), 4)
    assert math.isclose(proportions.bound_after_none(300), bound_after_none(30, 10), rel_tol=1e-12)


def test_the_largest_pool_that_an_assay_stands():
    """BMC Biotechnology 2013, 13:69: real seed mixtures were reliable down to 0.4 %, so 250 seeds a pool."""
    assert 250 == largest_pool(0.004)


def test_the_cost_of_a_plan():
    """3,000 seeds at 16 g a thousand are 48 g (computed)."""
    assert (3000, 48) == (plan_cost(10, 300, 16).seeds, plan_cost(10, 300, 16).grams)


@given(st.integers(1, 300), st.integers(1, 500), st.data())
def test_statsmodels_agrees_on_limits(pools, seeds, data):
    """The limits are statsmodels' exact ones for pools, put through the pool formula."""
    positive = data.draw(st.integers(0, pools))
    low, high = proportion_confint(positive, pools, method="beta")
    found = estimate_share(pools, seeds, positive)

    for theirs, ours in ((low, found.low), (high, found.high)):
        expected = 1 - (1 - min(max(theirs, 0.0), 1.0)) ** (1 / seeds)
        assert math.isclose(expected, ours, rel_tol=1e-6, abs_tol=1e-13)
