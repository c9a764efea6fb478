"""What failed bags leave open to foreign pollen, over small seasons and the example's."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
import seasons as built
from hypothesis import given, settings

from certgen.dossier.contamination import KINDS, bound_pollen, look_at_bags
from certgen.examination import examine, examine_season
from certgen.figures.contamination import bound_contamination, judge_failures

ON = date(2026, 11, 20)


def season(*bags, **more):
    """A season of these bags on two trees, all picked at once, eight grams a fruit, in one lot."""
    names = [one["bag"] for one in bags]
    grams = 8 * len(names)
    tables = {
        **built.one_line(),
        "trees": [built.tree("T1"), built.tree("T2")],
        "screening": [built.sample("S1", "T1"), built.sample("S2", "T2")],
        "bagging": list(bags),
        "harvests": [built.harvest("H1", names)],
        "batches": [built.batch("X1", ["H1"], len(names))],
        "lots": [built.lot("L1", [{"batch": "X1", "weight": f"{grams} g"}], grams)],
    }
    return examine_season(built.season_of(**{**tables, **more}), ON)


@pytest.fixture(scope="module")
def example(example_season):
    """The example season, examined."""
    return examine(example_season, ON)


def test_the_examples_bags_are_counted(example):
    """Three of 152, counted here: found bad, and not intact before once the week of need was over."""
    found = look_at_bags(example)
    bags, bad = example.season.table("bagging"), []
    for covered, checks in zip(bags["covered"].tolist(), bags["checks"].tolist(), strict=True):
        for check in checks:
            if check["condition"] == "intact" and check["date"] >= (covered + timedelta(7)).date():
                break
            if check["condition"] != "intact":
                bad.append(check["condition"])
                break

    assert {word: bad.count(word) for word in ("torn", "gone")} == found.kinds
    assert (3, 152, 0) == (found.failures.failed, found.failures.checked, found.unlooked)


def test_a_lot_is_bounded_by_the_failures_and_by_its_open_fruit(example):
    """Each share as the figure has it; only the lot with a fruit of a failed bag has more."""
    found = bound_pollen(example)
    failing = judge_failures(3, 152).at_most

    assert list(example.lots) == [one.lot for one in found.lots]
    assert {"RC-26-2"} == {one.lot for one in found.lots if one.uncovered}
    for one in found.lots:
        assert bound_contamination(one.uncovered, failing, 1, 0.1) == one.usual
        assert one.low < one.usual.carrying < one.high


def test_an_open_fruit_counts_by_its_share():
    """One of four fruit under a bag found torn while it was needed: a quarter of the seed is open."""
    torn = {"checks": (built.look(2, "torn"),), "uncovered": built.COVERED + timedelta(2)}
    found = bound_pollen(season(*(built.bag(f"B{at}", "T1", **(torn if at == 1 else {})) for at in range(4))))

    assert {"torn": 1} == found.bags.kinds
    assert [0.25] == [one.uncovered for one in found.lots]


@pytest.mark.parametrize(
    ("change", "kind"),
    [
        ({"stage": "open"}, "flower open at covering"),
        ({"secured": False}, "not tied"),
        ({"checks": (built.look(3, "torn"),)}, "torn"),
        ({"checks": (built.look(3, "loose"),)}, "loose"),
        ({"checks": (built.look(3, "gone"),)}, "gone"),
        ({"uncovered": built.COVERED + timedelta(4)}, "taken off early"),
    ],
)
def test_each_way_to_fail_is_named(change, kind):
    """One bag of two, in the words of KINDS."""
    found = look_at_bags(season(built.bag("B1", "T1", **change), built.bag("B2", "T2")))

    assert kind in KINDS
    assert {kind: 1} == found.kinds
    assert (1, 2) == (found.failures.failed, found.failures.checked)


def test_a_bag_that_nobody_looked_at_says_nothing():
    """It is neither among the failed nor among the checked; without any look there is no bound."""
    blind = built.without(built.bag("B1", "T1"), "checks")
    one = bound_pollen(season(blind, built.bag("B2", "T2")))
    none = bound_pollen(season(blind))

    assert (0, 1, 1) == (one.bags.failures.failed, one.bags.failures.checked, one.bags.unlooked)
    assert (None, 1, None, ()) == (none.bags.failures, none.bags.unlooked, none.bags.needed, none.lots)


def test_one_look_on_the_first_days_does_not_show_that_a_bag_held():
    """Intact on the third day, taken off on nobody knows which: it isn't among those looked at."""
    early = built.without(built.bag("B1", "T1", checks=(built.look(2),)), "uncovered")
    found = look_at_bags(season(early, built.bag("B2", "T2")))

    assert (0, 1, 1) == (found.failures.failed, found.failures.checked, found.unlooked)


def test_a_bag_of_days_to_come_is_not_counted():
    """As of a day before it hung."""
    tables = {**built.one_line(), "harvests": [], "batches": [], "lots": [], "tests": []}
    before = examine_season(built.season_of(**tables), built.COVERED - timedelta(1))

    assert (None, 0) == (look_at_bags(before).failures, look_at_bags(before).unlooked)


def test_own_figures_stand_in_place_of_the_crops(tmp_path):
    """Half of an open flower's seed fathered by others, two in a hundred grains carrying."""
    own = {
        "foreign_pollen_fathers_pct": {"usual": 50, "reason": "counted in our own open flowers"},
        "foreign_pollen_carries_pct": {"usual": 2, "reason": "all neighbours were screened"},
    }
    built.write_season(tmp_path, details={"practice": own}, **built.one_line())
    (one,) = bound_pollen(examine(tmp_path, ON)).lots

    assert one.usual.carrying == pytest.approx(judge_failures(0, 1).at_most * 0.5 * 0.02)


@given(built.clean_tables())
@settings(max_examples=15)
def test_one_failure_more_never_lowers_a_bound(tables):
    """The first bag torn instead of intact."""
    before = bound_pollen(examine_season(built.season_of(**tables), ON))
    torn = {**tables["bagging"][0], "checks": (built.look(3, "torn"),)}
    after = bound_pollen(
        examine_season(built.season_of(**{**tables, "bagging": [torn, *tables["bagging"][1:]]}), ON)
    )
    bounds = {one.lot: one.usual.carrying for one in after.lots}

    assert all(bounds[one.lot] > one.usual.carrying for one in before.lots)


def test_nothing_comes_of_nothing():
    """A season without a record: no bags, no lots, no error."""
    found = bound_pollen(examine_season(built.season_of(), ON))

    assert (None, (), ()) == (found.bags.failures, found.lots, found.unknown)
