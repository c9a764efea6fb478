from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from seasons import without

ON = date(2026, 10, 31)


def farm(seasons, bags, harvests, **tables):
    """One tree with some bags, and pickings of them behind a lot."""
    return seasons.season_of(
        **{
            "blocks": [seasons.block()],
            "plantings": [seasons.planting()],
            "trees": [seasons.tree("T1"), seasons.tree("T2")],
            "bagging": bags,
            "harvests": harvests,
            "batches": [seasons.batch("X1", [one["harvest"] for one in harvests])],
            "lots": [seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8)],
            **tables,
        }
    )


def test_a_bag_without_an_end_is_a_loose_end(seasons, find):
    """No outcome, no picking, and the season is over."""
    bags = [seasons.bag("B1", "T1"), without(seasons.bag("B2", "T1"), "outcome")]
    (gap,) = find(farm(seasons, bags, [seasons.harvest("H1", ["B1"])]), "bag-fate-unknown")

    assert ("B2", "advice", ()) == (gap.id, gap.weight, gap.lots)


def test_a_bag_without_an_end_on_a_tree_picked_loose_leaves_that_fruit_unproven(seasons, find):
    """It may have been under the bag."""
    loose = {**seasons.harvest("H2", []), "trees": ("T1",), "fruits": 1}
    bags = [seasons.bag("B1", "T1"), without(seasons.bag("B2", "T1"), "outcome")]
    (gap,) = find(farm(seasons, bags, [seasons.harvest("H1", ["B1"]), loose]), "bag-fate-unknown")

    assert ("unproven", ("L1",)) == (gap.weight, gap.lots)
    assert "picked without a bag: picking H2" in gap.message


def test_a_late_flower_has_time_until_its_fruit_can_be_ripe(seasons, find):
    """Set fruit that still hangs at the end of the season is told when it is overdue, and not before."""
    covered = date(2026, 10, 1)
    late = seasons.bag("B2", "T1", covered=covered, uncovered=covered + timedelta(12))
    season = farm(seasons, [seasons.bag("B1", "T1"), late], [seasons.harvest("H1", ["B1"])])

    assert () == find(season, "bag-fate-unknown", on=date(2026, 11, 30))
    assert ["B2"] == [gap.id for gap in find(season, "bag-fate-unknown", on=date(2027, 6, 30))]


@pytest.mark.parametrize(
    ("outcome", "on", "found"),
    [
        # Covered on 12 January: 210 days later is 10 August. The season ends on 31 October.
        ("set", date(2026, 8, 10), 0),
        ("set", date(2026, 8, 11), 1),
        (None, date(2026, 8, 10), 0),
        (None, date(2026, 8, 11), 1),
        ("dropped", date(2026, 10, 31), 0),
    ],
)
def test_a_bag_is_asked_for_once_its_fruit_must_have_been_ripe(seasons, outcome, on, found, find):
    """Also while the season still runs."""
    bags = [seasons.bag("B1", "T1"), without(seasons.bag("B2", "T1"), "outcome")]
    bags[1] |= {"outcome": outcome} if outcome else {}
    season = farm(seasons, bags, [seasons.harvest("H1", ["B1"])])

    assert found == len(find(season, "bag-fate-unknown", on=on))


@pytest.mark.parametrize(("on", "found"), [(date(2026, 10, 30), 0), (date(2026, 10, 31), 1)])
def test_on_the_seasons_last_day_every_bag_has_an_outcome(seasons, on, found, find):
    """Also one that was put on a few weeks ago."""
    late = without(seasons.bag("B2", "T1", covered=date(2026, 10, 1)), "outcome", "uncovered")
    season = farm(seasons, [seasons.bag("B1", "T1"), late], [seasons.harvest("H1", ["B1"])])

    assert found == len(find(season, "bag-fate-unknown", on=on))


@pytest.mark.parametrize(("days", "found"), [(0, 0), (1, 1)])
def test_a_crop_whose_ripening_nobody_knows_is_asked_the_next_day(seasons, find, crop, days, found):
    """Its profile has no such figure."""
    bags = [seasons.bag("B1", "T1"), without(seasons.bag("B2", "T1"), "outcome")]
    season = farm(seasons, bags, [seasons.harvest("H1", ["B1"])])
    on = seasons.COVERED + timedelta(days)

    for figure in (None, {"high": None, "impossible_high": None}):
        profile = crop(days_covering_to_picking=figure)
        assert found == len(find(season, "bag-fate-unknown", on=on, profile=profile))


def test_fruit_picked_loose_for_no_lot_leaves_the_bag_a_loose_end(seasons, find):
    """A bag that set fruit is then told by the rule about loose fruit alone."""
    loose = {**seasons.harvest("H2", []), "trees": ("T1",), "fruits": 1}
    batches = [seasons.batch("X1", ["H1"])]
    bags = [seasons.bag("B1", "T1"), without(seasons.bag("B2", "T1"), "outcome"), seasons.bag("B3", "T1")]
    season = farm(seasons, bags, [seasons.harvest("H1", ["B1"]), loose], batches=batches)

    assert [("B2", "advice")] == [(gap.id, gap.weight) for gap in find(season, "bag-fate-unknown")]


@pytest.mark.parametrize(("outcome", "fate"), [("dropped", "dropped"), ("lost", "was lost"), ("set", None)])
def test_the_outcome_that_contradicts_is_told(seasons, outcome, fate, find):
    """Beside the picking that holds the fruit."""
    season = farm(seasons, [seasons.bag("B1", "T1", outcome=outcome)], [seasons.harvest("H1", ["B1"])])
    told = f"The flower under bag B1 {fate}, but picking H1 holds its fruit."

    assert ([told] if fate else []) == [gap.message for gap in find(season, "bag-outcome-differs")]


def test_a_season_under_way_is_not_asked_for_its_end(seasons, find):
    """Flowers of last week have no outcome yet."""
    bags = [seasons.bag("B1", "T1"), without(seasons.bag("B2", "T1"), "outcome")]
    season = farm(seasons, bags, [seasons.harvest("H1", ["B1"])])

    assert () == find(season, "bag-fate-unknown", on=date(2026, 6, 30))


def test_fruit_of_a_dropped_flower_contradicts_itself(seasons, find):
    """The lot rests on it."""
    season = farm(seasons, [seasons.bag("B1", "T1", outcome="lost")], [seasons.harvest("H1", ["B1"])])
    (gap,) = find(season, "bag-outcome-differs")

    assert ("B1", "unproven", ("L1",)) == (gap.id, gap.weight, gap.lots)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"fruit_marked": False}, "and its fruit was not marked"),
        ({"fruit_marked": None}, "and nothing says that its fruit was marked"),
        ({"fruit_marked": False, "uncovered": None}, None),
        ({"fruit_marked": False, "uncovered": date(2026, 6, 8)}, None),
    ],
)
def test_fruit_needs_a_mark_once_its_bag_is_off(seasons, change, said, find):
    """A bag that stays until the picking is its own mark."""
    bag = {key: value for key, value in {**seasons.bag("B1", "T1"), **change}.items() if value is not None}
    found = find(farm(seasons, [bag], [seasons.harvest("H1", ["B1"])]), "fruit-unmarked")

    assert (1 if said else 0) == len(found)
    assert all(said in gap.message for gap in found)


@pytest.mark.parametrize(
    ("fruits", "more", "fewer"),
    [(1, 0, 1), (2, 0, 0), (3, 1, 0)],
)
def test_fruit_and_bags_match(seasons, fruits, more, fewer, find):
    """One covered flower, one fruit."""
    bags = [seasons.bag("B1", "T1"), seasons.bag("B2", "T1")]
    season = farm(seasons, bags, [seasons.harvest("H1", ["B1", "B2"], fruits=fruits)])

    assert more == len(find(season, "more-fruit-than-bags"))
    assert fewer == len(find(season, "fewer-fruit-than-bags"))


def test_surplus_fruit_of_a_loose_picking_is_told_elsewhere(seasons, find):
    """Where trees are listed as well, `fruit-unbagged` speaks."""
    mixed = {**seasons.harvest("H1", ["B1"]), "trees": ("T2",), "fruits": 4}

    assert () == find(farm(seasons, [seasons.bag("B1", "T1")], [mixed]), "more-fruit-than-bags")


def test_a_season_may_set_the_fruit_of_a_bag(seasons, find):
    """The profile's figure is the default."""
    season = farm(seasons, [seasons.bag("B1", "T1")], [seasons.harvest("H1", ["B1"], fruits=2)])
    practice = {"fruits_per_bag": {"high": 2.0, "reason": "two flowers under a bag"}}
    changed = replace(season, details=replace(season.details, practice=practice))

    assert 1 == len(find(season, "more-fruit-than-bags"))
    assert () == find(changed, "more-fruit-than-bags")


def test_a_bag_is_done_when_its_fruit_is_picked(seasons, find):
    """The later picking is at fault, wherever it stands in the file; one bag, one gap."""
    first = seasons.harvest("H2", ["B1"], date=seasons.PICKED - timedelta(3))
    season = farm(seasons, [seasons.bag("B1", "T1")], [seasons.harvest("H1", ["B1"]), first])
    (gap,) = find(season, "bag-harvested-twice")

    assert ("H1", "unproven") == (gap.id, gap.weight)
    assert "whose fruit is in picking H2 already" in gap.message


@pytest.mark.parametrize("figure", [None, {"high": None}])
def test_a_crop_that_sets_any_number_of_fruit_has_no_surplus(seasons, find, crop, figure):
    """Its profile names no most, so no picking counts too many and no bag is named too often."""
    harvests = [seasons.harvest("H1", ["B1"], fruits=3), seasons.harvest("H2", ["B1"])]
    season = farm(seasons, [seasons.bag("B1", "T1")], harvests)

    for slug in ("more-fruit-than-bags", "bag-harvested-twice"):
        assert 1 == len(find(season, slug))
        assert () == find(season, slug, profile=crop(fruits_per_bag=figure))


def test_a_picking_that_names_no_bag_has_none_too_few(seasons, find):
    """Fruit listed by its tree is counted by nobody's bags, and a count may be lost."""
    loose = {**seasons.harvest("H2", []), "trees": ("T1",), "fruits": 1}
    season = farm(seasons, [seasons.bag("B1", "T1")], [seasons.harvest("H1", ["B1"]), loose])
    harvests = season.table("harvests")
    uncounted = season.with_tables(
        {"harvests": harvests.assign(fruits=harvests["fruits"].mask(harvests["harvest"] == "H1"))}
    )

    for one in (season, uncounted):
        assert () == find(one, "fewer-fruit-than-bags")
        assert () == find(one, "more-fruit-than-bags")


@pytest.mark.parametrize(
    ("bags", "fruits", "said", "supply"),
    [
        (1, 2, "but its 1 bag can have set 1 at most.", "the bags of 1 more fruit of picking H1"),
        (2, 5, "but its 2 bags can have set 2 at most.", "the bags of 3 more fruit of picking H1"),
    ],
)
def test_a_surplus_is_counted(seasons, bags, fruits, said, supply, find):
    """How many the bags can have set, and how many are left over."""
    named = [f"B{number}" for number in range(bags)]
    season = farm(
        seasons, [seasons.bag(one, "T1") for one in named], [seasons.harvest("H1", named, fruits=fruits)]
    )
    (gap,) = find(season, "more-fruit-than-bags")

    assert gap.message.endswith(said)
    assert supply == gap.supply


def test_a_bag_named_twice_in_one_picking_is_told_at_the_second(seasons, find):
    """And counts as one bag."""
    season = farm(
        seasons,
        [seasons.bag("B1", "T1"), seasons.bag("B2", "T1")],
        [seasons.harvest("H1", ["B2", "B1", "B1"])],
    )
    (gap,) = find(season, "bag-harvested-twice")

    assert ("bags", 2) == gap.field
    assert "Picking H1 names bag B1" in gap.message
    assert 1 == len(find(season, "more-fruit-than-bags"))


def test_fruit_that_names_no_bag_at_all_is_no_surplus(seasons, find):
    """Its missing bags are told by another rule."""
    harvests = [seasons.harvest("H1", ["B1"]), {**seasons.harvest("H2", []), "fruits": 3}]

    assert () == find(farm(seasons, [seasons.bag("B1", "T1")], harvests), "more-fruit-than-bags")
