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


@pytest.mark.parametrize(("pools", "seeds", "positive"), [(10, 2, 1), (20, 50, 3), (8, 3, 7)])
def test_estimates_by_the_formulas(pools, seeds, positive):
    """1 - (1 - k/n)^(1/m), Burrows' with b = (m-1)/2m, and the standard error of the first."""
    found = estimate_share(pools, seeds, positive)
    share = 1 - (1 - positive / pools) ** (1 / seeds)
    shift = (seeds - 1) / (2 * seeds)
    variance = (1 - (1 - share) ** seeds) / (pools * seeds**2 * (1 - share) ** (seeds - 2))
    limits = exact_limits(positive, pools)

    assert share == pytest.approx(found.estimate)
    assert 1 - (1 - positive / (pools + shift)) ** (1 / seeds) == pytest.approx(found.bias_reduced)
    assert variance**0.5 == pytest.approx(found.standard_error)
    assert [1 - (1 - limits.low) ** (1 / seeds), 1 - (1 - limits.high) ** (1 / seeds)] == pytest.approx(
        [found.low, found.high]
    )
    assert (pools, seeds, positive, 0.95, False) == (
        found.pools, found.seeds_per_pool, found.positive, found.confidence, found.only_lower_limit,
    )  # fmt: skip


def test_none_positive_has_an_estimate_and_no_standard_error():
    """Of one pool, too; all positive single seeds have none either."""
    assert (0.0, 0.0, None, 0.0) == (
        estimate_share(1, 5, 0).estimate, estimate_share(1, 5, 0).bias_reduced,
        estimate_share(1, 5, 0).standard_error, estimate_share(1, 5, 0).low,
    )  # fmt: skip
    assert (1.0, 1.0, None, 1.0) == (
        estimate_share(3, 1, 3).estimate, estimate_share(3, 1, 3).bias_reduced,
        estimate_share(3, 1, 3).standard_error, estimate_share(3, 1, 3).high,
    )  # fmt: skip
    assert None is estimate_share(3, 2, 3).estimate


def test_confidence_by_hand():
    """Two pools of two seeds, half of all seed, a test that sees 80 %: 1 - 0.4²."""
    assert 0.84 == pytest.approx(detection_confidence(2, 2, 0.5, 0.8))
    assert (0.0, 0.0, 0.8) == (
        detection_confidence(0, 2, 0.5), detection_confidence(3, 2, 0), detection_confidence(1, 2, 1, 0.8),
    )  # fmt: skip


def test_the_fewest_pools():
    """59 of one seed find one in twenty, 30 of two, one of 59; a pool that is nearly sure is one."""
    assert [59, 30, 1, 1] == [
        count_pools(0.05, 1), count_pools(0.05, 2), count_pools(0.05, 59), count_pools(0.05, 2000),
    ]  # fmt: skip
    assert (1, 2) == (count_pools(1.0, 1, 0.5, 0.5), count_pools(1.0, 1, 0.75, 0.5))


def test_bounds_by_hand():
    """A perfect test bounds as n·m single seeds do; at even odds one pool of one bounds at one half."""
    assert 0.5 == pytest.approx(bound_after_none(1, 1, 0.5))
    assert 1 - 0.05 ** (1 / 300) == pytest.approx(bound_after_none(10, 30))
    assert 0.5 == pytest.approx(bound_after_none(2, 1, 1 - 0.6**2, 0.8))


@pytest.mark.parametrize(
    ("limit", "seeds"), [(1, 1), ("0.51", 1), ("0.5", 2), (0.3, 3), ("0.004", 250), ("0.00401", 249)]
)
def test_the_largest_pool_is_whole(limit, seeds):
    """Rounded down, in exact arithmetic."""
    assert seeds == largest_pool(limit)


def test_plans_by_hand():
    """3,000 seeds at 16 g are 48 g, a tenth of 480 g; a plan of nothing costs nothing."""
    cost = plan_cost(10, 300, 16, 480)

    assert (3000, Decimal(48), 0.1) == (cost.seeds, cost.grams, cost.share_of_lot)
    assert (0, Decimal(0)) == (plan_cost(0, 300, 16).seeds, plan_cost(0, 300, 16).grams)
    assert 0 == plan_cost(10, 0, 16).seeds


@pytest.mark.parametrize(
    ("ask", "message"),
    [
        (lambda: estimate_share(0, 5, 0), "number tested"),
        (lambda: estimate_share(5, 0, 0), "seeds in a pool must be a whole number of at least 1"),
        (lambda: count_pools(0, 5), "proportion to find must lie above 0"),
        (lambda: count_pools(0.1, 5, 1), "confidence"),
        (lambda: count_pools(0.1, 5, 0.9, 0), "sensitivity must lie above 0"),
        (lambda: detection_confidence(-1, 5, 0.1), "number of pools"),
        (lambda: detection_confidence(1, 0, 0.1), "seeds in a pool must be a whole number of at least 1"),
        (lambda: detection_confidence(1, 5, 1.1), "proportion"),
        (lambda: detection_confidence(1, 5, 0.1, 1.1), "sensitivity"),
        (lambda: bound_after_none(0, 5), "number of pools must be a whole number of at least 1"),
        (lambda: bound_after_none(5, 0), "seeds in a pool must be a whole number of at least 1"),
        (lambda: bound_after_none(5, 5, 0.95, 0), "sensitivity must lie above 0"),
        (lambda: largest_pool(-1), "detection limit"),
        (lambda: plan_cost(1, 1, 0), "thousand-seed weight"),
        (lambda: plan_cost(1, 1, 16, 0), "lot's weight"),
    ],
)
def test_every_argument_has_its_range(ask, message):
    """One step beyond it is refused by name."""
    with pytest.raises(ValueError, match=message):
        ask()
