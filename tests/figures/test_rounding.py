"""Rounding half up, on the figure as written."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.figures.distributions import round_component, round_half_up

COVERS = ("certgen.figures.distributions",)


@pytest.mark.parametrize(
    ("value", "places", "rounded"),
    [
        (0.5, 0, "1"),
        (1.5, 0, "2"),
        (2.5, 0, "3"),
        (-0.5, 0, "-1"),
        (2.675, 2, "2.68"),
        (Fraction(1, 3), 3, "0.333"),
    ],
)
def test_halves_go_away_from_zero(value, places, rounded):
    """The half goes up whatever the digit before it; a float is read as typed."""
    assert Decimal(rounded) == round_half_up(value, places)


def test_decimal_places_are_kept():
    """90 % to two places prints as 90.00."""
    assert "90.00" == str(round_half_up(90, 2))


@given(st.fractions(-1000, 1000), st.integers(0, 4))
def test_rounding_moves_by_half_a_place_at_most(value, places):
    """The rounded figure lies within half a unit of its last place."""
    assert abs(Fraction(round_half_up(value, places)) - value) <= Fraction(1, 2 * 10**places)


def test_absent_parts_stay_absent():
    """Nothing is 0.00 %, and more than all is refused."""
    assert Decimal("0.00") == round_component(0)
    with pytest.raises(ValueError, match="between 0 % and 100 %"):
        round_component(100.1)


@pytest.mark.parametrize(
    ("percent", "shown"),
    [("0.0001", "0.01"), ("0.005", "0.01"), ("0.0149", "0.01"), ("0.015", "0.02"), ("0.0249", "0.02"),
     ("100", "100.00"), ("99.995", "100.00"), (Fraction(1, 3), "0.33")],
)  # fmt: skip
def test_a_trace_is_a_hundredth(percent, shown):
    """Whatever is there at all is shown; from 0.015 % on half up, to two decimals."""
    assert shown == str(round_component(percent))


def test_less_than_nothing_is_no_part():
    """Nothing is, and is shown with its decimals."""
    assert "0.00" == str(round_component("0.0"))
    with pytest.raises(ValueError, match="between 0 % and 100 %"):
        round_component("-0.001")


@pytest.mark.parametrize(
    ("value", "places", "shown"),
    [("-2.5", 0, "-3"), ("-0.004", 2, "0.00"), ("1249", -2, "1.2E+3"), ("1250", -2, "1.3E+3"),
     ("0.4999", 0, "0")],
)  # fmt: skip
def test_places_either_side_of_the_point(value, places, shown):
    """Hundreds as well as hundredths; what is rounded to nothing has no sign."""
    assert shown == str(round_half_up(value, places))
