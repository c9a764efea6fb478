"""What couldn't be read, and which records it may speak of."""

from __future__ import annotations

from collections.abc import Callable

import pytest


def named(season):
    """Of each unread thing its table, and what it names."""
    return [(one.table, one.names) for one in season.unread]


def test_a_season_that_could_be_read_has_nothing_unread(read: Callable):
    """Nor has an empty one."""
    season, _ = read("trees:\n- {tree: T1, planting: P1, sex: female}\n")

    assert () == season.unread


def test_a_left_out_record_may_speak_of_what_it_names(read: Callable):
    """Its own number, and whatever stands in the fields that refer to records; nothing else is guessed."""
    season, errors = read(
        "bagging:\n"
        "- {bag: B1, tree: T1, pollen_parent: T2, secured: perhaps, tag: {tree: T9}, note: T7}\n"
        "- {bag: B2, tree: T1}\n"
    )

    assert 1 == len(errors)
    assert [
        ("bagging", ((("bagging",), "B1"), (("trees",), "T1"), (("trees",), "T2")))
    ] == named(season)  # fmt: skip
    assert season.left_out == tuple(one.error for one in season.unread)


def test_names_in_lists_and_inner_mappings_are_found(read: Callable):
    """The bags of a picking, the sources of a lot, the lot that a planting grew from."""
    season, _ = read(
        "harvests:\n- {harvest: H1, date: soon, bags: [B1, B2], trees: [T3], fruits: 2, status: organic}\n"
        "lots:\n- {lot: L1, variety: Amber, packed: soon, weight: 4 g, status: organic,\n"
        "   sources: [{batch: X1, weight: 1 g}, {lot: K1, weight: 3 g}]}\n"
        "plantings:\n- {planting: P1, block: East, variety: Amber, planted: soon, origin: {lot: K2}}\n"
    )

    assert {
        ("harvests", frozenset({"H1", "B1", "B2", "T3"})),
        ("lots", frozenset({"L1", "X1", "K1"})),
        ("plantings", frozenset({"P1", "East", "K2"})),
    } == {(table, frozenset(name for _, name in names)) for table, names in named(season)}


@pytest.mark.parametrize(
    "text",
    [
        "incidents:\n- {incident: I1, date: soon, kind: other, about: [B1, T1], action: none}\n",
        "incidents:\n- incident: I1\n  date: soon\n  kind: other\n  about: [B1, T1]\n  action: none\n",
        "incidents:\n  - incident: I1\n    date: soon\n    kind: other\n    about:\n      - B1\n      - T1\n",
    ],
)
def test_the_record_is_found_however_it_is_written(read: Callable, text):
    """In one line or in many, indented or not."""
    season, _ = read(text)
    ((table, names),) = named(season)

    assert ("incidents", ["I1", "B1", "T1"]) == (table, [name for _, name in names])


def test_what_is_no_record_may_be_anything(read: Callable):
    """A text where a record should be names nothing that could be told."""
    season, _ = read("bagging:\n- B1 was fine\n- {bag: B2, tree: T1}\n")

    assert [("bagging", None)] == named(season)


def test_a_number_that_is_no_name_names_nothing(read: Callable):
    """The record's own number is a list: what else it names stands."""
    season, _ = read("bagging:\n- {bag: [B1], tree: T1}\n")

    assert [("bagging", ((("trees",), "T1"),))] == named(season)


@pytest.mark.parametrize(
    "text", ["bagging: {B1: {tree: T1}}\n", "bags:\n- {bag: B1}\n", "bagging:\n- {bag: B1, tree: T1\n"]
)
def test_a_table_or_file_that_could_not_be_read_may_be_anything(read: Callable, text):
    """A mapping in the place of a list, a table that isn't known, a file that is no YAML."""
    season, errors = read(text)

    assert [("", None)] * len(errors) == named(season)
    assert errors


def test_of_very_many_records_the_rest_may_be_anything(read: Callable):
    """The first five hundred are looked into."""
    text = "bagging:\n" + "".join(f"- {{bag: B{at}, tree: T1, secured: perhaps}}\n" for at in range(503))
    season, _ = read(text)

    assert [500, 3] == [
        sum(one.names is not None for one in season.unread), sum(one.names is None for one in season.unread)
    ]  # fmt: skip


def test_a_record_of_many_words_may_be_anything(read: Callable):
    """It isn't looked into."""
    season, _ = read(f"bagging:\n- {{bag: B1, tree: T1, secured: perhaps, note: {'x ' * 10_001}}}\n")

    assert [("bagging", None)] == named(season)
