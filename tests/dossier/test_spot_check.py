"""Draws that anybody can repeat and nobody can steer, from what is there, and what they can miss."""

from __future__ import annotations

from datetime import date, timedelta
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.dossier.spot_check import (
    Asked,
    DrawKey,
    draw_check,
    freeze_draw,
    list_strata,
    own_draw,
    own_text,
    plan_size,
    say_order,
    say_population,
)
from certgen.examination import examine, examine_season
from certgen.figures.draws import draw_in_strata

ON = date(2026, 11, 20)
RECORDS = "0" * 64
KEY = DrawKey("rain at noon", RECORDS)
PAPERS = {
    kind: Asked(kind, "variety" if kind == "lots" else "block", True) for kind in ("bags", "trees", "lots")
}
ALL = Asked("bags", "all", on_record=True)


@pytest.fixture(scope="module")
def result(example_season):
    """The example season, examined."""
    return examine(example_season, ON)


def shuffled(seasons, order):
    """A season whose trees and bags stand in the records in the given order of numbers."""
    trees = [seasons.tree(f"T{number}") for number in order]
    bags = [seasons.bag(f"B{number}", f"T{number}") for number in order]
    season = seasons.season_of(
        blocks=[seasons.block()], plantings=[seasons.planting()], trees=trees, bagging=bags
    )
    return examine_season(season, ON)


def drawn(check):
    """The identifiers that a draw fell on."""
    return {item.identifier for item in check.drawn}


def there(result, kind):
    """What is there of a kind on the day of the examination."""
    return {name for group in list_strata(result, Asked(kind, "all")).values() for name in group}


@pytest.mark.parametrize("kind", ["bags", "trees"])
def test_the_order_of_the_records_changes_nothing(kind, seasons):
    """Records sorted otherwise, the same items."""
    order = list(range(12))
    turned = Random(3).sample(order, len(order))
    one, other = (draw_check(shuffled(seasons, numbers), PAPERS[kind], KEY, 5) for numbers in (order, turned))

    assert drawn(one) == drawn(other)


@given(seed=st.text(min_size=8, max_size=20), size=st.integers(2, 31))
def test_a_draw_has_its_size_and_repeats(result, seed, size):
    """Whoever knows the text and the fingerprint draws the same, and nothing twice."""
    key = DrawKey(f"a sentence {seed}", RECORDS)
    check = draw_check(result, PAPERS["trees"], key, size)
    names = [item.identifier for item in check.drawn]

    assert size == len(names) == len(set(names)) == check.size
    assert check == draw_check(result, PAPERS["trees"], key, size)


@given(size=st.integers(2, 151))
def test_every_group_has_its_part_and_a_larger_draw_holds_the_smaller(result, size):
    """At least one a block, about its proportion, and one more item is one more."""
    check = draw_check(result, PAPERS["bags"], KEY, size)
    more = draw_check(result, PAPERS["bags"], KEY, size + 1)

    for name, count in check.strata.items():
        assert 1 <= check.taken[name] == sum(item.stratum == name for item in check.drawn)
        assert abs(check.taken[name] - size * count / check.population) < 1
    assert drawn(check) < drawn(more)
    chances = [chance for _, chance in check.misses]
    assert sorted(chances, reverse=True) == chances


def test_all_looked_at_misses_nothing(result):
    """The whole set has no faulty item left."""
    assert {0.0} == {chance for _, chance in draw_check(result, ALL, KEY, 152).misses}


@given(st.lists(st.integers(1, 120), min_size=1, max_size=4), st.integers(1, 99))
def test_the_planned_size_keeps_its_word(sizes, percent):
    """Never more than there are, and a larger share to find needs no larger sample."""
    size = plan_size(sizes, percent / 100, 0.95)

    assert len(sizes) <= size <= sum(sizes)
    assert plan_size(sizes, min(0.99, percent / 100 + 0.1), 0.95) <= size


def test_nothing_to_look_at(seasons):
    """An empty season: no items, no error, and the packet draws nothing."""
    result = examine_season(seasons.season_of(), ON)

    assert (0, ()) == (plan_size([], 0.05, 0.95), draw_check(result, PAPERS["bags"], KEY, 0).drawn)
    assert [None] * 3 == [own_draw(result, kind) for kind in ("bags", "trees", "lots")]


def test_the_sheet_shows_the_tag_as_it_is_recorded(seasons):
    """A tag that bears another variety than the tree's is shown so: that is what the check is for."""
    tag = {"date": seasons.COVERED, "variety": "Rosy Cistern", "tree": "T1"}
    season = seasons.season_of(
        blocks=[seasons.block()],
        plantings=[seasons.planting()],
        trees=[seasons.tree("T1")],
        bagging=[seasons.bag("B1", "T1", tag=tag)],
    )
    (found,) = draw_check(examine_season(season, ON), PAPERS["bags"], KEY, 1).drawn

    assert "2026-01-12 Rosy Cistern T1" == dict(found.says)["tag"]


@pytest.mark.parametrize(
    ("days", "hangs"),
    [
        (-1, {"B-undated"}),
        (0, {"B", "B-off", "B-picked", "B-lost-later", "B-undated"}),
        (5, {"B", "B-off", "B-picked", "B-undated"}),
        (12, {"B", "B-off", "B-picked", "B-undated"}),
        (147, {"B", "B-off", "B-undated"}),
    ],
)
def test_bags_are_drawn_while_they_or_their_fruit_hang(seasons, days, hangs):
    """From the day of covering; a dropped one until it was taken off, a picked one until it was picked.

    One of which nobody wrote when it was lost is nowhere to be found; one whose day of covering was left out
    is asked for: silence takes nothing from the draw.
    """
    bags = [
        seasons.bag("B", "T1", uncovered=None, outcome=None, fruit_marked=None),
        seasons.bag("B-off", "T1"),
        seasons.bag("B-picked", "T1"),
        seasons.bag("B-lost-later", "T1", uncovered=seasons.COVERED + timedelta(5), outcome="lost"),
        seasons.bag("B-lost", "T1", uncovered=None, outcome="lost"),
        seasons.bag("B-undated", "T1", covered=None),
    ]
    bags = [{name: value for name, value in bag.items() if value is not None} for bag in bags]
    season = seasons.season_of(
        blocks=[seasons.block()],
        plantings=[seasons.planting()],
        trees=[seasons.tree("T1")],
        bagging=bags,
        harvests=[seasons.harvest("H1", ["B-picked"])],
    )

    assert hangs == there(examine_season(season, seasons.COVERED + timedelta(days)), "bags")


def test_a_number_on_two_records_is_said(seasons):
    """Each number is drawn once; that it stands twice is told, so that nobody hides a bag behind another."""
    season = seasons.season_of(
        blocks=[seasons.block()],
        plantings=[seasons.planting()],
        trees=[seasons.tree("T1"), seasons.tree("T2")],
        bagging=[seasons.bag("B1", "T1"), seasons.bag("B1", "T2"), seasons.bag("B2", "T2")],
    )
    check = draw_check(examine_season(season, ON), ALL, KEY, 2)

    assert (("B1",), {"B1", "B2"}) == (check.doubled, drawn(check))


def test_what_hangs_is_said(seasons):
    """The bag, or its fruit once it is off."""
    season = seasons.season_of(
        blocks=[seasons.block()],
        plantings=[seasons.planting()],
        trees=[seasons.tree("T1")],
        bagging=[seasons.bag("B1", "T1")],
    )
    said = []
    for days in (11, 12):
        result = examine_season(season, seasons.COVERED + timedelta(days))
        (found,) = draw_check(result, Asked("bags"), KEY, 1).drawn
        said.append(dict(found.says)["hangs"])

    assert ["the bag", "the fruit, its bag is off"] == said


def test_trees_are_drawn_while_they_stand(seasons):
    """Not before they were planted, nor from the day they were removed."""
    season = seasons.season_of(
        blocks=[seasons.block()],
        plantings=[seasons.planting(), seasons.planting("P2", planted=date(2026, 2, 1))],
        trees=[
            seasons.tree("T1"),
            seasons.tree("T2", removed=date(2026, 3, 1), removed_because="storm"),
            seasons.tree("T3", planting="P2"),
            seasons.tree("T-idle"),
        ],
        bagging=[seasons.bag(f"B{number}", f"T{number}") for number in (1, 2, 3)],
    )
    days = (date(2026, 1, 31), date(2026, 2, 1), date(2026, 2, 28), date(2026, 3, 1))
    found = [there(examine_season(season, day), "trees") for day in days]

    assert [{"T1", "T2"}, {"T1", "T2", "T3"}, {"T1", "T2", "T3"}, {"T1", "T3"}] == found


@pytest.mark.parametrize(
    ("day", "lots"),
    [
        (date(2026, 2, 20), {"AK-25-2"}),
        (ON, {f"AK-26-{n}" for n in range(1, 6)} | {f"RC-26-{n}" for n in range(1, 4)} | {"AK-25-2"}),
    ],
)
def test_lots_are_drawn_while_they_lie_in_store(example_season, day, lots):
    """By the stock book of the day: in February only last year's."""
    assert lots == there(examine(example_season, day), "lots")


def test_a_lot_has_no_block():
    """It comes out of several."""
    with pytest.raises(ValueError, match="by variety"):
        Asked("lots", "block")


def test_the_words_say_what_is_drawn_from():
    """A day for what is there; papers have none."""
    assert "lots that lie in store on 20 November 2026" == say_population(Asked("lots", "all"), ON)
    assert "bags of the season on record" == say_population(ALL, ON)


def test_kind_groups_day_and_basis_are_frozen_with_the_records(result, example_season):
    """Each of them changes the fingerprint: after the text is known none can be chosen to suit it."""
    other_day = examine(example_season, ON - timedelta(1))
    asked = [Asked("bags"), Asked("bags", "all"), Asked("bags", on_record=True), Asked("trees")]
    found = {
        *(freeze_draw(result, one, RECORDS) for one in asked),
        freeze_draw(other_day, asked[0], RECORDS),
        freeze_draw(result, asked[0], "1" * 64),
    }

    assert 6 == len(found)


def test_whoever_chooses_the_text_steers_a_draw_that_nothing_froze(result):
    """The attack on the packet's own draw: its text is the grower's, and some dozen texts spare any sixteen
    bags. That is why it is called the grower's own.
    """
    bad = {f"B26-{number:03}" for number in range(1, 17)}
    tries = next(
        number
        for number in range(1, 500)
        if not bad & drawn(draw_check(result, PAPERS["bags"], DrawKey(f"visit {number}"), 20))
    )

    assert tries < 100


def test_records_written_anew_before_the_text_gain_nothing(result):
    """A thousand sets of records, each with its own fingerprint, and one text told after: sixteen bags are
    spared as often as chance has it, so that no set is better to keep than another.

    Chance: C(136, 20) / C(152, 20) = 0.09196; the bounds lie four standard deviations away.
    """
    bad = {f"B26-{number:03}" for number in range(1, 17)}
    strata = list_strata(result, ALL)
    keys = (DrawKey("dice 4 4 1 6 2 5 3", f"{number:064x}").hashed for number in range(1000))
    spared = sum(not bad & set(draw_in_strata(key, strata, 20)["all"]) for key in keys)

    assert 55 < spared < 129


def test_the_sheet_says_whether_records_were_frozen_first(result):
    """A fingerprint that nobody saw before the text proves nothing, and the sheet says so."""
    said = [
        say_order(draw_check(result, ALL, DrawKey("dice 4 4 1 6 2 5 3", RECORDS, noted), 5))
        for noted in (False, True)
    ]

    assert ["Nothing shows", "The records were"] == [
        " ".join(text.split()[: 2 + at]) for at, text in enumerate(said)
    ]


def test_the_packets_own_draw_is_by_papers_and_what_is_there(result):
    """Bags by their papers; trees and lots of its day; by the text it prints and no fingerprint."""
    checks = [own_draw(result, kind) for kind in ("bags", "trees", "lots")]

    assert [True, False, False] == [check.asked.on_record for check in checks]
    assert {DrawKey(own_text(result))} == {check.key for check in checks}
