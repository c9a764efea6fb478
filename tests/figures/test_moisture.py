"""Moisture figures hang together."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.figures.moisture import (
    compare_duplicates,
    moisture_at,
    to_dry_basis,
    to_wet_basis,
    two_stages,
    weigh_at,
    wet_basis,
)

PERCENTS = st.decimals("0", "95", places=2)
WEIGHTS = st.decimals("0.01", "10000", places=2)


@given(PERCENTS)
def test_the_two_bases_are_inverse(percent):
    """To dry basis and back is the same figure."""
    assert float(percent) == pytest.approx(to_wet_basis(to_dry_basis(percent)))


@given(WEIGHTS, PERCENTS, PERCENTS)
def test_weighing_tells_the_moisture(weight, moisture, wanted):
    """At the target weight the moisture is the one wanted; drying further weighs less."""
    target = weigh_at(weight, moisture, wanted)

    assert float(wanted) == pytest.approx(moisture_at(weight, moisture, target), abs=1e-6)
    assert (target <= float(weight)) == (wanted <= moisture)


@given(PERCENTS, PERCENTS)
def test_two_stages_are_two_losses(first, second):
    """Drying in two stages leaves the product of what each leaves."""
    left = (1 - float(first) / 100) * (1 - float(second) / 100)

    assert 100 * (1 - left) == pytest.approx(two_stages(first, second))


def test_duplicates_are_compared_as_written():
    """9.0 and 8.8 differ by 0.2 exactly, which floating point would not say."""
    found = compare_duplicates((20, 25, 24.55), (20, 25, 24.56))

    assert (9.0, 8.8, 8.9, 0.2, True) == (
        found.first,
        found.second,
        found.mean,
        found.difference,
        found.agrees,
    )


@pytest.mark.parametrize(
    "weighings", [(20, 25, 25.1), (20, 20, 20), (26, 25, 24), (20, 25, 19), (-1, 25, 20), (20, "x", 19)]
)
def test_impossible_weighings_are_refused(weighings):
    """Seed that gained weight, no seed, a dish heavier than dish and seed, text."""
    with pytest.raises(ValueError, match=r"Container|must be|not a number"):
        wet_basis(*weighings)


def test_impossible_moistures_are_refused():
    """Nothing is all water, and seed cannot weigh less than its dry matter."""
    with pytest.raises(ValueError, match="below 100 %"):
        to_dry_basis(100)
    with pytest.raises(ValueError, match="cannot be"):
        to_wet_basis(-1)
    with pytest.raises(ValueError, match="seed was lost"):
        moisture_at(100, 10, 89)
