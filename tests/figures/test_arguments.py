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


@pytest.mark.parametrize("value", [0, 0.25, 1])
def test_a_share_comes_back_as_it_was(value):
    """The ends are shares, too."""
    assert value == check_proportion(value, "The share")


@pytest.mark.parametrize(
    ("zero", "one", "words"),
    [
        (True, True, "from 0 up to 1"),
        (False, True, "above 0 up to 1"),
        (True, False, "from 0 and below 1"),
        (False, False, "above 0 and below 1"),
    ],
)
def test_each_end_is_shut_out_by_itself(zero, one, words):
    """What is refused is what the words say, at both ends."""
    for value, allowed in ((0, zero), (0.5, True), (1, one)):
        if allowed:
            assert value == check_proportion(value, "The share", zero=zero, one=one)
        else:
            with pytest.raises(ValueError, match=words):
                check_proportion(value, "The share", zero=zero, one=one)
    with pytest.raises(ValueError, match=words):
        check_proportion(2, "The share", zero=zero, one=one)


@pytest.mark.parametrize(("value", "least"), [(0, 0), (1, 0), (1, 1), (7, 7), (2.0, 2)])
def test_a_count_of_the_least_is_enough(value, least):
    """And comes back as a whole number."""
    count = check_count(value, "The count", least=least)

    assert (int, value) == (type(count), count)


def test_without_a_word_nothing_is_the_least():
    """One fewer than the least is refused, and the words name it."""
    assert 0 == check_count(0, "The count")
    with pytest.raises(ValueError, match="at least 7, and is 6"):
        check_count(6, "The count", least=7)


@pytest.mark.parametrize(("positive", "tested"), [(0, 1), (1, 1), (4, 5)])
def test_as_many_found_as_tested_is_possible(positive, tested):
    """And none of one."""
    assert (positive, tested) == check_positives(positive, tested)


def test_none_found_is_the_least():
    """Fewer cannot be."""
    with pytest.raises(ValueError, match="The number found must be a whole number of at least 0"):
        check_positives(-1, 5)


@pytest.mark.parametrize("zero", [True, False])
def test_a_mass_comes_back_exactly(zero):
    """Half a gram, whether nothing would be allowed or not."""
    assert Fraction(1, 2) == check_mass("0.5", "The seed", zero=zero)
    with pytest.raises(ValueError, match="The seed must be"):
        check_mass(Decimal("-0.001"), "The seed", zero=zero)
