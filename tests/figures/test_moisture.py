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


@pytest.mark.parametrize(
    ("weighings", "percent"),
    [((20, 25, 24.5), 10), ((20, 25, 25), 0), ((20, 25, 20), 100), ((0, 4, 3), 25), ((0, 4, 0), 100)],
)
def test_weighings_by_hand(weighings, percent):
    """Half a gram of five; nothing lost; all lost; no container at all."""
    assert percent == wet_basis(*weighings)


@pytest.mark.parametrize(
    ("after", "difference", "agrees"),
    [("24.5", 0.0, True), ("24.51", 0.2, True), ("24.5101", 0.202, False), ("24.515", 0.3, False),
     ("24.489", 0.22, False)],
)  # fmt: skip
def test_repeats_may_lie_two_tenths_apart(after, difference, agrees):
    """Either way, and no hundredth more."""
    found = compare_duplicates((20, 25, "24.5"), (20, 25, after))

    assert (10.0, difference, agrees) == (found.first, found.difference, found.agrees)
    assert (found.first + found.second) / 2 == pytest.approx(found.mean)


def test_bases_by_hand():
    """20 % of wet weight is 25 % of dry weight; half is as much again; more water than seed is possible."""
    assert (25.0, 100.0, 0.0) == (to_dry_basis(20), to_dry_basis(50), to_dry_basis(0))
    assert (20.0, 50.0, 0.0, 60.0) == (
        to_wet_basis(25), to_wet_basis(100), to_wet_basis(0), to_wet_basis(150),
    )  # fmt: skip


def test_weights_by_hand():
    """1,000 g at 20 % hold 800 g of dry seed: 1,000 g at 20 % are 888.9 g at 10 %, and 800 g at nothing."""
    assert (800.0, 1000.0, 1600.0) == (weigh_at(1000, 20, 0), weigh_at(1000, 20, 20), weigh_at(1000, 20, 50))
    assert 888.9 == round(weigh_at(1000, 20, 10), 1)
    assert (20.0, 50.0, 0.0) == (
        moisture_at(1000, 20, 1000), moisture_at(1000, 20, 1600), moisture_at(1000, 20, 800),
    )  # fmt: skip
    assert (0.0, 20.0, 36.0) == (two_stages(0, 0), two_stages(0, 20), two_stages(20, 20))


@pytest.mark.parametrize("percent", [-0.01, 100, 100.5])
def test_moisture_of_wet_weight_ends_below_100(percent):
    """Wherever it is asked for."""
    for ask in (
        lambda: two_stages(percent, 5), lambda: two_stages(5, percent), lambda: to_dry_basis(percent),
        lambda: weigh_at(5, percent, 5), lambda: weigh_at(5, 5, percent), lambda: moisture_at(5, percent, 5),
    ):  # fmt: skip
        with pytest.raises(ValueError, match="from 0 % to below 100 %"):
            ask()


def test_nothing_has_no_moisture():
    """Seed of no weight is refused."""
    for ask in (lambda: weigh_at(0, 5, 5), lambda: moisture_at(0, 5, 5), lambda: moisture_at(5, 5, 0)):
        with pytest.raises(ValueError, match="weight must be more than zero"):
            ask()
