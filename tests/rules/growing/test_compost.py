"""Heaps, and manure that none has changed."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.rules.growing.compost import find_spells, is_raw_manure

BEGUN = date(2025, 11, 3)
USED = {
    "input": "I1",
    "date": date(2026, 3, 2),
    "block": "East",
    "material": "compost",
    "allowed_by": "the plan",
}


def _heat(*celsius, every=1, unit="°C"):
    """A reading every so many days."""
    return [
        {"date": BEGUN + timedelta(days=every * (at + 1)), "temperature": f"{one} {unit}"}
        for at, one in enumerate(celsius)
    ]


def _heap(**more):
    return {"heap": "H1", "begun": BEGUN, "ready": date(2026, 1, 20), "ingredients": ["straw"], **more}


def _turned(*days):
    return [BEGUN + timedelta(days=one) for one in days]


WINDROW = {"method": "windrow", "temperatures": _heat(*[60] * 15)}


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"method": "in vessel", "temperatures": _heat(55, 77, 60)}, None),
        ({"method": "static aerated", "temperatures": _heat(131, 140, 170, unit="°F")}, None),
        ({"method": "in vessel", "temperatures": _heat(55, 60)}, "show 2 days on end at 55 to 77 °C, of 3"),
        ({"method": "in vessel", "temperatures": _heat(60, 54, 60, 60)}, "show 2 days on end"),
        ({"method": "in vessel", "temperatures": _heat(60, 78, 60, 60)}, "show 2 days on end"),
        ({"method": "in vessel", "temperatures": _heat(60, 60, every=4)}, "show 1 day on end"),
        ({"method": "in vessel"}, "no temperature of it is recorded"),
        ({"temperatures": _heat(60, 60, 60)}, "nothing says how it was made"),
        ({"method": "windrow", "temperatures": _heat(*[60] * 3)}, "of 15 that are asked of a windrow"),
        ({**WINDROW}, "turned 0 times in its hot days, of 5"),
        ({**WINDROW, "temperatures": _heat(*[60] * 6, every=3), "turnings": _turned(4, 5, 6, 7, 8)}, None),
        ({**WINDROW, "turnings": _turned(4, 4, 4, 4, 4)}, "turned once"),
        ({**WINDROW, "turnings": _turned(4, 6, 8, 10, 60)}, "turned 4 times"),
    ],
)  # fmt: skip
def test_a_heap_that_was_used_shows_its_heat(stocked, find, more, said):
    """Enough days on end, in either scale, and of a windrow enough turnings within them."""
    found = find(stocked(inputs=[{**USED, "heap": "H1"}], compost=[_heap(**more)]), "compost-unshown")

    assert ([("advice", ())] if said else []) == [(gap.weight, gap.lots) for gap in found]
    assert all(said in gap.message for gap in found)


def test_a_heap_that_nobody_used_is_nobodys_concern(stocked, find):
    """Nor one whose compost went onto land that claims nothing."""
    assert () == find(stocked(inputs=[USED], compost=[_heap()]), "compost-unshown")


@pytest.mark.parametrize("standard", ["codex", "eu"])
def test_a_standard_that_asks_nothing_of_heaps_finds_nothing(stocked, find, standard):
    """The figures are one rulebook's, from memory."""
    season = stocked(inputs=[{**USED, "heap": "H1"}], compost=[_heap()])

    assert () == find(season, "compost-unshown", standard)


@pytest.mark.parametrize(
    ("used", "said"),
    [
        ({"material": "compost, own"}, "names no heap"),
        ({"supplier": "own"}, "names no heap"),
        ({"supplier": "Pound Farm"}, None),
        ({"heap": "H1", "date": date(2026, 1, 19)}, "before it was ready (20 January 2026)"),
        ({"heap": "H1", "date": date(2025, 11, 2)}, "before it was begun (3 November 2025)"),
        ({"heap": "H1", "date": date(2026, 1, 20)}, None),
        ({"heap": "H2"}, "and nothing says when it was ready"),
    ],
)
def test_own_compost_names_a_heap_that_was_ready(stocked, find, used, said):
    """The day on which it was ready counts."""
    rest = {"heap": "H2", "begun": BEGUN}
    found = find(stocked(inputs=[{**USED, **used}], compost=[_heap(), rest]), "compost-without-heap")

    assert bool(said) == bool(found)
    assert all(said in gap.message for gap in found)


def test_where_no_heap_is_kept_none_is_asked_for(stocked, find):
    """Then words are what there is."""
    assert () == find(stocked(inputs=[{**USED, "supplier": "own"}]), "compost-without-heap")


@pytest.mark.parametrize(
    ("text", "kind", "raw"),
    [
        ("goat manure", "", True),
        ("Chicken litter, fresh", "", True),
        ("manure", "raw manure", True),
        ("horse dung", "compost", False),
        ("composted horse manure", "", False),
        ("raw manure for the compost", "compost", True),
        ("manure, not yet composted", "compost", True),
        ("uncomposted manure", "", True),
        ("compost of manure and straw", "", False),
        ("pelleted poultry litter", "", False),
        ("green manure, mown", "", False),
        ("green manure and cow manure", "", True),
        ("stable leavings", "raw manure", True),
        ("compost", "", False),
        ("fish meal", "", False),
    ],
)
def test_manure_is_raw_until_something_says_otherwise(text, kind, raw):
    """By its words first, then by its kind on the list of approved materials."""
    assert raw == is_raw_manure(text, kind)


@pytest.mark.parametrize(("before", "found"), [(89, 1), (0, 1), (90, 0), (-1, 0)])
def test_raw_manure_and_fruit_are_days_apart(seasons, stocked, find, before, found):
    """Ninety days for fruit that hangs; no lot's standing rests on it, for seed isn't food."""
    used = {**USED, "material": "goat manure", "date": seasons.PICKED - timedelta(days=before)}
    told = find(stocked(inputs=[used]), "manure-before-picking")

    assert [("advice", ())] * found == [(gap.weight, gap.lots) for gap in told]
    assert all(
        "90 days are asked, 120 where it touches the soil (from memory)" in gap.message for gap in told
    )


def test_a_heap_of_manure_that_never_got_hot_counts_as_manure(seasons, stocked, find):
    """Of straw and leaves it doesn't."""
    used = {**USED, "heap": "H1", "date": seasons.PICKED - timedelta(days=30)}
    made = {"method": "in vessel", "temperatures": _heat(40, 41, 40)}
    manure = _heap(**made, ingredients=["horse manure, Pound Farm", "straw"])

    assert 1 == len(find(stocked(inputs=[used], compost=[manure]), "manure-before-picking"))
    assert () == find(stocked(inputs=[used], compost=[_heap(**made)]), "manure-before-picking")


@given(st.lists(st.tuples(st.integers(0, 40), st.integers(40, 90)), max_size=30))
def test_spells_hold_hot_readings_only(readings):
    """They follow one another, and each day with a reading in a spell was hot by its highest."""
    told = [{"date": BEGUN + timedelta(days=at), "temperature_c": heat} for at, heat in readings]
    spells = find_spells(told, 55, 77, 3)
    highest = {}
    for one in told:
        highest[one["date"]] = max(one["temperature_c"], highest.get(one["date"], 0))

    assert all(one.last < other.first for one, other in pairwise(spells))
    assert {when for when, heat in highest.items() if 55 <= heat <= 77} == {
        when for when in highest if any(one.first <= when <= one.last for one in spells)
    }
