"""Bags to hang for the grams wanted, over the example's season, small ones and none."""

from __future__ import annotations

from datetime import date, timedelta
from math import ceil

import pytest
import seasons as built

from certgen.dossier.bag_plan import list_standing, plan_bags
from certgen.dossier.season_rates import Rate, find_bearing, find_grams_a_fruit, find_left_to_sell, list_days
from certgen.examination import examine, examine_season

COVERS = ("certgen.dossier.season_rates",)
ON = date(2026, 11, 20)


@pytest.fixture(scope="module")
def example(example_season):
    """The example season, examined."""
    return examine(example_season, ON)


def season(**changes):
    """One line from block to lot, some tables in the place of others."""
    return built.examine_line(ON, **changes)


def test_the_rates_are_those_of_the_records(example):
    """Counted here: bags picked, less the one whose cover was gone; grams over fruit, run by run."""
    bags = example.season.table("bagging")
    picked = {bag for bags in example.season.table("harvests")["bags"].tolist() for bag in bags}
    known = bags["outcome"].isin(["dropped", "lost"]) | bags["bag"].isin(picked)
    found = find_bearing(example, None, 0.95)

    assert (int(known.sum()), len(picked)) == (152, 121)
    assert 120 / 152 == found.usual
    assert found.own


def test_grams_a_fruit_are_the_mean_of_the_runs():
    """Two runs of 8 g and of 24 g from a fruit and from two: (8 + 12) / 2."""
    of = season(
        bagging=[built.bag(f"B{at}", "T1") for at in (1, 2, 3)],
        harvests=[built.harvest("H1", ["B1"]), built.harvest("H2", ["B2", "B3"])],
        batches=[built.batch("X1", ["H1"]), built.batch("X2", ["H2"], 3)],
    )
    found = find_grams_a_fruit(of, None, 0.95)

    assert 10 == found.usual
    assert found.cautious < 10
    assert "2 runs" in found.basis


def test_runs_that_share_a_picking_count_as_one():
    """One picking of two fruit in two runs of 8 g: 8 g a fruit, and not 4."""
    of = season(
        bagging=[built.bag(f"B{at}", "T1") for at in (1, 2)],
        harvests=[built.harvest("H1", ["B1", "B2"])],
        batches=[built.batch("X1", ["H1"]), built.batch("X2", ["H1"])],
    )

    assert 8 == find_grams_a_fruit(of, None, 0.95).usual


def test_what_is_kept_back_is_not_for_sale(example):
    """Sampled, retained, discarded and never packed, of what was packed, as the records have them."""
    moves, lots = example.season.table("movements"), example.season.table("lots")
    own = moves[moves["lot"].isin(lots["lot"].tolist())]
    kept = own["weight_mg"][own["kind"].isin(["sampled", "retained", "discarded", "downgraded"])].sum()

    assert find_left_to_sell(example, None).usual == pytest.approx(1 - kept / lots["weight_mg"].sum())


def test_a_plan_gives_the_grams_on_average(example):
    """Bags × share that bears × grams a fruit × share left are the grams, and a bag less falls short."""
    plan = plan_bags(example, 250)
    each = plan.grams_a_fruit.usual * plan.left.usual

    assert plan.fruit == ceil(250 / each)
    assert plan.bags * plan.bearing.usual >= plan.fruit > (plan.bags - 1) * plan.bearing.usual
    assert plan.fruit_cautious >= plan.fruit
    assert plan.bags_cautious > plan.bags
    assert plan.own_limits
    assert plan.kept_g == pytest.approx(250 / plan.left.usual - 250)


@pytest.mark.parametrize("grams", [1, 10, 100, 1000])
def test_more_seed_takes_more_bags(example, grams):
    """Ten times the grams, at most ten times the bags: the first are rounded up, and chance evens out."""
    some, more = plan_bags(example, grams), plan_bags(example, 10 * grams)

    assert some.bags <= more.bags <= 10 * some.bags
    assert some.bags_cautious <= more.bags_cautious <= 10 * some.bags_cautious


def test_an_empty_season_has_the_crops_figures_and_says_so():
    """450 seeds at 16 g a thousand are 7.2 g a fruit; six bags of ten bear; trees can't be reckoned."""
    plan = plan_bags(examine_season(built.season_of(), ON), 250)

    assert (7.2, 0.6) == (plan.grams_a_fruit.usual, plan.bearing.usual)
    assert not plan.grams_a_fruit.own
    assert not plan.bearing.own
    assert "assumed" in plan.bearing.basis
    assert (None, None) == (plan.leaves.trees, plan.leaves.tests)
    assert plan.traced is None
    assert not plan.own_limits
    assert all("the crop's figures" in step.basis for step in plan.dates.steps)


def test_bags_that_all_failed_leave_nothing_to_plan_with():
    """No invented rate: the fault says what to record."""
    lost = [built.bag("B1", "T1", outcome="dropped")]
    of = season(bagging=lost, harvests=[], batches=[], lots=[], tests=[])

    with pytest.raises(ValueError, match="record of each bag whether its fruit set"):
        plan_bags(of, 10)


def test_days_are_counted_back_from_the_day_asked_for(example):
    """Slow steps end on the day, quick ones too; bagged today it is ready between the two sums."""
    wanted = date(2027, 12, 1)
    dates = plan_bags(example, 250, ready_by=wanted).dates
    quick, slow = sum(step.low for step in dates.steps), sum(step.high for step in dates.steps)

    assert (wanted - timedelta(slow), wanted - timedelta(quick)) == (dates.bag_by, dates.bag_latest)
    assert (ON + timedelta(quick), ON + timedelta(slow)) == (dates.ready_from, dates.ready_to)
    assert ["covering to picking", "picking to dry seed", "germination test"] == [
        step.step for step in list_days(example)
    ]


def test_own_days_stand_before_the_crops():
    """147 days from covering to picking, 16 to dry seed: what the one line has on record."""
    hung, dried, _ = list_days(season())

    assert (147, 147, "1 on record") == (hung.low, hung.high, hung.basis)
    assert (16, 16) == (dried.low, dried.high)


def test_trees_are_what_the_bags_hang_on():
    """Two bags on one cleared tree; forty more bags want more trees than stand."""
    of = season(
        trees=[built.tree("T1"), built.tree("T2"), built.tree("T3", removed=date(2026, 3, 1))],
        bagging=[built.bag("B1", "T1"), built.bag("B2", "T1")],
        harvests=[built.harvest("H1", ["B1", "B2"])],
        batches=[built.batch("X1", ["H1"], 2)],
    )
    leaves = plan_bags(of, 50).leaves

    assert (2, 1, 1) == (leaves.bags_a_tree, leaves.cleared, leaves.unscreened)
    assert leaves.tests == leaves.trees - 1
    assert leaves.short == leaves.tests - 1


def test_another_variety_is_left_out(example):
    """Its bags, runs and lots are those of its own trees."""
    one, other = (plan_bags(example, 100, variety=name) for name in ("Amber Kestrel", "Rosy Cistern"))

    assert ("70 of 90 bags", "50 of 62 bags") == (
        one.bearing.basis.split(" of this")[0],
        other.bearing.basis.split(" of this")[0],
    )


def test_where_too_little_is_on_record_nothing_is_sure(example, monkeypatch):
    """A cautious end that no orchard could make good for: the average stands, and no number beside it."""
    rate = Rate(6.0, 1e-9, "two runs that hardly agree", own=True)
    monkeypatch.setattr("certgen.dossier.bag_plan.find_grams_a_fruit", lambda *_given: rate)
    plan = plan_bags(example, 250)

    assert (None, None) == (plan.fruit_cautious, plan.bags_cautious)
    assert plan.bags > plan.fruit


def test_days_beyond_the_calendar_are_refused_in_words(tmp_path):
    """An own figure of practice that no calendar holds."""
    own = {"germination_final_count_days": {"high": 1e12, "reason": "we wait"}}
    built.write_season(tmp_path, details={"practice": own}, **built.one_line())

    with pytest.raises(ValueError, match=r"more than a calendar holds.*germination test"):
        plan_bags(examine(tmp_path, ON), 10)


def test_another_crop_has_its_own_figures_and_says_which_are_missing(tmp_path):
    """Squash: half of the taped flowers bear 32.5 g each; its profile has no days for a germination test."""
    built.write_season(tmp_path, details={"crop": "squash"})
    plan = plan_bags(examine(tmp_path, ON), 500)

    assert (0.5, 32.5) == (plan.bearing.usual, plan.grams_a_fruit.usual)
    assert ("germination test",) == plan.dates.missing
    assert ["covering to picking", "picking to dry seed"] == [step.step for step in plan.dates.steps]


def test_trees_that_are_no_parents_bear_no_bags():
    """Two cleared trees, of which one was seen to be off-type: one stands for the bags."""
    of = season(
        trees=[built.tree("T1"), built.tree("T2")],
        screening=[built.sample("S1", "T1"), built.sample("S2", "T2")],
        observations=[
            {
                "observation": "O1", "date": "2026-06-02", "trees": ["T2"], "kind": "off-type",
                "seen": "long fruit", "decision": "not a parent",
            }
        ],
    )  # fmt: skip

    assert ["T1"] == list_standing(of)["tree"].tolist()
