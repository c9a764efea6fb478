from __future__ import annotations

from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.standards import Practice, StandardError
from certgen.standards.practice import OWN_MARK, UNITS, parse_practice
from certgen.standards.reading import Section

BOUND = st.none() | st.floats(-1000, 1000)


def practice(**changes) -> Practice:
    """Drying air: usual up to 40 °C, impossible above 60."""
    fields = {"key": "drying_c", "title": "Drying air", "low": None, "high": 40.0, "impossible_low": None}
    fields |= {
        "impossible_high": 60.0,
        "usual": 30.0,
        "unit": "°C",
        "source": "Judged",
        "mark": "plausibility",
    }
    return Practice(**(fields | changes))


def entry(**fields):
    """One practice entry as it is parsed."""
    right = {"title": "t", "unit": "days", "source": "s", "mark": "plausibility"}
    return [("days", Section(right | fields, "p.days"))]


@pytest.mark.parametrize(
    ("value", "grade"),
    [(-5, "usual"), (40, "usual"), (40.1, "unusual"), (60, "unusual"), (60.1, "impossible")],
)
def test_a_figure_on_a_bound_is_within_it(value, grade) -> None:
    """Limits are inclusive, and a bound that does not exist holds nothing back."""
    assert grade == practice().grade(value)


@given(st.lists(st.floats(-1000, 1000), min_size=4, max_size=4).map(sorted), st.floats(-2000, 2000))
def test_grades_follow_the_bounds(bounds, value) -> None:
    """For any four rising bounds a value is impossible outside the outer two, usual inside the inner two."""
    impossible_low, low, high, impossible_high = bounds
    found = practice(
        low=low, high=high, impossible_low=impossible_low, impossible_high=impossible_high, usual=None
    ).grade(value)

    assert (found == "impossible") == (value < impossible_low or value > impossible_high)
    assert (found == "usual") == (low <= value <= high)


@pytest.mark.parametrize(
    ("bounds", "text"),
    [
        ({"low": 112, "high": 210, "unit": "days"}, "112 to 210 days"),
        ({}, "at most 40 °C"),
        ({"low": 3, "high": None, "unit": "times"}, "at least 3 times"),
        ({"low": None, "high": None, "usual": 16, "unit": "g"}, "about 16 g"),
        ({"low": 1, "high": 1, "unit": "fruits"}, "1 fruit"),
    ],
)
def test_a_range_is_said_in_words(bounds, text) -> None:
    """A message can quote the usual range."""
    assert text == practice(**bounds).text()


def test_hours_compare_with_recorded_seconds() -> None:
    """A range converts into the unit that records are computed in, bounds that do not exist staying so."""
    found = practice(low=3, high=48, impossible_high=None, usual=12, unit="h").converted("s")

    assert (10800, 172800, None, None, 43200, "s") == (
        found.low,
        found.high,
        found.impossible_low,
        found.impossible_high,
        found.usual,
        found.unit,
    )


@given(BOUND, st.sampled_from(["s", "min", "h", "days"]), st.sampled_from(["s", "min", "h", "days"]))
def test_conversion_comes_back(bound, one, other) -> None:
    """There and back is the same range, up to rounding."""
    found = practice(low=bound, unit=one).converted(other).converted(one)

    assert (None if bound is None else pytest.approx(bound)) == found.low


@pytest.mark.parametrize("unit", ["days", "parsec"])
def test_degrees_are_no_days(unit) -> None:
    """Units of different kinds, or unknown ones, do not convert."""
    with pytest.raises(StandardError, match="cannot be given in"):
        practice().converted(unit)


def test_units_are_written_once() -> None:
    """Each unit's size is positive, so that conversion never divides by nothing."""
    assert all(size > 0 for _, size in UNITS.values())


def test_a_season_sets_its_own_range() -> None:
    """The operation's figure stands in the profile's place, with its reason and its own mark; what
    cannot be stays.
    """
    found = practice().changed(high=45, reason="Trial of our dryer in 2025")

    assert (45, 60, OWN_MARK, "Trial of our dryer in 2025") == (
        found.high,
        found.impossible_high,
        found.mark,
        found.source,
    )
    assert ("usual", "unusual") == (found.grade(43), practice().grade(43))


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"high": 45, "reason": " "}, "needs a reason"),
        ({"high": 70, "reason": "hot"}, "must rise"),
        ({"low": 50, "reason": "hot"}, "must rise"),
    ],
)
def test_a_range_without_reason_or_sense_is_refused(changes, message) -> None:
    """No override makes the impossible possible, or turns a range inside out."""
    with pytest.raises(StandardError, match=message):
        practice().changed(**changes)


@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({}, "give low, high or usual"),
        ({"low": 5, "high": 3}, "must rise"),
        ({"low": 5, "impossible_low": 6}, "must rise"),
        ({"low": 5, "mark": "standard"}, "expected one of plausibility"),
        ({"low": 5, "unit": "fortnights"}, "expected one of s"),
    ],
)
def test_a_wrong_figure_is_refused_by_its_place(fields, message) -> None:
    """A practice figure is never called a standard, and each mistake is named where it stands."""
    with pytest.raises(StandardError, match=message) as caught:
        parse_practice(entry(**fields))

    assert str(caught.value).startswith("p.days")


def test_absent_bounds_are_infinite() -> None:
    """Masks over a table can use both ends without asking whether they exist."""
    assert ((-inf, 40), (-inf, 60)) == (practice().range, practice().limits)


def test_opinions_are_carried_with_their_marks_and_told_beside_the_range() -> None:
    """Where two sides differ both are said, each with where it is from; neither moves a bound."""
    sides = {
        "trade": {"says": "One protocol has 6 to 8 h", "mark": "common practice"},
        "published": {"says": "assays have 10 to 15 h", "mark": "published study"},
    }
    found = parse_practice(entry(low=6, high=18, opinions=sides))["days"]

    assert (
        "6 to 18 days; One protocol has 6 to 8 h (common practice); assays have 10 to 15 h (published study)"
        == found.told()
    )
    assert parse_practice(entry(low=6, high=18))["days"].range == found.range


@pytest.mark.parametrize(
    "side", [{"says": "x"}, {"says": "x", "mark": "law"}, {"mark": "assumed"}, {"says": 1, "mark": "assumed"}]
)
def test_an_opinion_without_its_mark_is_refused(side) -> None:
    """Nobody could tell whose it is."""
    with pytest.raises(StandardError):
        parse_practice(entry(low=6, high=18, opinions={"one": side}))
