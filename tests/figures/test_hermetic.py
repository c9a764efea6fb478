"""Hermetic packing takes all its conditions."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from certgen.figures.validity import check_packing

COVERS = ("certgen.figures.validity",)

GOOD = {"vapour": 0.05, "moisture": 6.0, "most_moisture": "6.0"}


def test_all_conditions_at_their_limits():
    """Nine months to the day, 0.05 g and the cap itself still hold."""
    assert check_packing(date(2025, 5, 31), date(2026, 2, 28), **GOOD).holds


@pytest.mark.parametrize(
    ("change", "packed", "failing"),
    [({}, date(2026, 3, 1), "packed_in_time"), ({"vapour": 0.051}, date(2026, 1, 1), "tight"),
     ({"moisture": 6.01}, date(2026, 1, 1), "dry")],
)  # fmt: skip
def test_each_condition_can_fail_alone(change, packed, failing):
    """A day late, a thousandth of a gram, a hundredth of a per cent."""
    found = check_packing(date(2025, 5, 31), packed, **(GOOD | change))

    assert not found.holds
    assert {failing} == {name for name in ("packed_in_time", "tight", "dry") if not getattr(found, name)}


def test_packing_before_harvest_is_refused():
    """Seed cannot be packed before it was picked."""
    with pytest.raises(ValueError, match="before the harvest"):
        check_packing(date(2026, 1, 2), date(2026, 1, 1), **GOOD)


@pytest.mark.parametrize(
    ("harvested", "last"),
    [
        (date(2025, 1, 31), date(2025, 10, 31)),
        (date(2025, 3, 15), date(2025, 12, 15)),
        (date(2025, 4, 1), date(2026, 1, 1)),
        (date(2023, 5, 30), date(2024, 2, 29)),
        (date(2025, 12, 31), date(2026, 9, 30)),
    ],
)
def test_nine_months_to_the_day(harvested, last):
    """Over the year's end, and to a shorter month's last day; a day later is late."""
    assert check_packing(harvested, last, **GOOD).packed_in_time
    assert not check_packing(harvested, last + timedelta(days=1), **GOOD).packed_in_time


def test_packed_on_the_day_of_harvest_without_vapour_or_moisture():
    """Nothing is little enough."""
    day = date(2025, 5, 31)

    assert check_packing(day, day, vapour=0, moisture=0, most_moisture=6).holds
    for wrong in ({"vapour": -0.01}, {"moisture": -0.01}):
        with pytest.raises(ValueError, match="must be zero or more"):
            check_packing(day, day, **(GOOD | wrong))
