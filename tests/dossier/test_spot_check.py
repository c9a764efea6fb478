"""Draws that anybody can repeat, and what they can miss."""

from __future__ import annotations

from datetime import date
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.dossier.spot_check import count_population, draw_check, plan_size
from certgen.examination import examine, examine_season

ON = date(2026, 11, 20)


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


@pytest.mark.parametrize("kind", ["bags", "trees"])
def test_the_order_of_the_records_changes_nothing(kind, seasons):
    """Records sorted otherwise, the same items."""
    order = list(range(12))
    turned = Random(3).sample(order, len(order))
    one, other = (draw_check(shuffled(seasons, numbers), kind, "rain", 5) for numbers in (order, turned))

    assert {item.identifier for item in one.drawn} == {item.identifier for item in other.drawn}


@given(seed=st.text(min_size=1, max_size=20), size=st.integers(0, 30))
def test_a_draw_has_its_size_and_repeats(result, seed, size):
    """Whoever knows the text draws the same, and nothing twice."""
    check = draw_check(result, "trees", seed, size)
    names = [item.identifier for item in check.drawn]

    assert size == len(names) == len(set(names))
    assert check == draw_check(result, "trees", seed, size)


@given(size=st.integers(0, 152))
def test_strata_get_their_part_and_chances_fall(result, size):
    """Each block within one of its proportion; more faults are missed less often."""
    check = draw_check(result, "bags", "rain", size)
    for name, count in check.strata.items():
        drawn = sum(item.stratum == name for item in check.drawn)
        assert abs(drawn - size * count / check.population) < 1
    chances = [chance for _, chance in check.misses]

    assert sorted(chances, reverse=True) == chances


def test_all_looked_at_misses_nothing(result):
    """The whole set has no faulty item left."""
    total = count_population(result, "bags")

    assert {0.0} == {chance for _, chance in draw_check(result, "bags", "x", total, "all").misses}


@given(population=st.integers(1, 400), percent=st.integers(1, 99))
def test_the_planned_size_keeps_its_word(population, percent):
    """Never more than there are, and a larger share to find needs no larger sample."""
    size = plan_size(population, percent / 100, 0.95)

    assert 0 < size <= population
    assert plan_size(population, min(0.99, percent / 100 + 0.1), 0.95) <= size


def test_nothing_to_look_at(seasons):
    """An empty season: no items, no error."""
    result = examine_season(seasons.season_of(), ON)

    assert (0, ()) == (plan_size(0, 0.05, 0.95), draw_check(result, "bags", "x", 0).drawn)


def test_the_sheet_shows_the_tag_as_it_is_recorded(seasons):
    """A tag that bears another variety than the tree's is shown so: that is what the check is for."""
    tag = {"date": seasons.COVERED, "variety": "Rosy Cistern", "tree": "T1"}
    season = seasons.season_of(
        blocks=[seasons.block()],
        plantings=[seasons.planting()],
        trees=[seasons.tree("T1")],
        bagging=[seasons.bag("B1", "T1", tag=tag)],
    )
    (drawn,) = draw_check(examine_season(season, ON), "bags", "x", 1).drawn

    assert "2026-01-12 Rosy Cistern T1" == dict(drawn.says)["tag"]
