"""Thousand-seed weight."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.figures.seed_weight import weigh_thousand

WEIGHTS = st.lists(st.decimals("0.5", "3", places=3), min_size=2, max_size=16)


@given(WEIGHTS)
def test_weight_and_count_are_inverse(weights):
    """Seeds a gram times the weight of a thousand is a thousand; the mean lies among the weights."""
    found = weigh_thousand(weights)

    assert 1000 == pytest.approx(found.seeds_per_gram * found.thousand_seeds)
    assert float(min(weights)) - 1e-12 <= found.mean <= float(max(weights)) + 1e-12


def test_fewer_than_eight_give_no_verdict():
    """Seven replicates have a weight and a spread, and neither pass nor fail."""
    assert None is weigh_thousand([1.6] * 7).passes
    assert weigh_thousand([1.6] * 8).passes


def test_chaffy_seed_may_vary_more():
    """A coefficient of variation of about 5 % fails at 4.0 and passes at 6.0."""
    weights = [1.5, 1.68, 1.52, 1.66, 1.5, 1.68, 1.52, 1.66]

    assert (False, True) == (weigh_thousand(weights).passes, weigh_thousand(weights, chaffy=True).passes)


def test_of_sixteen_the_outliers_are_dropped():
    """One replicate far off is left out of the mean, and is named."""
    found = weigh_thousand([1.6] * 7 + [2.6] + [1.6] * 8)

    assert ((7,), 1.6, True) == (found.dropped, found.mean, found.passes)


def test_replicates_of_fifty():
    """Fifty seeds of 0.8 g are 16 g a thousand."""
    assert 16.0 == weigh_thousand([0.8, 0.8], 50).thousand_seeds


def test_nonsense_is_refused():
    """One replicate, or one that weighs nothing."""
    with pytest.raises(ValueError, match="at least two"):
        weigh_thousand([1.6])
    with pytest.raises(ValueError, match="more than zero"):
        weigh_thousand([1.6, 0])


def test_the_spread_of_two_replicates():
    """1.5 g and 1.7 g: the mean is 1.6 g, the variance 0.02, the coefficient of variation 8.84 %."""
    found = weigh_thousand([1.5, 1.7])

    assert (1.6, 0.02, 8.84) == (found.mean, round(found.variance, 12), round(found.cv, 2))
