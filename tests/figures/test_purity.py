"""Purity by weighing all parts, or by subtraction."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.figures.purity import find_purity

MASSES = st.decimals("0", "5", places=3)


def test_a_small_sample_is_the_sum_of_its_parts():
    """9.9 g pure, 0.05 g other, 0.05 g inert: 99.00, 0.50 and 0.50 %."""
    found = find_purity(pure=9.9, other=0.05, inert=0.05)

    assert (Decimal("99.00"), Decimal("0.50"), Decimal("0.50"), False, None) == (
        found.pure, found.other, found.inert, found.by_subtraction, found.missing,
    )  # fmt: skip


def test_a_large_sample_goes_by_subtraction():
    """Of 50 g with 0.25 g other and 0.5 g inert, pure seed is 98.50 %, weighed or not."""
    found = find_purity(other=0.25, inert=0.5, sample=50)

    assert (Decimal("98.50"), True, None) == (found.pure, found.by_subtraction, found.missing)
    assert 0.05 == pytest.approx(find_purity(pure=49.2, other=0.25, inert=0.5, sample=50).missing)


def test_25_grams_is_the_border():
    """25 g goes by subtraction, a milligram less needs the pure seed's weight."""
    assert find_purity(other=0, inert=0, sample=25).by_subtraction
    with pytest.raises(ValueError, match="below 25 g"):
        find_purity(other=0, inert=0, sample=24.999)


@given(MASSES, MASSES)
def test_subtraction_adds_up(other, inert):
    """By subtraction the three parts make exactly 100 %, and a trace is shown as 0.01 %."""
    found = find_purity(other=other, inert=inert, sample=30)

    assert Decimal(100) == found.pure + found.other + found.inert
    assert (found.other > 0) == (other > 0)


def test_impossible_samples_are_refused():
    """Parts heavier than the sample, or nothing at all."""
    with pytest.raises(ValueError, match="more than the sample"):
        find_purity(other=20, inert=11, sample=30)
    with pytest.raises(ValueError, match="no sample"):
        find_purity(pure=0, other=0, inert=0)


def test_small_samples_by_hand():
    """Four parts of which one is other and one inert; all pure; nothing pure."""
    found = find_purity(pure=2, other=1, inert=1, sample="4.5")

    assert (Decimal("50.00"), Decimal("25.00"), Decimal("25.00"), False, 0.5) == (
        found.pure, found.other, found.inert, found.by_subtraction, found.missing,
    )  # fmt: skip
    assert Decimal("100.00") == find_purity(pure=2, other=0, inert=0).pure
    assert Decimal("100.00") == find_purity(pure=0, other=0, inert=2).inert
    assert -0.5 == find_purity(pure=2, other=1, inert=1, sample="3.5").missing


def test_parts_may_be_the_whole_sample():
    """Then nothing pure is left."""
    found = find_purity(other=20, inert=10, sample=30)

    assert (Decimal("0.00"), Decimal("66.67"), Decimal("33.33")) == (found.pure, found.other, found.inert)
    assert Decimal("100.00") == find_purity(other=0, inert=0, sample=30).pure


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"other": -1}, "Other seed"),
        ({"inert": -1}, "Inert matter"),
        ({"pure": -1}, "Pure seed"),
        ({"sample": 0}, "The sample must be more than zero"),
    ],
)
def test_no_part_weighs_less_than_nothing(change, message):
    """And no sample weighs nothing."""
    with pytest.raises(ValueError, match=message):
        find_purity(**({"pure": 1, "other": 1, "inert": 1} | change))
