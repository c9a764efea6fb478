"""Seed that can be offered is never more than is there, nor more than is traced."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.figures.availability import find_available

GRAMS = st.integers(0, 10**9)


@given(GRAMS, GRAMS, GRAMS, GRAMS)
def test_nothing_is_offered_twice(there, traced, promised, test):
    """What is offered, promised and tested is there and traced; nothing is offered where that can't be."""
    found = find_available(there, traced, promised, test)

    assert there - promised - test == found.free_mg
    assert found.offered_mg >= 0
    if found.offered_mg:
        assert found.offered_mg + promised + test <= min(there, traced)
    else:
        assert promised + test >= min(there, traced)


def test_a_milligram_is_a_milligram():
    """15.1 g there, 12 of them traced, 2 promised, 0.4 for a test: 9.6 g."""
    assert 9_600 == find_available(15_100, 12_000, 2_000, 400).offered_mg


@pytest.mark.parametrize("at", range(4))
def test_a_negative_weight_is_refused(at):
    """Each of the four."""
    with pytest.raises(ValueError, match="whole number"):
        find_available(*(-1 if place == at else 1 for place in range(4)))
