"""How long a test holds."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.figures.validity import age_in_months, end_of_month, is_in_date, last_ship_day

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
