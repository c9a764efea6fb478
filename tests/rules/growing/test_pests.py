"""Walks before materials, what labels ask, and water."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

USED = {
    "input": "I1", "date": date(2026, 3, 2), "block": "East", "material": "soft soap",
    "purpose": "aphids on new growth", "allowed_by": "the plan",
}  # fmt: skip
HOSED = [{"kind": "physical", "what": "hosed off with water"}]


def _walk(name="W1", **more):
    return {"scouting": name, "date": date(2026, 2, 26), "block": "East", "pest": "aphids", **more}


@pytest.mark.parametrize(
    ("used", "walks", "said"),
    [
        ({}, [], "no walk through it in the 30 days before is on record"),
        ({}, [_walk()], "scouting walk W1 told of nothing else done first"),
        ({}, [_walk(done=HOSED)], None),
        ({}, [_walk(done=[{"kind": "material", "what": "soap"}])], "told of nothing else"),
        ({}, [_walk(done=[{**HOSED[0], "date": date(2026, 3, 3)}])], "told of nothing else"),
        ({}, [_walk(date=date(2026, 3, 3), done=HOSED)], "no walk"),
        ({}, [_walk(date=date(2026, 1, 30), done=HOSED)], "no walk"),
        ({}, [_walk(date=date(2026, 1, 31), done=HOSED)], None),
        ({}, [_walk(block="West", done=HOSED)], "no walk"),
        ({"scouting": ["W1"]}, [_walk(), _walk("W2", done=HOSED)], "walk W1 told of nothing else"),
        ({"scouting": ["W2"]}, [_walk(), _walk("W2", done=HOSED)], None),
        ({"purpose": "feeding"}, [], None),
        ({"purpose": "feeding", "scouting": ["W1"]}, [_walk()], "nothing else"),
    ],
)
def test_a_material_against_pests_comes_last(seasons, stocked, find, used, walks, said):
    """A walk shows that it was needed, and something else was tried first."""
    blocks = [seasons.block(), seasons.block("West")]
    found = find(
        stocked(inputs=[{**USED, **used}], scouting=walks, blocks=blocks), "material-before-scouting"
    )

    assert ([("advice", ())] if said else []) == [(gap.weight, gap.lots) for gap in found]
    assert all(said in gap.message for gap in found)


@pytest.mark.parametrize(("kind", "found"), [("pest control", 1), ("plant meal", 0)])
def test_the_kind_on_the_list_says_whether_it_is_against_pests(stocked, find, kind, found):
    """The words of a purpose only where no list says."""
    entry = {"material": "M-7", "name": "soft soap", "kind": kind}

    assert found == len(find(stocked(inputs=[USED], materials=[entry]), "material-before-scouting"))


@pytest.mark.parametrize(
    ("days", "label", "said"),
    [
        (
            0,
            {"reentry_interval": "12 h"},
            "keeps people out for 12 hours, and bag B1 was covered or looked at",
        ),
        (1, {"reentry_interval": "12 h"}, None),
        (1, {"reentry_interval": "24 h"}, "for 24 hours"),
        (1, {"reentry_interval": "2 d"}, "for 2 days"),
        (-1, {"reentry_interval": "12 h"}, None),
        (0, {}, None),
        (0, {"days_to_harvest": "3 d"}, None),
    ],
)
def test_nobody_works_where_a_label_keeps_people_out(seasons, stocked, find, days, label, said):
    """Records give days: the last day of a time counts, for nobody can tell when it was over."""
    bag = seasons.without(seasons.bag("B1", "T1"), "checks")
    used = {**USED, "date": bag["covered"] - timedelta(days=days), **label}
    found = find(stocked(inputs=[used], bagging=[bag]), "label-time-short")

    assert ([("advice", ())] if said else []) == [(gap.weight, gap.lots) for gap in found]
    assert all(said in gap.message for gap in found)


@pytest.mark.parametrize(("days", "found"), [(0, 1), (2, 1), (3, 0)])
@pytest.mark.parametrize("listed", [True, False])
def test_fruit_waits_as_the_label_says(seasons, stocked, find, days, found, listed):
    """Whether the time stands at the input or on the list of approved materials."""
    label = {"days_to_harvest": "3 d"}
    used = {**USED, "date": seasons.PICKED - timedelta(days=days), **({} if listed else label)}
    entry = {"material": "M-7", "name": "soft soap", **(label if listed else {})}
    told = find(stocked(inputs=[used], materials=[entry]), "label-time-short")

    assert found == len(told)
    assert all(
        "Its label asks 3 days to picking, and picking H1 was picked sooner" in one.message for one in told
    )


@pytest.mark.parametrize(
    ("tests", "found"),
    [
        ([{"fit": False}], ["W1"]),
        ([{"fit": True}], []),
        ([{}], []),
        ([{"fit": False, "action": "boiled it"}], []),
        ([{"fit": False}, {"fit": True, "date": date(2026, 6, 1), "source": " WELL"}], []),
        ([{"fit": False}, {"fit": True, "date": date(2026, 6, 1), "source": "cistern"}], ["W1"]),
        ([{"fit": False, "date": date(2026, 6, 1)}, {"fit": True}], ["W1"]),
    ],
)
def test_unfit_water_is_asked_about(stocked, find, tests, found):
    """Until something was done, or a later test of the same source finds it fit."""
    told = [
        {"water_test": f"W{at}", "date": date(2026, 5, 4), "source": "well", **one}
        for at, one in enumerate(tests, 1)
    ]

    assert found == [gap.id for gap in find(stocked(water_tests=told), "water-unfit")]
