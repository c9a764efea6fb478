from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from seasons import look

from certgen.records.rows import plain_records
from certgen.rules.pollination.protection import FAILURES, STATES, judge_bags, list_looks, list_storms

NEED = 7
OFF = 12


def bag(seasons, looks=(), off=OFF, name="B1", of="T1", **more):
    """A bag with looks, each (day, condition), that came off on a day; None: nobody says when."""
    record = seasons.bag(name, of, checks=[look(*one) for one in looks], **more)
    record |= {"uncovered": off if off is None else seasons.COVERED + timedelta(off)}
    return {key: value for key, value in record.items() if value is not None}


@pytest.fixture
def judged(stocked, case_of):
    """`judged(bag, profile=…, **tables)`: what the days of the first bag come to, as a mapping."""

    def judged(record, profile=None, **tables):
        case = case_of(stocked(bagging=[record, *tables.pop("beside", [])], **tables), profile=profile)
        return next(plain_records(judge_bags(case).frame()))

    return judged


@pytest.mark.parametrize(
    ("looks", "off", "state"),
    [
        # Nobody found anything wrong: a look at the day of need, or the day it came off.
        ([], OFF, "held"),
        ([], NEED, "held"),
        ([], NEED - 1, "early"),
        ([], None, "unwatched"),
        ([(NEED, "intact")], None, "held"),
        ([(NEED - 1, "intact")], None, "unwatched"),
        ([(NEED - 1, "intact")], NEED, "held"),
        # A look after it came off, or before it hung, says nothing.
        ([(OFF + 1, "torn")], OFF, "held"),
        ([(OFF, "torn")], OFF, "doubtful"),
        ([(-1, "torn")], OFF, "held"),
        ([(0, "torn")], OFF, "failed"),
        ([(-1, "intact")], None, "unwatched"),
        # A failure reaches back to the look before it.
        ([(NEED, "torn")], OFF, "failed"),
        ([(NEED, "loose")], OFF, "failed"),
        ([(NEED, "gone")], OFF, "failed"),
        ([(NEED + 1, "torn")], OFF, "doubtful"),
        ([(NEED, "intact"), (NEED + 1, "torn")], OFF, "held"),
        ([(NEED - 1, "intact"), (NEED + 1, "torn")], OFF, "doubtful"),
        ([(NEED + 1, "intact"), (NEED + 1, "torn")], OFF, "doubtful"),
        # Tied again after it was torn, it is no better for that.
        ([(3, "torn"), (8, "intact")], OFF, "failed"),
        ([(8, "torn"), (9, "intact")], OFF, "doubtful"),
        # Looks are taken by their day, not in the order in which they stand.
        ([(9, "torn"), (3, "intact"), (4, "loose")], OFF, "failed"),
        ([(9, "torn"), (8, "intact")], OFF, "held"),
        # Found open, and taken off too soon: the failure speaks.
        ([(3, "torn")], 4, "failed"),
    ],
)
def test_what_looks_and_the_day_it_came_off_come_to(seasons, judged, looks, off, state) -> None:
    """The flower takes pollen for seven days by the profile, the seventh among them."""
    assert state == judged(bag(seasons, looks, off))["state"]


def test_what_it_rests_on_is_told(seasons, judged) -> None:
    """The day of need, the last look before the first failure, and the failure."""
    looks = [(2, "intact"), (4, "intact"), (5, "loose"), (6, "torn"), (8, "intact")]
    found = judged(bag(seasons, looks))
    days = {
        name: found[name] and (found[name] - seasons.COVERED).days for name in ("need", "looked", "failed")
    }

    assert {"need": NEED, "looked": 4, "failed": 5} == days
    assert ("loose", "failed", None) == (found["failure"], found["state"], found["storm"])


@pytest.mark.parametrize(
    ("fallen", "looks", "off", "state"),
    [
        (4, [(4, "intact")], None, "held"),
        (4, [(3, "intact")], None, "unwatched"),
        (4, [], 4, "held"),
        (4, [], 3, "early"),
        (4, [(5, "torn")], OFF, "doubtful"),
        (5, [(5, "torn")], OFF, "failed"),
        (10, [(9, "intact")], None, "unwatched"),
        (10, [], 9, "early"),
    ],
)
def test_petals_that_fell_end_the_need_sooner_or_later(seasons, judged, fallen, looks, off, state) -> None:
    """The day on which they were seen to have fallen goes before the profile's figure, either way."""
    record = bag(seasons, looks, off, petal_fall=seasons.COVERED + timedelta(fallen))

    assert state == judged(record)["state"]


@pytest.mark.parametrize("figure", [None, {"low": None, "high": 30}])
def test_without_the_crops_figure_only_fallen_petals_end_the_need(seasons, judged, crop, figure) -> None:
    """A bag of a crop of which nobody knows how long its flowers take pollen is never shown to have held."""
    profile = crop(days_covered=figure)
    record = bag(seasons, [(9, "intact")])
    fallen = {**record, "petal_fall": seasons.COVERED + timedelta(9)}
    torn = bag(seasons, [(11, "torn")])

    assert ("unwatched", "held", "failed") == tuple(
        judged(one, profile)["state"] for one in (record, fallen, torn)
    )


@pytest.mark.parametrize(("low", "needed"), [(9, 9), (7, 7), (6, 7), (0, 7)])
def test_an_own_figure_can_ask_for_more_and_never_for_less(seasons, stocked, case_of, low, needed) -> None:
    """The days in which a stigma takes pollen are no matter of practice."""
    season = stocked(bagging=[bag(seasons)])
    own = {"days_covered": {"low": low, "reason": "our flowers wither quickly"}}
    season = replace(season, details=replace(season.details, practice=own))

    assert seasons.COVERED + timedelta(needed) == judge_bags(case_of(season)).values("need")[0]


def test_a_bag_of_which_nobody_knows_when_it_was_put_on_shows_nothing(seasons, judged) -> None:
    """However often it was looked at."""
    record = {key: value for key, value in bag(seasons, [(9, "intact")]).items() if key != "covered"}

    assert "undated" == judged(record)["state"]


@pytest.mark.parametrize(
    ("days", "looks", "off", "state", "told"),
    [
        (4, [], OFF, "storm", 4),
        (NEED - 1, [], OFF, "storm", NEED - 1),
        (NEED, [], OFF, "held", None),
        (0, [], OFF, "storm", 0),
        (-1, [], OFF, "held", None),
        (4, [(4, "intact")], OFF, "storm", 4),
        (4, [(5, "intact")], OFF, "held", None),
        (4, [(OFF, "intact")], OFF, "held", None),
        (4, [(OFF + 1, "intact")], OFF, "storm", 4),
        (4, [(5, "torn")], OFF, "failed", 4),
        (4, [(9, "torn")], OFF, "doubtful", 4),
        (4, [(NEED, "intact")], None, "held", None),
        (4, [], 3, "early", None),
        (4, [], 6, "early", 4),
        (4, [], None, "unwatched", 4),
    ],
)
def test_after_a_storm_only_a_later_look_tells(seasons, judged, days, looks, off, state, told) -> None:
    """The day on which the bag came off speaks for no storm."""
    when = seasons.COVERED + timedelta(days)
    rounds = [{"round": "R1", "kind": "storm", "date": when, "by": "R. Alder", "blocks": ["East"]}]
    found = judged(bag(seasons, looks, off), rounds=rounds)
    day = None if told is None else seasons.COVERED + timedelta(told)

    assert (state, day, None if told is None else "round R1") == (
        found["state"], found["storm"], found["storm_source"],
    )  # fmt: skip


def test_the_first_storm_without_a_look_is_told(seasons, judged) -> None:
    """Of two storms a look parts, the second is open."""
    rounds = [
        {"round": f"R{number}", "kind": "storm", "date": seasons.COVERED + timedelta(days), "by": "R. Alder",
         "blocks": ["East"]}
        for number, days in ((1, 2), (2, 5))
    ]  # fmt: skip
    found = judged(bag(seasons, [(3, "intact")]), rounds=rounds)

    assert ("storm", "round R2") == (found["state"], found["storm_source"])


def test_what_was_picked_under_its_cover_hung_until_then(seasons, judged) -> None:
    """A look after the picking says nothing where nobody wrote down when it came off."""
    late = (seasons.PICKED - seasons.COVERED).days
    looks = [(NEED, "intact"), (late + 1, "torn")]

    assert "held" == judged(bag(seasons, looks, None))["state"]
    assert "unwatched" == judged(bag(seasons, [(late + 1, "intact")], None))["state"]
    assert "held" == judged(bag(seasons, [(late, "intact")], None))["state"]


def test_looks_are_listed_in_place_and_incidents_beside_them(seasons, stocked, case_of) -> None:
    """An incident of torn bags that names a bag is a look at it; what else it names is none."""
    day = seasons.COVERED + timedelta(5)
    incidents = [
        {"incident": "I1", "date": day, "kind": "torn bags", "about": ["B2", "East"]},
        {"incident": "I2", "date": day, "kind": "other", "about": ["B1"]},
    ]
    bags = [bag(seasons, [(2, "intact"), (4, "loose")]), bag(seasons, [], name="B2")]
    looks = list_looks(case_of(stocked(bagging=bags, incidents=incidents)))

    assert [
        [0, "B1", 0, date(2026, 1, 14), "intact"],
        [0, "B1", 1, date(2026, 1, 16), "loose"],
        [1, "B2", -1, date(2026, 1, 17), "torn"],
    ] == [told for _, *told in looks.rows("row", "bag", "position", "date", "condition")]


def test_a_walk_is_a_look_at_all_that_hung_there(seasons, judged) -> None:
    """A check round over the block stands for a look at each of its bags."""
    walk = {"round": "R1", "kind": "check", "date": seasons.COVERED + timedelta(NEED), "by": "R. Alder",
            "blocks": ["East"], "condition": "intact"}  # fmt: skip
    record = bag(seasons, [], None)

    assert "held" == judged(record, rounds=[walk])["state"]
    torn = {**walk, "exceptions": [{"about": ["B1"], "condition": "torn"}]}
    assert "failed" == judged(record, rounds=[torn])["state"]
    early = {**walk, "date": seasons.COVERED + timedelta(3), "petals_fallen": True}
    assert "held" == judged(record, rounds=[early])["state"]
    not_yet = {**early, "exceptions": [{"about": ["B1"], "petals_fallen": False}]}
    assert "unwatched" == judged(record, rounds=[not_yet])["state"]


def test_a_storm_is_listed_for_each_bag_it_went_over(seasons, stocked, case_of) -> None:
    """By round or incident; without one there is none."""
    day = seasons.COVERED
    bags = [bag(seasons, name=name, of=of) for name, of in (("B1", "T1"), ("B2", "T2"))]
    trees = [seasons.tree("T1"), seasons.tree("T2")]
    rounds = [{"round": "R1", "kind": "storm", "date": day, "by": "R. Alder", "trees": ["T2"]}]
    incidents = [{"incident": "I1", "date": day, "kind": "storm", "about": ["East"]}]
    storms = list_storms(case_of(stocked(bagging=bags, trees=trees, rounds=rounds, incidents=incidents)))

    assert [([1], "round R1"), ([0, 1], "incident I1")] == [(one.rows.tolist(), one.source) for one in storms]
    assert [] == list(list_storms(case_of(stocked())))


@pytest.mark.parametrize(
    ("named", "expected"),
    [
        ({"blocks": ["East"]}, [0, 1]),
        ({"trees": ["T1 to T3"]}, [0, 1]),
        ({"trees": ["T1"], "bags": ["B2"]}, [0, 1]),
        ({"bags": ["B2 to B9"]}, [1]),
        ({"bags": ["B7"], "blocks": ["West"]}, []),
    ],
)
def test_a_storm_goes_over_what_its_round_names(seasons, stocked, case_of, named, expected) -> None:
    """Blocks, and trees and bags by number and range."""
    bags = [bag(seasons, name=name, of=of) for name, of in (("B1", "T1"), ("B2", "T2"))]
    walk = {"round": "R1", "kind": "storm", "date": seasons.COVERED, "by": "R. Alder", **named}
    trees = [seasons.tree("T1"), seasons.tree("T2")]
    (storm,) = list_storms(case_of(stocked(bagging=bags, trees=trees, rounds=[walk])))

    assert expected == storm.rows.tolist()


SETTINGS = settings(max_examples=25)


@given(
    looks=st.lists(st.tuples(st.integers(-2, 16), st.sampled_from(["intact", *FAILURES])), max_size=4),
    off=st.none() | st.integers(1, 14),
    bad=st.tuples(st.integers(0, 14), st.sampled_from(FAILURES)),
)
@SETTINGS
def test_a_look_that_finds_it_open_never_makes_a_bag_better(looks, off, bad, seasons, case_of) -> None:
    """And whatever is written comes to one of the states that are told."""
    tables = seasons.one_line()
    one, two = bag(seasons, looks, off), bag(seasons, [*looks, bad], off, name="B2")
    season = seasons.season_of(**{**tables, "bagging": [one, two]})
    states = judge_bags(case_of(season))["state"].tolist()

    assert set(states) <= set(STATES)
    assert states[0] == "held" or states[1] != "held"
