"""Acceptance plans accept less as quality falls."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.figures.sampling import accept_chance, quality_at

COVERS = ("certgen.figures.sampling",)

PLANS = st.integers(2, 300).flatmap(lambda n: st.tuples(st.just(n), st.integers(0, min(n - 1, 10))))


@given(PLANS, st.floats(0, 0.5), st.floats(0, 0.5))
def test_worse_seed_is_accepted_less(plan, one, other):
    """Monotone in the proportion."""
    better, worse = sorted((one, other))

    assert accept_chance(*plan, better) >= accept_chance(*plan, worse) - 1e-12


@given(PLANS, st.floats(0.01, 0.99), st.integers(1, 50))
def test_quality_is_the_inverse_of_acceptance(plan, chance, seeds):
    """At the quality for a chance the plan accepts with that chance."""
    proportion = quality_at(*plan, chance, seeds)

    assert chance == pytest.approx(accept_chance(*plan, proportion, seeds_per_unit=seeds), abs=1e-8)


def test_edges():
    """Clean seed passes; an unspecific test fails some of it; seed that is all bad fails."""
    assert 1.0 == accept_chance(20, 0, 0)
    assert 0.5 == pytest.approx(accept_chance(1, 0, 0, specificity=0.5))
    assert 0.0 == accept_chance(20, 0, 1)


def test_nonsense_is_refused():
    """A plan that allows more positives than units, or all of them."""
    with pytest.raises(ValueError, match="more than there are"):
        accept_chance(5, 6, 0.1)
    with pytest.raises(ValueError, match="accepts everything"):
        quality_at(5, 5, 0.5)


def test_one_unit_by_hand():
    """One seed passes if it is sound. A unit of two at 90 and 80 %: 0.9·0.75 + 0.2·0.25 is found positive."""
    assert 0.9 == pytest.approx(accept_chance(1, 0, 0.1))
    assert 0.275 == pytest.approx(
        accept_chance(1, 0, 0.5, seeds_per_unit=2, sensitivity=0.9, specificity=0.8)
    )
    assert 1.0 == accept_chance(5, 5, 0.9)
    assert 1.0 == accept_chance(3, 0, 1, seeds_per_unit=4, sensitivity=0)


def test_quality_of_one_unit_by_hand():
    """A single seed passes in nine of ten lots with a tenth bad; two seeds a unit: 1 - sqrt(0.9)."""
    assert 0.1 == pytest.approx(quality_at(1, 0, 0.9))
    assert 1 - 0.9**0.5 == pytest.approx(quality_at(1, 0, 0.9, 2))
    # Of two at most one: 1 - p² = 0.75 at one half.
    assert 0.5 == pytest.approx(quality_at(2, 1, 0.75))


@pytest.mark.parametrize(
    "ask",
    [
        lambda: accept_chance(0, 0, 0.1),
        lambda: accept_chance(5, -1, 0.1),
        lambda: accept_chance(5, 0, 0.1, seeds_per_unit=0),
        lambda: accept_chance(5, 0, 1.1),
        lambda: accept_chance(5, 0, 0.1, sensitivity=1.1),
        lambda: accept_chance(5, 0, 0.1, specificity=-0.1),
        lambda: quality_at(5, 0, 0.5, 0),
        lambda: quality_at(5, 0, 0),
        lambda: quality_at(5, 0, 1),
        lambda: quality_at(0, 0, 0.5),
    ],
)
def test_every_argument_has_its_range(ask):
    """One step beyond it is refused by name."""
    with pytest.raises(ValueError, match="must"):
        ask()
