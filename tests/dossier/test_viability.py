"""What a lot's own germination tests show of its decline."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from certgen.dossier.viability import follow_germination, tell_decline, tell_fall, tell_tests
from certgen.examination import examine, examine_season

ON = date(2027, 10, 31)
START = date(2026, 8, 7)


def followed(seasons, *counts, on=ON, **more):
    """The decline of L1 with tests 100 days apart of so many of four times 50 seeds."""
    tests = [
        seasons.germination(f"G{at}", "L1", date=START + timedelta(100 * at), replicates=counted, **more)
        for at, counted in enumerate(counts)
    ]
    season = seasons.season_of(**{**seasons.one_line(), "tests": tests})
    return follow_germination(examine_season(season, on)).get("L1")


def test_three_tests_show_a_decline_and_when_it_falls_below(seasons):
    """90, 80 and 71 %: a decline is shown, the tests are said to be few, the days told with their limit."""
    one = followed(seasons, (45,) * 4, (40,) * 4, (36, 36, 35, 35), on=START + timedelta(210))

    assert "90 % on 7 August 2026, 80 % on 15 November 2026, 71 % on 23 February 2027" == tell_tests(one)
    assert "3 tests show a decline; they are few." == tell_decline(one)
    assert one.fall.earliest < one.fall.likeliest
    assert tell_fall(one) == (
        "Below 70 %, which the trade expects (common practice): at the earliest from 24 January 2027 and"
        " likeliest from 26 February 2027 (one-sided 95 %)."
    )
    assert one.now.low < one.now.estimate < 0.72


def test_no_decline_is_claimed_where_chance_could_have_made_it(seasons):
    """90, 91 and 90 %, whose lower limit stays above within what they bear."""
    one = followed(seasons, (45,) * 4, (46, 46, 45, 45), (45,) * 4, on=START + timedelta(210))

    assert "3 tests show no decline beyond what chance makes of so many seeds; they are few." == tell_decline(
        one
    )
    assert "likeliest later: the tests bear no line beyond 3 June 2027" in tell_fall(one)


def test_beyond_what_the_tests_bear_no_share_is_told(seasons):
    """A year after the last of them."""
    assert followed(seasons, (45,) * 4, (40,) * 4, (36,) * 4, on=date(2028, 2, 23)).now is None


def test_two_tests_make_no_line(seasons):
    """They are told, and why there is none; one alone isn't followed, nor are tests yet to come."""
    one = followed(seasons, (45,) * 4, (40,) * 4)

    assert (None, None) == (one.decline, one.fall)
    assert "No line is drawn. A line needs germination tests of three days at least." == tell_decline(one)
    assert "" == tell_fall(one)
    assert followed(seasons, (45,) * 4) is None
    assert followed(seasons, (45,) * 4, (40,) * 4, on=START + timedelta(99)) is None


def test_a_test_whose_replicates_contradict_one_another_counts_for_nothing(seasons):
    """It is named among those left out."""
    one = followed(seasons, (45,) * 4, (50, 20, 50, 20), (40,) * 4, (36,) * 4)

    assert ("G1",) == one.left_out
    assert 3 == one.decline.tests
    assert "test G1, whose replicates lie too far apart, left out" in tell_decline(one)


def test_tests_made_in_several_ways_are_told_to_be(seasons):
    """Another laboratory, another figure."""
    ways = [seasons.germination(f"G{at}", "L1", date=START + timedelta(100 * at), laboratory=f"house {at}",
                                replicates=(45 - 4 * at,) * 4) for at in range(5)]  # fmt: skip
    season = seasons.season_of(**{**seasons.one_line(), "tests": ways})
    one = follow_germination(examine_season(season, ON))["L1"]

    assert not one.alike
    assert "5 tests show a decline; they were not all made in one way and place." == tell_decline(one)


def test_tests_that_stray_are_told_to_stray(seasons):
    """90, 60, 85 and 50 % are no line."""
    one = followed(seasons, (45,) * 4, (30,) * 4, (42, 43, 42, 43), (25,) * 4)

    assert one.decline.spread > 1
    assert "they stray from the line more than chance makes them" in tell_decline(one)


@pytest.mark.parametrize("only", [None, "AK-25-2"])
def test_the_lot_of_last_season_is_followed_through_both(example_season, only):
    """Its first test stands in the earlier season's records."""
    found = follow_germination(examine(example_season, date(2026, 10, 31)), only)

    assert ["AK-25-2"] == list(found)
    assert "85 % on 25 August 2025, 82 % on 9 February 2026" == tell_tests(found["AK-25-2"])
