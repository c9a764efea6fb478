"""What rounds and letters say, laid into a column, and what very many of them come to."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.records.columns import Columns
from certgen.records.joining import sayings
from certgen.records.joining.contradictions import shown
from certgen.records.joining.sayings import Disagreements, Looks, Saying, fill_silent

SIZE = 5
PLACE = ("screening", "result")
ROWS = st.lists(st.integers(0, SIZE - 1), unique=True, max_size=SIZE).map(
    lambda rows: np.array(rows, "int64")
)
SAID = st.lists(
    st.builds(
        Saying,
        ROWS,
        st.sampled_from(["a", "b", True]),
        st.sampled_from(["round R1", "round R2"]),
        st.booleans(),
    ),
    max_size=6,
)
VALUES = st.lists(st.sampled_from([None, "a", "b", "c"]), min_size=SIZE, max_size=SIZE)


def fill_one_by_one(values, said, *, always):
    """The same, a record at a time: an exception goes before what held for the rest."""
    values, sources, loose, against = list(values), [""] * SIZE, set(), []
    for one in sorted(said, key=lambda saying: not saying.specific):
        for row in one.rows.tolist():
            if values[row] is None:
                values[row], sources[row] = one.value, one.source
                loose |= set() if one.specific else {row}
            elif shown(values[row]) != shown(one.value) and (always or one.specific or row in loose):
                against.append((*PLACE, row, shown(values[row]), one.source, shown(one.value)))
    return values, sources, against


def plain(one):
    """A disagreement with the row behind its place."""
    return (one.table, one.field, one.row, one.here, one.there, one.says)


@given(VALUES, SAID, st.booleans())
def test_a_column_is_filled_as_if_one_record_were_filled_after_another(values, said, always):
    """Whatever the sayings share."""
    found, told = list(values), Disagreements()
    sources = fill_silent(found, said, PLACE, told, always=always)

    assert fill_one_by_one(values, said, always=always) == (
        found,
        sources,
        [plain(one) for one in told.list()],
    )


@given(VALUES, SAID, st.booleans())
def test_of_very_many_disagreements_each_record_tells_the_first_and_counts_the_others(values, said, always):
    """No record loses all of its own, and the numbers are exact."""
    told = Disagreements()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sayings, "MOST_DISAGREEMENTS", 0)
        fill_silent(list(values), said, PLACE, told, always=always)
        found = told.list()
    _, _, every = fill_one_by_one(values, said, always=always)
    first = {one[2]: one for one in reversed(every)}

    assert sorted(first.values()) == sorted(plain(one) for one in found)
    assert {row: sum(one[2] == row for one in every) - 1 for row in first} == {
        one.row: one.more for one in found
    }


def test_disagreements_of_several_columns_are_counted_together(monkeypatch):
    """A season has one bound, not one a column."""
    monkeypatch.setattr(sayings, "MOST_DISAGREEMENTS", 3)
    told = Disagreements()
    for column in ("result", "method"):
        for letter in ("letter L1", "letter L2"):
            told.add(("screening", column), ["here"], np.array([0]), letter, "there")

    assert [("result", "letter L1", 1), ("method", "letter L1", 1)] == [
        (one.field, one.there, one.more) for one in told.list()
    ]


LOOKS = st.lists(
    st.tuples(
        ROWS, st.sampled_from([date(2026, 2, 3), date(2026, 2, 4)]), st.sampled_from(["intact", "torn"])
    ),
    max_size=6,
)


def looked(seen, own=()):
    """What each bag's checks come to, and who looked first."""
    looks = Looks()
    for number, (rows, day, condition) in enumerate(seen):
        looks.add(rows, {"date": day, "condition": condition, "by": f"round R{number}"})
    checks = np.empty(SIZE, dtype=object)
    checks[:] = [tuple(own)] * SIZE
    bags = looks.add_to(Columns({"checks": checks}, size=SIZE))
    return bags["checks"].tolist(), looks.first(SIZE)


@given(LOOKS)
def test_each_bag_has_the_looks_of_the_rounds_that_name_it(seen):
    """In their order, behind its own."""
    own = {"date": date(2026, 2, 1), "condition": "intact"}
    checks, first = looked(seen, [own])
    names = [[number for number, (rows, _, _) in enumerate(seen) if row in rows] for row in range(SIZE)]

    assert [[f"round R{number}" for number in of_row] for of_row in names] == [
        [look["by"] for look in found[1:]] for found in checks
    ]
    assert [f"round R{of_row[0]}" if of_row else "" for of_row in names] == first
    assert all(own == found[0] for found in checks)


@given(LOOKS)
def test_very_many_looks_are_kept_once_for_a_day_and_a_condition(seen):
    """Each bag keeps every day and condition, in order, with who saw it first and how many others did."""
    every, _ = looked(seen)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sayings, "MOST_LOOKS", 0)
        kept, _ = looked(seen)
    expected = []
    for found in every:
        by = {}
        for look in found:
            by.setdefault((look["date"], look["condition"]), []).append(look["by"])
        more = {key: f" and {len(rounds) - 1} more" if len(rounds) > 1 else "" for key, rounds in by.items()}
        expected.append([(*key, rounds[0] + more[key]) for key, rounds in by.items()])

    assert expected == [[(look["date"], look["condition"], look["by"]) for look in found] for found in kept]


def test_bags_of_the_same_walks_share_their_looks(monkeypatch):
    """Seven thousand lists of seven thousand looks would be too many."""
    monkeypatch.setattr(sayings, "MOST_LOOKS", 0)
    walk, day = np.array([0, 1, 3]), date(2026, 2, 3)
    checks, _ = looked([(walk, day, "intact"), (walk, day, "torn"), (np.array([2]), day, "intact")])

    assert checks[0] is checks[1]
    assert checks[1] is checks[3]
    assert ["round R0", "round R1"] == [look["by"] for look in checks[0]]
    assert ["round R2"] == [look["by"] for look in checks[2]]
    assert () == checks[4]
