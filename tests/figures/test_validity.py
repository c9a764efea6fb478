"""How long a test holds."""

from __future__ import annotations

from datetime import date, timedelta

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.figures.validity import (
    add_years,
    age_in_months,
    end_of_month,
    is_in_date,
    keeps_until,
    last_ship_day,
    months_later,
)

DAYS = st.dates(date(1990, 1, 1), date(2090, 12, 31))


@given(DAYS, st.integers(0, 60))
def test_the_last_day_is_a_months_last(day, months):
    """The day after it is a first, and it lies that many months on."""
    last = last_ship_day(day, months)

    assert 1 == (last + timedelta(days=1)).day
    assert months == (last.year - day.year) * 12 + last.month - day.month


@given(DAYS)
def test_in_date_to_the_last_day(day):
    """In date from the test to its last day, and neither before nor after."""
    last = last_ship_day(day)

    assert is_in_date(day, day)
    assert is_in_date(day, last)
    assert not is_in_date(day, last + timedelta(days=1))
    assert not is_in_date(day, day - timedelta(days=1))


@pytest.mark.parametrize(
    ("tested", "on", "months"),
    [(date(2026, 1, 15), date(2026, 1, 15), 0), (date(2026, 1, 15), date(2026, 2, 14), 0),
     (date(2026, 1, 15), date(2026, 2, 15), 1),
     (date(2026, 1, 31), date(2026, 2, 28), 1), (date(2025, 11, 30), date(2026, 2, 28), 3),
     (date(2025, 5, 1), date(2026, 5, 1), 12)],
)  # fmt: skip
def test_age_in_full_months(tested, on, months):
    """A month is full on the same day, or on the last day of a shorter month."""
    assert months == age_in_months(tested, on)


def test_a_test_from_the_future_is_refused():
    """The age of what has not happened is an error."""
    with pytest.raises(ValueError, match="before the test"):
        age_in_months(date(2026, 2, 1), date(2026, 1, 31))


def test_end_of_month_over_the_year():
    """From December into a leap February."""
    assert date(2028, 2, 29) == end_of_month(date(2027, 12, 5), 2)


@pytest.mark.parametrize(
    ("day", "years", "later"),
    [
        (date(2026, 3, 4), 0, date(2026, 3, 4)),
        (date(2026, 3, 4), 3, date(2029, 3, 4)),
        (date(2024, 2, 29), 1, date(2025, 3, 1)),
        (date(2024, 2, 29), 4, date(2028, 2, 29)),
        (date(2023, 2, 28), 1, date(2024, 2, 28)),
    ],
)
def test_so_many_years_later(day, years, later):
    """On the same day; a leap day becomes the first of March."""
    assert later == add_years(day, years)


@pytest.mark.parametrize(
    ("day", "later", "end"),
    [
        (date(2026, 1, 1), 0, date(2026, 1, 31)),
        (date(2026, 11, 30), 0, date(2026, 11, 30)),
        (date(2026, 12, 31), 0, date(2026, 12, 31)),
        (date(2026, 12, 31), 1, date(2027, 1, 31)),
        (date(2026, 1, 31), 11, date(2026, 12, 31)),
        (date(2026, 1, 31), 24, date(2028, 1, 31)),
    ],
)
def test_ends_of_months(day, later, end):
    """A December is its year's last month."""
    assert end == end_of_month(day, later)
    if not later:
        assert end == end_of_month(day)


def test_five_months_where_nothing_is_said():
    """January's test is good to the end of June; with no months at all to the end of January."""
    tested = date(2026, 1, 15)

    assert (date(2026, 6, 30), date(2026, 1, 31)) == (last_ship_day(tested), last_ship_day(tested, 0))
    assert [True, False, True] == [
        is_in_date(tested, date(2026, 6, 30)),
        is_in_date(tested, date(2026, 7, 1)),
        is_in_date(tested, date(2026, 7, 1), 6),
    ]
    for ask in (lambda: last_ship_day(tested, -1), lambda: add_years(tested, -1)):
        with pytest.raises(ValueError, match="at least 0"):
            ask()


@pytest.mark.parametrize(
    ("tested", "on", "months"),
    [
        (date(2026, 2, 28), date(2026, 3, 27), 0),
        (date(2026, 2, 28), date(2026, 3, 28), 1),
        (date(2025, 12, 31), date(2026, 1, 30), 0),
        (date(2025, 12, 31), date(2026, 1, 31), 1),
        (date(2024, 12, 31), date(2026, 1, 1), 12),
        (date(2026, 1, 31), date(2026, 4, 29), 2),
        (date(2026, 1, 31), date(2026, 4, 30), 3),
    ],
)
def test_ages_at_the_ends_of_months(tested, on, months):
    """The last day of a month fills it; over the year's end too."""
    assert months == age_in_months(tested, on)


@pytest.mark.parametrize(
    ("day", "months", "last"),
    [
        (date(2026, 3, 14), 6, date(2026, 9, 14)), (date(2026, 8, 31), 6, date(2027, 2, 28)),
        (date(2026, 3, 14), 0, date(2026, 3, 14)), (date(2026, 3, 14), 1.5, date(2026, 4, 29)),
        (date(2026, 1, 31), 1, date(2026, 2, 28)), (date(2026, 1, 31), "0.5", date(2026, 2, 14)),
        (date(2024, 2, 29), 12, date(2025, 2, 28)),
    ],
)  # fmt: skip
def test_months_of_practice_end_on_their_day(day, months, last):
    """Not at the end of the month: that is a rule of seed law for shipping."""
    assert last == keeps_until(day, months)


@given(st.dates(date(1900, 1, 1), date(2400, 1, 1)), st.integers(0, 240))
def test_pandas_agrees_on_months(day, months):
    """`pandas.DateOffset` adds months as a calendar does; seed law's term ends with that month."""
    expected = (pd.Timestamp(day) + pd.DateOffset(months=months)).date()

    assert expected == months_later(day, months) == keeps_until(day, months)
    assert expected <= last_ship_day(day, months) == (expected + pd.offsets.MonthEnd(0)).date()


@pytest.mark.parametrize("months", [-1, 12001])
def test_terms_have_their_range(months):
    """Nothing below nothing, nor beyond a thousand years."""
    with pytest.raises(ValueError, match="months"):
        keeps_until(date(2026, 1, 1), months)


def test_the_calendar_ends():
    """Past its last year a sentence says so."""
    for ask in (lambda: months_later(date(9999, 12, 1), 1), lambda: add_years(date(9999, 1, 1), 1)):
        with pytest.raises(ValueError, match="ends with the year 9999"):
            ask()
