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


@pytest.mark.parametrize(
    ("bags", "chosen", "probes"),
    [(1, 1, 5), (5, 5, 5), (6, 6, 6), (7, 6, 6), (14, 6, 6), (15, 7, 7), (244, 29, 29), (245, 30, 30),
     (256, 30, 30)],
)  # fmt: skip
def test_bags_at_each_edge(bags, chosen, probes):
    """All up to six, then five and a tenth rounded half up, thirty at most; five probes at least."""
    found = sample_bags(bags)

    assert (chosen, probes) == (found.bags, found.probes)


@pytest.mark.parametrize(
    ("containers", "samples"),
    [(1, 3), (4, 12), (5, 10), (8, 16), (9, 9), (15, 15), (16, 15), (30, 15), (31, 20), (59, 20), (60, 30)],
)  # fmt: skip
def test_primary_samples_at_each_edge(containers, samples):
    """Three each, two each, one each, then fixed numbers."""
    assert samples == count_primary_samples(containers)
