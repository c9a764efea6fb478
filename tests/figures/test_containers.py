"""Bags and containers to sample."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.figures.containers import count_primary_samples, sample_bags


@given(st.integers(1, 2000))
def test_bags_stay_possible(bags):
    """Never more bags than there are, never above thirty, never fewer than for a smaller lot."""
    assert 1 <= sample_bags(bags).bags <= min(bags, 30)
    assert sample_bags(bags).bags <= sample_bags(bags + 1).bags
    assert sample_bags(bags).probes >= 5


@pytest.mark.parametrize("count", [sample_bags, count_primary_samples])
def test_no_bag_is_refused(count):
    """A lot in no bag cannot be sampled."""
    with pytest.raises(ValueError, match="at least 1"):
        count(0)
