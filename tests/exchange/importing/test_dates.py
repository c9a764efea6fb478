"""Dates are read without guessing which number is the day."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.exchange.importing.cells import DateError, decide_order, read_date

COVERS = ("certgen.exchange.importing.cells",)

DAYS = st.dates(dt.date(1900, 1, 1), dt.date(2200, 1, 1))


@pytest.mark.parametrize(
    "text",
    [
        "2026-04-03",
        "2026-4-3",
        "2026/04/03",
        "3 Apr 2026",
        "Apr 3, 2026",
        "3-April-2026",
        "3rd April 2026",
        "2026.04.03",
    ],
)
def test_unambiguous_dates(text: str) -> None:
    """The year first, or the month in words, leaves one reading."""
    assert dt.date(2026, 4, 3) == read_date(text, None)


@given(st.lists(DAYS, min_size=1, max_size=12))
def test_a_column_read_by_its_own_order_is_right(days: list[dt.date]) -> None:
    """When a column of day-first dates leaves no doubt, every one of them is read right; else it is left
    open.
    """
    texts = [f"{day.day}/{day.month}/{day.year}" for day in days]
    order = decide_order(texts)

    if order is None:
        assert all(day.day <= 12 for day in days)
    else:
        assert (order, days) == ("dmy", [read_date(text, order) for text in texts])


def test_the_same_date_both_ways_needs_no_order() -> None:
    """The fifth of May reads the same."""
    assert dt.date(2026, 5, 5) == read_date("5/5/2026", None)


def test_told_order_decides() -> None:
    """The grower's word settles it."""
    assert (dt.date(2026, 4, 3), dt.date(2026, 3, 4)) == (
        read_date("3/4/2026", "dmy"),
        read_date("3/4/2026", "mdy"),
    )


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("3/4/2026", "can be two dates"),
        ("3/4/26", "two digits for the year"),
        ("30/2/2026", "is no date"),
        ("2026-02-30", "no day of the calendar"),
        ("3 Foo 2026", "names no month"),
        ("soon", "is no date"),
    ],
)
def test_what_is_no_date_says_so(text: str, said: str) -> None:
    """Each refusal says what to write."""
    with pytest.raises(DateError, match=said):
        read_date(text, None)


def test_a_mixed_column_names_two_of_its_dates() -> None:
    """A column that is day first here and month first there is refused, with an example of each."""
    with pytest.raises(DateError, match="'4/13/2026' has no day first and '13/4/2026' has no month first"):
        decide_order(["13/4/2026", "4/13/2026"])


def test_a_year_of_two_digits_is_of_this_century_where_the_order_is_told() -> None:
    """Told by the map or by the column's other days; else it is refused with both ways out."""
    assert dt.date(2026, 4, 3) == read_date("3/4/26", "dmy")
    assert dt.date(2026, 3, 4) == read_date("3/4/26", "mdy")
    assert "dmy" == decide_order(["3/4/26", "13/4/26"])
    with pytest.raises(DateError, match="two digits for the year; say what comes first with --dates"):
        read_date("3/4/26", None)
