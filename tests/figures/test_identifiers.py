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


@pytest.mark.parametrize(("body", "digit"), [("CUH-CP551", 8), ("UFL-X17CP", 9), ("ZZ-ZZZZZZ", 1)])
def test_identifiers_by_hand(body, digit):
    """C 3, U 21, H 8, C 3, P 16 and 11 make 62, then 8; the second makes 90; eight Z make 208, 10, then 1."""
    assert digit == check_digit(body)
    assert [digit] == [last for last in range(10) if verify_identifier(f" {body}-{last} ".lower())]


@pytest.mark.parametrize("text", ["AB-C1234", "AB-C123456", "ABC-1234", "ABC-123456"])
def test_eight_characters_and_a_dash(text):
    """Seven or nine are refused, however they are parted."""
    with pytest.raises(ValueError, match="not the body"):
        check_digit(text)
