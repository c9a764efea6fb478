"""Acceptance plans accept less as quality falls."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.figures.acceptance import accept_chance, quality_at

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
