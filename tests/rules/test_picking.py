from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from certgen.lineage import build_lineage
from certgen.rules import RULES, Case, run_rules
from certgen.standards import load_profile, load_rulebook

ON = date(2026, 10, 31)


def gaps(season, slug, *standards, on=ON):
    """What one rule finds."""
    rulebooks = tuple(load_rulebook(key) for key in standards or ("us-nop",))
    case = Case(season, build_lineage(season), load_profile(season.details.crop), rulebooks, on)
    found, crashed = run_rules(case, {slug: RULES[slug]})
    assert () == crashed
    return found


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


def bare(record, *fields):
    """The record, less some fields."""
    return {key: value for key, value in record.items() if key not in fields}


def test_a_bag_without_an_end_is_a_loose_end(seasons):
    """No outcome, no picking, and the season is over."""
    bags = [seasons.bag("B1", "T1"), bare(seasons.bag("B2", "T1"), "outcome")]
    (gap,) = gaps(farm(seasons, bags, [seasons.harvest("H1", ["B1"])]), "bag-fate-unknown")

    assert ("B2", "advice", ()) == (gap.id, gap.weight, gap.lots)


def test_a_bag_without_an_end_on_a_tree_picked_loose_leaves_that_fruit_unproven(seasons):
    """It may have been under the bag."""
    loose = {**seasons.harvest("H2", []), "trees": ("T1",), "fruits": 1}
    bags = [seasons.bag("B1", "T1"), bare(seasons.bag("B2", "T1"), "outcome")]
    (gap,) = gaps(farm(seasons, bags, [seasons.harvest("H1", ["B1"]), loose]), "bag-fate-unknown")

    assert ("unproven", ("L1",)) == (gap.weight, gap.lots)
    assert "picked without a bag: picking H2" in gap.message


def test_a_late_flower_has_time_until_its_fruit_can_be_ripe(seasons):
    """Set fruit that still hangs at the end of the season is told when it is overdue, and not before."""
    covered = date(2026, 10, 1)
    late = seasons.bag("B2", "T1", covered=covered, uncovered=covered + timedelta(12))
    season = farm(seasons, [seasons.bag("B1", "T1"), late], [seasons.harvest("H1", ["B1"])])

    assert () == gaps(season, "bag-fate-unknown", on=date(2026, 11, 30))
    assert ["B2"] == [gap.id for gap in gaps(season, "bag-fate-unknown", on=date(2027, 6, 30))]


def test_a_season_under_way_is_not_asked_for_its_end(seasons):
    """Flowers of last week have no outcome yet."""
    bags = [seasons.bag("B1", "T1"), bare(seasons.bag("B2", "T1"), "outcome")]
    season = farm(seasons, bags, [seasons.harvest("H1", ["B1"])])

    assert () == gaps(season, "bag-fate-unknown", on=date(2026, 6, 30))


def test_fruit_of_a_dropped_flower_contradicts_itself(seasons):
    """The lot rests on it."""
    season = farm(seasons, [seasons.bag("B1", "T1", outcome="lost")], [seasons.harvest("H1", ["B1"])])
    (gap,) = gaps(season, "bag-outcome-differs")

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
def test_fruit_needs_a_mark_once_its_bag_is_off(seasons, change, said):
    """A bag that stays until the picking is its own mark."""
    bag = {key: value for key, value in {**seasons.bag("B1", "T1"), **change}.items() if value is not None}
    found = gaps(farm(seasons, [bag], [seasons.harvest("H1", ["B1"])]), "fruit-unmarked")

    assert (1 if said else 0) == len(found)
    assert all(said in gap.message for gap in found)


@pytest.mark.parametrize(
    ("fruits", "more", "fewer"),
    [(1, 0, 1), (2, 0, 0), (3, 1, 0)],
)
def test_fruit_and_bags_match(seasons, fruits, more, fewer):
    """One covered flower, one fruit."""
    bags = [seasons.bag("B1", "T1"), seasons.bag("B2", "T1")]
    season = farm(seasons, bags, [seasons.harvest("H1", ["B1", "B2"], fruits=fruits)])

    assert more == len(gaps(season, "more-fruit-than-bags"))
    assert fewer == len(gaps(season, "fewer-fruit-than-bags"))


def test_surplus_fruit_of_a_loose_picking_is_told_elsewhere(seasons):
    """Where trees are listed as well, `fruit-unbagged` speaks."""
    mixed = {**seasons.harvest("H1", ["B1"]), "trees": ("T2",), "fruits": 4}

    assert () == gaps(farm(seasons, [seasons.bag("B1", "T1")], [mixed]), "more-fruit-than-bags")


def test_a_season_may_set_the_fruit_of_a_bag(seasons):
    """The profile's figure is the default."""
    season = farm(seasons, [seasons.bag("B1", "T1")], [seasons.harvest("H1", ["B1"], fruits=2)])
    practice = {"fruits_per_bag": {"high": 2.0, "reason": "two flowers under a bag"}}
    changed = replace(season, details=replace(season.details, practice=practice))

    assert 1 == len(gaps(season, "more-fruit-than-bags"))
    assert () == gaps(changed, "more-fruit-than-bags")


def test_a_bag_is_done_when_its_fruit_is_picked(seasons):
    """The later picking is at fault, wherever it stands in the file; one bag, one gap."""
    first = seasons.harvest("H2", ["B1"], date=seasons.PICKED - timedelta(3))
    season = farm(seasons, [seasons.bag("B1", "T1")], [seasons.harvest("H1", ["B1"]), first])
    (gap,) = gaps(season, "bag-harvested-twice")

    assert ("H1", "unproven") == (gap.id, gap.weight)
    assert "whose fruit is in picking H2 already" in gap.message


def test_fruit_that_names_no_bag_at_all_is_no_surplus(seasons):
    """Its missing bags are told by another rule."""
    harvests = [seasons.harvest("H1", ["B1"]), {**seasons.harvest("H2", []), "fruits": 3}]

    assert () == gaps(farm(seasons, [seasons.bag("B1", "T1")], harvests), "more-fruit-than-bags")
