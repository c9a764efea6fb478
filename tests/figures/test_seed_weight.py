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


def test_eight_replicates_at_the_limit():
    """Eight around 1 g with a coefficient of variation of exactly 4 pass; a hair wider fails."""
    weights = ["1.06", "0.94", "1.04", "0.96", "1.02", "0.98", 1, 1]
    at, beyond = weigh_thousand(weights), weigh_thousand(["1.0601", "0.9399", *weights[2:]])

    assert (8, 1.0, 0.0016, 4.0, 4.0, True, ()) == (
        at.replicates, at.mean, at.variance, at.cv, at.limit, at.passes, at.dropped,
    )  # fmt: skip
    assert (True, False) == (beyond.cv > 4, beyond.passes)
    assert (6.0, True) == (weigh_thousand(weights, chaffy=True).limit, beyond.replicates == 8)


def test_weights_by_hand():
    """Hundreds of 1.6 g are 16 g a thousand and 62.5 seeds a gram; single seeds of 2 g are 2,000 g."""
    found, single = weigh_thousand([1.5, 1.7]), weigh_thousand([1, 3], 1)

    assert (2, 16.0, 62.5) == (found.replicates, found.thousand_seeds, found.seeds_per_gram)
    assert (2000.0, 0.5) == (single.thousand_seeds, single.seeds_per_gram)
    with pytest.raises(ValueError, match="seeds in a replicate"):
        weigh_thousand([1, 1], 0)


def test_outliers_are_dropped_of_sixteen_and_not_of_fifteen():
    """Of fifteen the verdict is that of the variation alone."""
    fifteen, sixteen = weigh_thousand([1.6] * 14 + [2.6]), weigh_thousand([1.6] * 15 + [2.6])

    assert ((), False) == (fifteen.dropped, fifteen.passes)
    assert ((15,), True, 1.6) == (sixteen.dropped, sixteen.passes, sixteen.mean)


def test_just_two_standard_deviations_are_not_beyond():
    """Seventeen of which two lie off by twice the eight's step: exactly 2 s, and they stay."""
    weights = ["1.2", "0.8", *["1.1", "0.9"] * 4, *[1] * 7]
    found = weigh_thousand(weights)

    assert (17, 0.01, (), 1.0) == (found.replicates, found.variance, found.dropped, found.mean)
    assert (0, 1) == weigh_thousand(["1.2001", "0.7999", *weights[2:]]).dropped
