from __future__ import annotations

import numpy as np
import pytest

from certgen.records.columns import Columns
from certgen.rules.ranges import compare, days_between, find_outside, outside
from certgen.standards.practice import Practice


def range_of(low, high, limit=None, unit="days"):
    """A practice figure with its range, and beyond `limit` what can't be."""
    return Practice("made_up", "Made up", low, high, None, limit, None, unit, "made up", "assumed")


VALUES = np.array([0.9, 1, 5, 5.1, np.nan])


@pytest.mark.parametrize(
    ("low", "high", "expected"),
    [
        (1, 5, [True, False, False, True, False]),
        (None, 5, [False, False, False, True, False]),
        (1, None, [True, False, False, False, False]),
    ],
)
def test_on_the_bound_is_usual(low, high, expected) -> None:
    """Just under and just over is not; a missing value leaves no range, nor any value a missing bound."""
    assert expected == outside(VALUES, range_of(low, high)).tolist()


def test_without_a_practice_nothing_is_odd() -> None:
    """Not even what is missing."""
    assert [False] * 5 == outside(VALUES, None).tolist()


def test_days_are_counted_forward_only() -> None:
    """None for one day, one to the next; backwards and without an end there is no count."""
    first = np.array(["2026-01-12"] * 4, dtype="datetime64[s]")
    last = np.array(["2026-01-12", "2026-01-13", "2026-01-11", "NaT"], dtype="datetime64[s]")
    days = days_between(first, last)

    assert [0, 1] == days[:2].tolist()
    assert np.isnan(days[2:]).all()


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        (6, "stood 6 days, where practice is 1 to 5 days"),
        (9, "stood 9 days, where practice is 1 to 5 days"),
        (10, "stood 10 days, where practice is 1 to 5 days, and such a figure can hardly be right"),
        (1, "stood 1 day, where practice is 1 to 5 days"),
    ],
)
def test_a_value_is_told_beside_its_range(value, expected) -> None:
    """Beyond what can be it is doubted; one day is no plural."""
    assert expected == compare(f"stood {value} days", range_of(1, 5, 9), value)


def test_a_record_is_told_once_with_all_that_is_odd() -> None:
    """At its first odd figure, in the order of the records; a figure without a practice says nothing."""
    runs = Columns({"batch": np.array(["X1", "X2", "X3"], dtype=object)}, size=3)
    warm = np.array([30.0, 50.0, 20.0])
    wait = np.array([9.0, 9.0, 1.0])
    figures = (
        ("drying.temperature", warm, range_of(None, 40, unit="°C"), "was dried at {:g} °C"),
        ("rinses", warm, None, "was rinsed {:g} times"),
        ("drying.from", wait, range_of(0, 1), "lay wet for {:g} days"),
    )
    found = list(find_outside("batches", runs, "batch", figures, "Batch"))

    assert [
        ("batches", "X1", 0, ("drying.from",)),
        ("batches", "X2", 1, ("drying.temperature",)),
    ] == [(one.table, one.id, one.row, one.field) for one in found]
    assert (
        "Batch X2 was dried at 50 °C, where practice is at most 40 °C and "
        "lay wet for 9 days, where practice is 0 to 1 days."
    ) == found[1].message
