"""Names as people write them: the same, alike, or others."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.coop.between.spelling import Spellings, fold


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("AK-26-1", "ak 26/1"),
        ("AK_26_1", "AK\u201126\u20111"),
        ("BF 2207", "BF-2207"),
        ("co-op mixer", "Coop  Mixer"),
        ("Farm A", "FARM\u00a0A"),
        ("\uff21\uff2b-26", "AK 26"),
    ],
)
def test_marks_case_and_width_make_no_other_name(one: str, other: str) -> None:
    """What people write differently is no difference."""
    assert fold(one) == fold(other)


@pytest.mark.parametrize(
    ("one", "other"), [("AK-26-1", "AK-261"), ("1.5", "15"), ("2", "02"), ("ไทย", "ไท"), ("-", "--")]
)
def test_what_tells_two_things_apart_stays(one: str, other: str) -> None:
    """A mark between digits, a nought in front, a letter; and what consists of marks alone."""
    assert fold(one) != fold(other)


@given(st.text(max_size=20))
def test_a_folded_name_folds_to_itself(name: str) -> None:
    """There is one form, whatever was written."""
    assert fold(name) == fold(fold(name))


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("Hollow Acer", "Hollow Acre"),
        ("Holow Acre", "Hollow Acre"),
        ("Hollow Acres", "Hollow Acre"),
        ("Bracken Ford", "Bracken Ford Plant Diagnostics"),
        ("Bracken Ford Plant Diagnostics", "Bracken Ford"),
        ("Alder Bark Orchard", "Alder Bank Orchard"),
    ],
)
def test_a_slip_of_the_pen_is_found(written: str, meant: str) -> None:
    """A letter more, less, other or in another place, and names cut short, either way round."""
    spellings = Spellings()
    spellings.add(meant)
    assert (meant,) == spellings.find(written)


@pytest.mark.parametrize(
    ("written", "other"),
    [
        ("Farm B", "Farm A"),
        ("Member 12 Farm", "Member 13 Farm"),
        ("BF-2207", "BF-2208"),
        ("Two Streams", "Three Streams"),
        ("Hollow Acre", "hollow  acre"),
    ],
)
def test_other_names_are_not_alike(written: str, other: str) -> None:
    """Short ones, other numbers, other words; and what is the same isn't merely alike."""
    spellings = Spellings()
    spellings.add(other)
    assert () == spellings.find(written)
