"""Pools: their limits, their plans, and the case where every pool is positive."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.figures.pools import (
    bound_after_none,
    count_pools,
    detection_confidence,
    estimate_share,
    largest_pool,
    plan_cost,
)
from certgen.figures.proportions import exact_limits


@given(st.integers(1, 100), st.integers(1, 400), st.data())
def test_limits_bracket_the_estimates(pools, seeds, data):
    """Both estimates lie between the limits; the bias-reduced one is never the larger."""
    found = estimate_share(pools, seeds, data.draw(st.integers(0, pools)))

    assert 0 <= found.low <= found.high <= 1
    if not found.only_lower_limit:
        assert found.low <= found.estimate <= found.high
        assert found.bias_reduced <= found.estimate


def test_every_pool_positive_gives_a_lower_limit_only():
    """No estimate is printed where it would be 100 %."""
    found = estimate_share(10, 50, 10)

    assert (None, None, None, 1.0, True) == (
        found.estimate,
        found.bias_reduced,
        found.standard_error,
        found.high,
        found.only_lower_limit,
    )
    assert 0 < found.low < 0.05


def test_pools_of_one_are_single_seeds():
    """The estimate is the plain share, even when all are positive."""
    assert 1.0 == estimate_share(10, 1, 10).estimate
    found, single = estimate_share(20, 1, 3), exact_limits(3, 20)

    assert (single.estimate, single.low, single.high) == pytest.approx(
        (found.estimate, found.low, found.high)
    )
    assert found.estimate == pytest.approx(found.bias_reduced)


@given(st.floats(0.0005, 0.9), st.integers(1, 100), st.floats(0.5, 0.99), st.floats(0.3, 1))
def test_the_number_of_pools_is_the_smallest(proportion, seeds, confidence, sensitivity):
    """It reaches the confidence and one pool fewer does not."""
    needed = count_pools(proportion, seeds, confidence, sensitivity)

    assert detection_confidence(needed, seeds, proportion, sensitivity) >= confidence - 1e-10
    assert (
        needed == 1 or detection_confidence(needed - 1, seeds, proportion, sensitivity) < confidence + 1e-10
    )


@given(st.integers(1, 60), st.integers(1, 300), st.floats(0.5, 0.99), st.floats(0.3, 1))
def test_the_bound_is_what_would_just_be_found(pools, seeds, confidence, sensitivity):
    """At the bound after none, the pools find it with exactly the confidence."""
    bound = bound_after_none(pools, seeds, confidence, sensitivity)

    if bound is None:
        assert detection_confidence(pools, seeds, 1.0, sensitivity) <= confidence + 1e-12
    else:
        assert confidence == pytest.approx(detection_confidence(pools, seeds, bound, sensitivity), abs=1e-9)


def test_certain_pools():
    """A lot that is all positive needs one pool; no pools find nothing."""
    assert 2 == count_pools(0.5, 1, 0.75)
    assert (1, 1.0, 0.0) == (
        count_pools(1.0, 5),
        detection_confidence(1, 5, 1.0),
        detection_confidence(0, 5, 1.0),
    )


def test_cost_and_share_of_the_lot():
    """Seeds, exact grams, and the share of a lot of 480 g."""
    cost = plan_cost(10, 300, Decimal("16.1"), 480)

    assert (3000, Decimal("48.3"), 0.100625) == (cost.seeds, cost.grams, cost.share_of_lot)
    assert None is plan_cost(1, 1, 16).share_of_lot


def test_nonsense_is_refused():
    """More positive pools than pools, empty pools, a detection limit of nothing."""
    with pytest.raises(ValueError, match="more found"):
        estimate_share(3, 10, 4)
    with pytest.raises(ValueError, match="seeds in a pool"):
        count_pools(0.01, 0)
    with pytest.raises(ValueError, match="detection limit"):
        largest_pool(0)


def test_a_test_that_misses_as_often_as_not_bounds_nothing_at_even_odds():
    """One pool, positive, is missed half the time. A shade better bounds something."""
    assert None is bound_after_none(1, 5, 0.5, 0.5)
    assert 0.9 < bound_after_none(1, 5, 0.5, 0.500001) < 1


def test_the_standard_error_of_single_seeds_is_the_binomial_one():
    """Pools of one: sqrt(p(1-p)/n), worked by hand; and of two, with (1 - (1-p)²)/(4n)."""
    assert 0.04 == pytest.approx(estimate_share(100, 1, 20).standard_error)
    assert (0.36 / (4 * 100)) ** 0.5 == pytest.approx(estimate_share(100, 2, 36).standard_error)


def test_a_detection_limit_of_every_seed_allows_one_seed():
    """One of one; more than all is no share. 0.4 % allows 250."""
    assert (1, 250) == (largest_pool(1), largest_pool(Decimal("0.004")))
    with pytest.raises(ValueError, match="up to 1"):
        largest_pool(Decimal("1.5"))
