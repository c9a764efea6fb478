"""Numbers written as a range, and which of the records they mean."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.records.joining.ranges import NameRanges


@pytest.mark.parametrize(
    ("known", "entry", "meant"),
    [
        (["B1", "B2", "B3", "B4"], "B2 to B3", ("B2", "B3")),
        (["B1", "B2", "B3", "B4"], "B2..B4", ("B2", "B3", "B4")),
        (["B1", "B2", "B3"], "  B1 .. B2 ", ("B1", "B2")),
        (["B1", "B2"], "B2", ("B2",)),
        (["B1", "B2"], "B3", ()),
        (["B1", "B2"], "b1 to b2", ()),
        (["B4", "B2", "B3"], "B2 to B9", ("B4", "B2", "B3")),
        (["B1", "B3"], "B1 to B3", ("B1", "B3")),
        (["B1", "B2"], "B2 to B1", ()),
        (["B1", "C2", "C3"], "B1 to C3", ()),
        (["B1", "B2"], "B1 to", ()),
        (["B1", "B2"], "B1 to B2 to B3", ()),
        (["B1", "B2"], "B1-B2", ()),
        (["9", "10", "11"], "9 to 10", ("9", "10")),
        (["1-2", "1-3", "2-2"], "1-2 to 1-3", ("1-2", "1-3")),
        (["a to c", "a", "c"], "a to c", ("a to c",)),
        (["X", "Y"], "X to Y", ()),
    ],
)
def test_what_a_name_or_range_means(known, entry, meant):
    """Both ends have the same letters before the number; the records stand in their own order."""
    assert meant == NameRanges(known).expand(entry)


@pytest.mark.parametrize(
    ("entry", "meant"),
    [
        ("01 to 12", ("01", "05", "12")),
        ("001 to 012", ("005",)),
        ("1 to 12", ("5", "12")),
        ("0 to 12", ("5", "12")),
        ("5 to 012", ()),
        ("01 to 112", ()),
    ],
)
def test_noughts_before_a_number_are_part_of_it(entry, meant):
    """05, 005 and 5 are three bags; a range that begins with a nought is of numbers of that length."""
    assert meant == NameRanges(["01", "05", "005", "5", "12"]).expand(entry)


def test_a_number_without_end_is_a_name_like_any_other():
    """Python refuses to read one of more than 4,300 digits."""
    known = [f"B{'9' * 5_000}", f"B{'9' * 4_999}8", "B1"]

    assert tuple(known[:2]) == NameRanges(known).expand(f"{known[1]} to {known[0]}")
    assert () == NameRanges(known).expand(f"B1 to {known[0]}")


def test_of_one_number_written_twice_one_is_meant():
    """Which of the two, nobody can tell: it is named once."""
    assert ("B1",) == NameRanges(["B1", "B1"]).expand("B1 to B3")


@given(
    st.lists(st.integers(0, 40), max_size=12, unique=True), st.integers(0, 40), st.integers(0, 40),
    st.sampled_from(["", "B", "B26-", "7-"]),
)  # fmt: skip
def test_a_range_means_the_numbers_between_its_ends(numbers, low, high, letters):
    """And none beside them, whichever records there are."""
    known = [f"{letters}{number:03}" for number in numbers]
    meant = NameRanges(known).expand(f"{letters}{low:03} to {letters}{high:03}")

    assert tuple(f"{letters}{number:03}" for number in numbers if low <= number <= high) == meant
