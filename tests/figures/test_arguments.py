"""Arguments are refused in plain words."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest

from certgen.figures.arguments import (
    check_confidence,
    check_count,
    check_mass,
    check_positives,
    check_proportion,
    exact,
)


@pytest.mark.parametrize("value", [-0.1, 1.1, float("nan"), float("inf")])
def test_a_share_lies_between_nothing_and_all(value):
    """A share outside 0 to 1, or no number, is refused by name."""
    with pytest.raises(ValueError, match="The share must lie from 0 up to 1"):
        check_proportion(value, "The share")


def test_ends_can_be_shut_out():
    """Zero and one are refused where they make no sense."""
    with pytest.raises(ValueError, match="above 0 and below 1"):
        check_confidence(0)
    with pytest.raises(ValueError, match="above 0 and below 1"):
        check_confidence(1)
    assert 0.5 == check_confidence(0.5)


@pytest.mark.parametrize("value", [-1, 2.5, True, float("nan"), float("inf")])
def test_counts_are_whole(value):
    """Negative counts, fractions and yes/no are refused."""
    with pytest.raises(ValueError, match="whole number of at least 0"):
        check_count(value, "The count")


def test_no_more_found_than_tested():
    """Six of five is refused, none tested too."""
    with pytest.raises(ValueError, match="more found than tested"):
        check_positives(6, 5)
    with pytest.raises(ValueError, match="at least 1"):
        check_positives(0, 0)


@pytest.mark.parametrize("value", [0.95, "0.95", Decimal("0.95"), Fraction(19, 20)])
def test_numbers_are_read_as_written(value):
    """0.95 is 19/20 in any form."""
    assert Fraction(19, 20) == exact(value)


def test_a_columns_integers_do_not_overflow():
    """64-bit integers out of a table become whole numbers without a limit."""
    big = exact(np.int64(2**62))

    assert 2**124 == big * big


@pytest.mark.parametrize("value", ["", "a", float("nan"), float("inf"), "1/0"])
def test_what_is_no_number_is_refused(value):
    """Text and the infinite are refused."""
    with pytest.raises(ValueError, match="not a number"):
        exact(value)


def test_masses_are_not_negative():
    """Zero is refused unless it is allowed."""
    with pytest.raises(ValueError, match="more than zero"):
        check_mass(0, "The seed")
    with pytest.raises(ValueError, match="zero or more"):
        check_mass(-1, "The seed", zero=True)
    assert 0 == check_mass(0, "The seed", zero=True)
