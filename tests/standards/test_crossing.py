from __future__ import annotations

from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.standards import RULEBOOKS, crossing, demand_kinds, load_rulebook
from certgen.standards.reading import Section
from certgen.standards.rulebook import parse_rulebook


def books(demand, *values):
    """Rulebooks `a`, `b`… that each make one demand, or none where the value is None."""
    return [
        parse_rulebook(
            key,
            Section(
                {
                    "title": key,
                    "edition": "1",
                    "scope": "Tests.",
                    "clauses": {"1": {"title": "t", "asks": "a", "source": "s", "mark": "read"}},
                    "demands": {} if value is None else {demand: {"value": value, "clause": "1"}},
                },
                key,
            ),
        )
        for key, value in zip("abcdef", values, strict=False)
    ]


@pytest.mark.parametrize(
    ("demand", "values", "strictest"),
    [
        ("land_years", (3, 2, None), ("a",)),
        ("land_years", (3, 3, 2), ("a", "b")),
        ("ship_by_months", (5, 24), ("a",)),
        ("label_items", (["lot"], ["lot", "status"]), ("b",)),
        ("label_items", (["lot", "variety"], ["lot", "status"]), ()),
        ("container_words", (["organic"], ["organic", "made with organic"]), ("a",)),
        ("search_log", (None, True), ("b",)),
    ],
)
def test_the_strictest_is_the_one_whose_demand_meets_the_rest(demand, values, strictest) -> None:
    """Higher, lower, all of a list and one of a list each have their order; lists that overlap have none."""
    (found,) = crossing(books(demand, *values))

    assert strictest == found.strictest
    assert not found.same


def test_rulebooks_that_agree_are_the_same() -> None:
    """Nothing parts two standards that ask one thing."""
    (found,) = crossing(books("land_years", 3, 3))

    assert (True, ("a", "b")) == (found.same, found.strictest)


def test_a_demand_that_nobody_makes_is_left_out() -> None:
    """The comparison holds what at least one standard asks."""
    assert () == crossing(books("land_years", None, None))
    assert () == crossing([])


def test_one_season_against_two_standards() -> None:
    """The US rules and the Union's agree on three years of land and part on mother plants."""
    found = {one.key: one for one in crossing([load_rulebook("us-nop"), load_rulebook("eu")])}

    assert found["land_years"].same
    assert None is found["mother_plant_seasons"].asked["us-nop"]
    assert ("eu",) == found["mother_plant_seasons"].strictest
    assert ("us-nop",) == found["record_years"].strictest
    assert list(found) == [key for key in demand_kinds() if key in found]


@pytest.mark.parametrize("chosen", list(permutations(RULEBOOKS[:3])))
def test_order_of_the_standards_does_not_matter(chosen) -> None:
    """The same standards in another order part in the same places."""
    found = crossing([load_rulebook(key) for key in chosen])
    first = crossing([load_rulebook(key) for key in RULEBOOKS[:3]])

    assert [(one.key, one.same, set(one.strictest)) for one in first] == [
        (one.key, one.same, set(one.strictest)) for one in found
    ]


@given(st.lists(st.none() | st.integers(1, 9), min_size=1, max_size=6))
def test_the_strictest_figure_is_the_largest_where_higher_asks_more(values) -> None:
    """For any figures, those named strictest carry the largest."""
    found = crossing(books("land_years", *values))
    given_values = [value for value in values if value is not None]

    assert bool(given_values) == bool(found)
    for one in found:
        assert {max(given_values)} == {one.asked[key].value for key in one.strictest}
