"""Unique identifiers of events."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.figures.identifiers import check_digit, verify_identifier

BODIES = st.from_regex(r"[A-Z]{3}-[A-Z0-9Ø]{5}", fullmatch=True)


@given(BODIES, st.integers(0, 9))
def test_only_one_digit_is_right(body, digit):
    """Of ten last digits exactly the check digit verifies."""
    assert (digit == check_digit(body)) == verify_identifier(f"{body}-{digit}")


@given(BODIES)
def test_slashed_and_plain_zero_are_one(body):
    """Ø and 0 count the same, as do small letters."""
    assert check_digit(body) == check_digit(body.replace("Ø", "0").lower())


@pytest.mark.parametrize(
    "text", ["", "CUH-CP551-8", "CUHCP551", "CU-CP551", "CUH-CP5511", "CÜH-CP551", "CUH-CP55١"]
)
def test_other_forms_are_refused(text):
    """Too long, too short, foreign letters and digits."""
    with pytest.raises(ValueError, match="not the body"):
        check_digit(text)


def test_a_whole_identifier_needs_three_parts():
    """Without its digit it cannot be verified."""
    with pytest.raises(ValueError, match="not a unique identifier"):
        verify_identifier("CUH-CP551")


@pytest.mark.parametrize(
    # A is 1 and Z is 26; worked by hand.
    ("body", "digit"),
    [("AAA-00000", 3), ("AAA-AAAAA", 8), ("ZZZ-00000", 6), ("AB-C12345", 3), ("ABC-00003", 9)],
)
def test_letters_count_from_a_to_z(body, digit):
    """Both ends of the alphabet count, and a sum of nine stays nine."""
    assert digit == check_digit(body)
