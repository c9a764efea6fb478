"""An empty cell never erases, a filled one fills what stood empty, and two values are told whole."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.exchange.importing.merging import Differing, is_empty, merge_record, plain, show_pair
from certgen.records.tables import load_tables

BAG = load_tables()["bagging"].fields
LOT = load_tables()["lots"].fields


def merge(old: dict[str, Any], new: dict[str, Any], said: dict[str, Any] | None = None, **how: bool) -> Any:
    """A bag with what a sheet says of it."""
    return merge_record(BAG, old, new, said or {}, replace=how.get("replace", False))


def test_filling_a_blank_is_no_conflict() -> None:
    """The weekly job: the bag came off."""
    merged = merge({"bag": "B1", "note": "by hand"}, {"bag": "B1", "outcome": "set", "note": ""})

    assert ({"outcome": "set"}, []) == (merged.fields, merged.conflicts)
    assert [Differing("outcome", None, "set")] == merged.filled


def test_a_field_inside_a_mapping_is_filled_beside_the_others() -> None:
    """A tag's variety joins its day."""
    merged = merge({"tag": {"date": "2026-03-01"}}, {"tag": {"variety": "CB"}})

    assert {"tag": {"date": "2026-03-01", "variety": "CB"}} == merged.fields


def test_another_value_is_a_conflict_and_replaces_only_when_asked() -> None:
    """The value that stood there stays, or the new one does; nothing else of the record changes."""
    kept = merge({"outcome": "set"}, {"outcome": "lost", "note": "x"})
    replaced = merge({"outcome": "set"}, {"outcome": "lost"}, replace=True)

    assert ([Differing("outcome", "set", "lost")], {"note": "x"}) == (kept.conflicts, kept.fields)
    assert {"outcome": "lost"} == replaced.fields


def test_checks_of_another_day_join_those_that_are_there() -> None:
    """This week's sheet doesn't take last week's away; the same day told otherwise is a conflict."""
    first, second = ({"date": day, "condition": "intact"} for day in ("2026-03-01", "2026-03-08"))
    torn = {"date": "2026-03-01", "condition": "torn"}

    assert {"checks": [first, second]} == merge({"checks": (first,)}, {"checks": (second,)}).fields
    assert ({}, []) == (merge({"checks": (first,)}, {"checks": (first,)}).fields, [])
    assert [Differing("checks.1", first, torn)] == merge({"checks": (first,)}, {"checks": (torn,)}).conflicts
    assert {"checks": [torn]} == merge({"checks": (first,)}, {"checks": (torn,)}, replace=True).fields


def test_another_list_of_sources_is_a_conflict() -> None:
    """A source more isn't a blank filled: the lot would be another. A blank inside one is."""
    one, other = {"batch": "R1", "weight": "20 g"}, {"batch": "R2", "weight": "5 g"}
    more = merge_record(LOT, {"sources": (one,)}, {"sources": (one, other)}, {}, replace=False)
    filled = merge_record(LOT, {"sources": ({"batch": "R1"},)}, {"sources": (one,)}, {}, replace=False)

    assert ["sources"] == [one.field for one in more.conflicts]
    assert {"sources": [one]} == filled.fields


def test_what_a_round_says_is_not_written_once_more() -> None:
    """A cell that says the same says nothing new; one that says otherwise is a conflict."""
    assert {} == merge({"bag": "B1"}, {"secured": True}, {"secured": True}).fields
    assert [Differing("secured", True, False)] == merge(
        {"bag": "B1"}, {"secured": False}, {"secured": True}
    ).conflicts


def test_one_weight_written_in_two_ways_is_one() -> None:
    """A kilogram is a thousand grams."""
    merged = merge_record(LOT, {"weight": "1 kg"}, {"weight": "1000 g"}, {}, replace=False)

    assert ({}, []) == (merged.fields, merged.conflicts)


def test_evidence_is_added_to() -> None:
    """A letter more is a letter more."""
    assert {"evidence": ["a.pdf", "b.pdf"]} == merge(
        {"evidence": ("a.pdf",)}, {"evidence": ("b.pdf",)}
    ).fields


@pytest.mark.parametrize(
    ("before", "after"),
    [("x" * 300 + "a", "x" * 300 + "b"), ({"date": "2026-03-01"}, {"date": "2026-03-02"})],
)
def test_both_values_are_shown_whole(before: object, after: object) -> None:
    """To their ends, where they differ, and without the signs of a programming language."""
    one, other = show_pair(before, after)

    assert one != other
    assert not set("{}[]") & set(one + other)
    assert "…" not in one + other


def test_values_longer_than_a_screen_are_shown_where_they_differ() -> None:
    """From the place on."""
    one, other = show_pair("x" * 9000 + "left", "x" * 9000 + "right")

    assert ("left", "right") == (one[-27:].split(" (")[0][-5:-1], other[-27:].split(" (")[0][-6:-1])
    assert "sign 9,002 on" in one
    assert len(one) < 500


VALUES = st.one_of(st.none(), st.just(""), st.text(max_size=4), st.booleans())
CHECKS = st.lists(
    st.fixed_dictionaries(
        {"date": st.sampled_from(["2026-03-01", "2026-03-08"])},
        optional={"condition": st.sampled_from(["intact", "torn"])},
    ),
    max_size=3,
    unique_by=lambda check: check["date"],
).map(tuple)
BAGS = st.fixed_dictionaries(
    {},
    optional={
        "note": VALUES,
        "outcome": VALUES,
        "secured": VALUES,
        "tag": st.dictionaries(st.sampled_from(["date", "variety"]), VALUES, max_size=2),
        "checks": CHECKS,
        "evidence": st.lists(st.sampled_from(["a", "b", "c"]), max_size=3, unique=True).map(tuple),
    },
)


def leaves(record: Any, above: str = "") -> dict[str, Any]:
    """Each value that says something, by its place."""
    found = {}
    pairs = record.items() if isinstance(record, dict) else enumerate(record)
    for name, value in pairs:
        if isinstance(value, dict | list | tuple):
            found |= leaves(value, f"{above}{name}.")
        elif not is_empty(value):
            found[f"{above}{name}"] = value
    return found


@given(BAGS, BAGS, BAGS)
def test_nothing_that_stood_there_is_lost(old: Any, new: Any, said: Any) -> None:
    """Whatever a sheet says, unasked: each value of the record is still there, where it was."""
    merged = merge(old, new, said)

    assert leaves(old).items() <= leaves({**plain(old), **merged.fields}).items()


@given(BAGS, BAGS)
def test_nothing_empty_comes_of_replacing(old: Any, new: Any) -> None:
    """With leave to replace, too, a field that said something says something."""
    after = {**plain(old), **merge(old, new, replace=True).fields}

    assert {name for name, value in old.items() if leaves({name: value})} <= {
        name for name, value in after.items() if leaves({name: value})
    }


@given(BAGS, BAGS)
def test_importing_twice_changes_nothing(old: Any, new: Any) -> None:
    """What was filled or replaced is there already the second time."""
    once = {**plain(old), **merge(old, new, replace=True).fields}
    again = merge(once, plain(new), replace=True)

    assert ({}, []) == (again.fields, again.conflicts)
