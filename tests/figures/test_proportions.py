"""Limits bracket the estimate and tighten with more seed."""

from __future__ import annotations

import math
from dataclasses import astuple

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.figures.proportions import (
    bound_after_none,
    bound_with_uniform_prior,
    exact_limits,
    rule_of_three,
    score_limits,
)

COUNTS = st.integers(1, 400).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))


@given(COUNTS, st.floats(0.5, 0.999), st.sampled_from([1, 2]))
def test_limits_bracket_the_estimate(counts, confidence, sides):
    """low <= estimate <= high, within 0 and 1, for exact and for score limits."""
    exact = exact_limits(*counts, confidence, sides)

    assert 0 <= exact.low <= exact.estimate <= exact.high <= 1
    score = score_limits(*counts, confidence, sides)
    assert 0 <= score.low <= score.estimate <= score.high <= 1


@given(COUNTS, st.floats(0.5, 0.99), st.floats(0.5, 0.99))
def test_more_confidence_widens(counts, one, other):
    """Monotone in confidence."""
    narrow, wide = (exact_limits(*counts, c) for c in sorted((one, other)))

    assert wide.low <= narrow.low + 1e-12
    assert narrow.high <= wide.high + 1e-12


@given(COUNTS)
def test_found_and_not_found_mirror(counts):
    """The limits of the rest are one less the limits."""
    positive, tested = counts
    one, other = exact_limits(positive, tested), exact_limits(tested - positive, tested)

    assert one.low == pytest.approx(1 - other.high, abs=1e-12)


@given(st.integers(1, 5000), st.floats(0.5, 0.99))
def test_bound_after_none_is_the_exact_limit(tested, confidence):
    """One- and two-sided, and it shrinks with every seed more; the rule of three lies above it."""
    for sides in (1, 2):
        expected = exact_limits(0, tested, confidence, sides).high
        assert expected == pytest.approx(bound_after_none(tested, confidence, sides), rel=1e-9)
    assert bound_after_none(tested + 1, confidence) < bound_after_none(tested, confidence)
    assert rule_of_three(tested) >= bound_after_none(tested) - 1e-15


def test_an_insensitive_test_bounds_nothing():
    """Three seeds with a test that sees half of them: nothing is ruled out."""
    assert None is bound_after_none(3, sensitivity=0.5)
    assert bound_after_none(100, sensitivity=0.5) == pytest.approx(2 * bound_after_none(100))


def test_uniform_prior_counts_one_seed_more():
    """None of n bounds as the exact limit of n + 1."""
    assert bound_after_none(300) == pytest.approx(bound_with_uniform_prior(0, 299))


def test_nonsense_is_refused():
    """Three-sided bounds and impossible counts."""
    with pytest.raises(ValueError, match="no other number of sides"):
        exact_limits(0, 5, sides=3)
    with pytest.raises(ValueError, match="more found than tested"):
        score_limits(6, 5)


def test_a_bound_of_the_whole_lot_is_still_a_bound():
    """One seed, even odds, a test that sees half: every seed of the lot may be positive, and no more."""
    assert 1.0 == bound_after_none(1, 0.5, sensitivity=0.5)
    assert None is bound_after_none(1, 0.5, sensitivity=0.499)


@given(COUNTS, st.floats(0.5, 0.99))
def test_the_uniform_prior_leaves_the_tail_that_was_asked_for(counts, confidence):
    """P(Beta(k+1, n-k+1) > x) is the chance of at most k of n+1 at a share of x (an identity)."""
    positive, tested = counts
    share = bound_with_uniform_prior(positive, tested, confidence)
    tail = sum(
        math.comb(tested + 1, k) * share**k * (1 - share) ** (tested + 1 - k) for k in range(positive + 1)
    )

    assert 1 - confidence == pytest.approx(tail, rel=1e-6)


def test_score_limits_of_one_in_ten_are_wilsons():
    """1.79 to 40.42 %, and mirrored for nine: one found already lifts the lower limit from nothing."""
    one, nine = score_limits(1, 10), score_limits(9, 10)

    assert (1.79, 40.42) == (round(100 * one.low, 2), round(100 * one.high, 2))
    assert (59.58, 98.21) == (round(100 * nine.low, 2), round(100 * nine.high, 2))


def test_exact_limits_by_hand():
    """One of one: 2.5 % at least, or 5 % one-sided; none of one mirrors it; one of two lies between roots."""
    assert (1.0, 0.025, 1.0, 0.95, 2) == pytest.approx(astuple(exact_limits(1, 1)))
    assert (0.0, 0.0, 0.975) == pytest.approx(astuple(exact_limits(0, 1))[:3])
    assert 0.05 == pytest.approx(exact_limits(1, 1, sides=1).low)
    half = exact_limits(1, 2)
    assert (1 - 0.975**0.5, 0.975**0.5) == pytest.approx((half.low, half.high))


def test_score_limits_by_hand():
    """None of ten at 95 %: z² / (n + z²), two-sided and one-sided; all of ten mirror it."""
    for sides, z in ((2, 1.959964), (1, 1.644854)):
        none, every = score_limits(0, 10, sides=sides), score_limits(10, 10, sides=sides)

        assert (0.0, 0.0, sides) == (none.estimate, none.low, none.sides)
        assert (1.0, 1.0, 0.95) == (every.estimate, every.high, every.confidence)
        assert z**2 / (10 + z**2) == pytest.approx(none.high, rel=1e-6)
        assert 10 / (10 + z**2) == pytest.approx(every.low, rel=1e-6)
    assert astuple(score_limits(0, 10)) == astuple(score_limits(0, 10, 0.95, 2))


def test_bounds_after_none_by_hand():
    """1 - 0.05^(1/n) is one-sided, and meant where nothing is said; two-sided 1 - 0.025^(1/n)."""
    assert 1 - 0.05 ** (1 / 14) == pytest.approx(bound_after_none(14))
    assert 1 - 0.025 ** (1 / 14) == pytest.approx(bound_after_none(14, sides=2))
    assert (0.95, 0.975) == pytest.approx((bound_after_none(1), bound_after_none(1, sides=2)))


def test_three_over_n():
    """Up to three seeds it says nothing."""
    assert [1.0, 1.0, 0.75, 0.03] == [rule_of_three(tested) for tested in (1, 3, 4, 100)]


def test_the_uniform_prior_by_hand():
    """None of one: 1 - sqrt(0.05); one of one: x² leaves 95 % at sqrt(0.95)."""
    assert 1 - 0.05**0.5 == pytest.approx(bound_with_uniform_prior(0, 1))
    assert 0.95**0.5 == pytest.approx(bound_with_uniform_prior(1, 1))


@pytest.mark.parametrize("confidence", [0, 1])
def test_certainty_has_no_limits(confidence):
    """Nor has none at all; a test that sees nothing bounds nothing, and none tested neither."""
    for ask in (exact_limits, score_limits, bound_with_uniform_prior):
        with pytest.raises(ValueError, match="confidence"):
            ask(1, 5, confidence)
    with pytest.raises(ValueError, match="sensitivity"):
        bound_after_none(5, sensitivity=0)
    for ask in (bound_after_none, rule_of_three):
        with pytest.raises(ValueError, match="at least 1"):
            ask(0)
