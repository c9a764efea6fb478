"""Looks on thousands of days: the few that a bag keeps tell how long it protected, as all of them would."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, timedelta
from typing import Any

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from certgen.records.columns import Columns
from certgen.records.joining import sayings
from certgen.records.joining.kept_looks import keep_looks
from certgen.records.joining.sayings import Looks

SIZE = 3
FIRST = date(2026, 2, 1)
DAYS = st.integers(0, 9).map(lambda days: FIRST + timedelta(days))
CONDITIONS = st.sampled_from(["intact", "intact", "torn", "gone"])
ROWS = st.lists(st.integers(0, SIZE - 1), unique=True).map(lambda rows: np.array(rows, "int64"))
SEEN = st.lists(st.tuples(ROWS, DAYS, CONDITIONS), max_size=12)
BAGS = st.lists(
    st.tuples(
        st.none() | DAYS, st.none() | DAYS, st.lists(st.tuples(DAYS, CONDITIONS), max_size=2),
    ),
    min_size=SIZE,
    max_size=SIZE,
)  # fmt: skip
Look = Mapping[str, Any]


def columns(bags: Iterable[tuple[date | None, date | None, Iterable[tuple[date, str]]]]) -> Columns:
    """Bags by the days on which they were put on and came off, and their own looks."""
    covered, uncovered, own = zip(*bags, strict=True)
    checks = np.empty(SIZE, dtype=object)
    checks[:] = [tuple({"date": day, "condition": found} for day, found in looks) for looks in own]
    return Columns(
        {
            "covered": np.array([day or "NaT" for day in covered], dtype="datetime64[s]"),
            "uncovered": np.array([day or "NaT" for day in uncovered], dtype="datetime64[s]"),
            "checks": checks,
        },
        size=SIZE,
    )


def look_at(seen: Iterable[tuple[Any, date, str]]) -> list[tuple[Any, Look]]:
    """What rounds saw."""
    return [
        (rows, {"date": day, "condition": found, "by": f"round R{number}"})
        for number, (rows, day, found) in enumerate(seen)
    ]


def judge(looks: Iterable[Look], covered: date | None, off: date | None) -> tuple[Any, Any]:
    """The first failure while a bag hung and how it was found, and the last day before that on which it was
    found intact."""
    hung = [
        one for one in looks
        if not (covered and one["date"] < covered) and not (off and one["date"] > off)
    ]  # fmt: skip
    failed = min((one for one in hung if one["condition"] != "intact"), key=_day, default=None)
    good = [
        one for one in hung if one["condition"] == "intact" and not (failed and _day(failed) <= _day(one))
    ]
    return (
        failed and (failed["date"], failed["condition"]),
        max((one["date"] for one in good), default=None),
    )


def _day(look: Look) -> Any:
    return look["date"]


@given(SEEN, BAGS)
def test_the_kept_looks_tell_how_long_a_bag_protected(seen: Any, bags: Any) -> None:
    """The first failure and the last day it was seen intact are those of all looks, its own among them."""
    table, rounds = columns(bags), look_at(seen)
    kept = keep_looks(rounds, table)

    for row, (covered, off, _) in enumerate(bags):
        own = list(table["checks"][row])
        every = [look for rows, look in rounds if row in rows]
        assert judge([*own, *every], covered, off) == judge([*own, *kept[row]], covered, off)
        assert {_day(look) for look in kept[row]} <= {_day(look) for look in every}
        assert len(kept[row]) <= min(4, len(every))
        if every:
            assert [min(map(_day, every)), max(map(_day, every))] == [
                choose(map(_day, kept[row])) for choose in (min, max)
            ]


@given(SEEN, BAGS, DAYS)
def test_a_bag_that_nobody_took_off_is_never_better_off(seen: Any, bags: Any, picked: date) -> None:
    """A picking ends its days: then looks that aren't kept may have shown more, and none less."""
    table, rounds = columns([(covered, None, own) for covered, _, own in bags]), look_at(seen)
    kept = keep_looks(rounds, table)

    for row, (covered, _, _) in enumerate(bags):
        own = list(table["checks"][row])
        every = [look for rows, look in rounds if row in rows]
        failed, looked = judge([*own, *every], covered, picked)
        failed_by_kept, looked_by_kept = judge([*own, *kept[row]], covered, picked)
        assert failed == failed_by_kept
        assert (looked_by_kept or date.min) <= (looked or date.min)


def test_the_last_look_says_how_many_more_there_were(monkeypatch: Any) -> None:
    """Nothing is left out in silence; bags that keep the same looks share them."""
    monkeypatch.setattr(sayings, "MOST_LOOKS", 0)
    monkeypatch.setattr(sayings, "MOST_KEPT", 0)
    looks, both = Looks(), np.array([0, 1])
    for _, look in look_at((both, FIRST + timedelta(day), "intact") for day in range(5)):
        looks.add(both, look)
    found = looks.add_to(columns([(FIRST, None, ())] * SIZE))["checks"].tolist()

    assert [(0, "round R0"), (4, "round R4, and 3 more looks")] == [
        ((look["date"] - FIRST).days, look["by"]) for look in found[0]
    ]
    assert found[0] is found[1]
    assert () == found[2]
