"""Leaf pools for the trees still to be screened, and the further test that is worth most."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pandas as pd
import pytest
import seasons as built

from certgen.dossier.bag_plan import list_standing
from certgen.dossier.odds import weigh_trees
from certgen.dossier.pool_plan import plan_pools, price_tests
from certgen.examination import examine, examine_season
from certgen.figures.leaf_pools import design_pools

ON = date(2026, 11, 20)


@pytest.fixture(scope="module")
def example(example_season):
    """The example season, examined."""
    return examine(example_season, ON)


def season(trees, samples, **more):
    """A season of trees and samples alone."""
    return examine_season(
        built.season_of(
            blocks=[built.block()], plantings=[built.planting()], trees=trees, screening=samples, **more
        ),
        ON,
    )


def test_the_trees_are_those_that_stand_unscreened(example):
    """As the register has them: not removed, no verdict that clears or condemns."""
    found = plan_pools(example)
    trees, verdicts = example.season.table("trees"), example.case.verdicts["verdict"]
    left = [
        tree
        for tree, removed in zip(trees["tree"].tolist(), trees["removed"].tolist(), strict=True)
        if verdicts[tree] in {"unscreened", "inconclusive"} and not removed <= pd.Timestamp(ON)
    ]

    assert left == list(found.trees)
    assert ((), ()) == (found.waiting, found.singly)


def test_trees_are_sorted_by_what_they_need():
    """A leaf to take, a result to wait for, a contradiction or a positive pool, and those removed."""
    found = plan_pools(
        season(
            [
                built.tree("T1"),
                built.tree("T2"),
                built.tree("T3"),
                built.tree("T4", removed=date(2026, 2, 1)),
                built.tree("T5"),
                built.tree("T6"),
                built.tree("T7"),
                built.tree("T8"),
            ],
            [
                built.without(built.sample("S2", "T2"), "result", "reported", "report"),
                built.sample("S3", "T3"),
                built.sample("S3b", "T3", method="gus", targets=(), result="positive"),
                built.sample("S5", "T5", result="positive"),
                built.sample("S6", "T6"),
                built.pool("S7", "T7", "T8", result="positive"),
            ],
        )
    )

    assert (("T1",), ("T2",), ("T3", "T7", "T8")) == (found.trees, found.waiting, found.singly)
    assert 6 == found.standing


def test_sizes_are_the_figures_designs(example):
    """From one leaf to the largest pool of the profile, at low, usual and high of practice."""
    found = plan_pools(example)
    gus = next(one for one in found.methods if one.method == "gus")

    assert (0.01, 0.1, 0.7) == found.prevalences
    assert 10 == gus.largest
    assert 1 == gus.sizes[0][0].leaves
    for designs in gus.sizes:
        for share, design in zip(found.prevalences, designs, strict=True):
            assert design_pools(len(found.trees), design.leaves, share, 0.98, 0.99) == design
    assert len(gus.sizes) == len({designs[0].leaves for designs in gus.sizes})
    assert set(gus.cheapest) <= {designs[0].leaves for designs in gus.sizes}


def test_a_method_without_a_figure_is_not_pooled(example, monkeypatch):
    """No largest pool in the profile: single leaves, and said."""
    monkeypatch.setattr(
        type(example.case),
        "practice",
        lambda self, key: None if key == "pool_leaves_pcr" else self._practice.get(key),
    )
    pcr = next(one for one in plan_pools(example).methods if one.method == "pcr")

    assert (1, 1) == (pcr.largest, len(pcr.sizes))
    assert "none is pooled" in pcr.largest_basis


def test_own_figures_change_the_pools(tmp_path):
    """A smaller pool of the operation's own, and a lower sensitivity."""
    own = {
        "pool_leaves_gus": {"high": 4, "reason": "our own plates"},
        "gus_sensitivity_pct": {"usual": 90, "reason": "our own controls"},
    }
    built.write_season(
        tmp_path,
        details={"practice": own},
        blocks=[built.block()],
        plantings=[built.planting()],
        trees=[built.tree(f"T{at}") for at in range(8)],
    )
    gus = next(one for one in plan_pools(examine(tmp_path, ON)).methods if one.method == "gus")

    assert (4, 0.9) == (gus.largest, gus.sensitivity)
    assert gus.sizes[-1][0].missed == pytest.approx(1 - 0.9**4)


def test_a_further_test_lowers_what_passes_as_the_chances_multiply():
    """Two trees, one with a clean blue stain, one without anything; X17-2 is seen by DNA alone."""
    found = plan_pools(
        season([built.tree("T1"), built.tree("T2")], [built.sample("S1", "T1", method="gus", targets=())])
    )
    by_method = {(one.method, target): one for one in found.further for target in one.targets or ("",)}

    # The stain never sees X17-2: both trees pass a carrier of it.
    assert 1 == found.passing
    assert by_method["gus", ""].passing == 1
    assert by_method["pcr", "nptII"].passing == pytest.approx(1 - 0.99 * 0.995)
    assert by_method["pcr", "uidA"].passing == 1
    assert found.further[0].method == "pcr"


def test_a_single_leaf_after_a_pool_of_one_method_counts_once():
    """The better of the two results of one method, not both."""
    trees = [built.tree(f"T{at}") for at in range(4)]
    found = plan_pools(season(trees, [built.pool("S1", *(f"T{at}" for at in range(4)))]))
    again = next(one for one in found.further if one.method == "pcr" and "nptII" in one.targets)

    assert found.passing == pytest.approx(1 - 0.99**4 * 0.995)
    assert again.passing == pytest.approx(1 - 0.99 * 0.995)


def test_what_passes_is_what_the_odds_have(example):
    """The same chance by tree and event as in every other output, averaged here."""
    found = plan_pools(example)
    trees, verdicts = weigh_trees(example), example.case.verdicts["verdict"]
    kept = [tree for tree in list_standing(example)["tree"] if verdicts[tree] != "positive"]

    assert found.standing == len(kept)
    assert found.passing == pytest.approx(
        max(sum(trees[tree].passing[event] for tree in kept) / len(kept) for event in found.events)
    )


def test_prices_are_multiplied_and_nothing_else():
    """No price, no cost."""
    found = plan_pools(season([built.tree("T1")], []), prices={"gus": Decimal("4.50")})
    costs = {one.method: one.cost for one in found.further}

    assert Decimal("4.50") == costs["gus"]
    assert costs["pcr"] is None
    assert 13.5 == price_tests(3, Decimal("4.50"))


def test_no_tree_is_no_pool():
    """Nothing to screen, nothing to lower."""
    found = plan_pools(season([], []))

    assert ((), None, ()) == (found.trees, found.passing, found.further)
    assert all(one.sizes == () for one in found.methods)


def test_a_tree_planted_later_is_not_there_yet():
    """As of a day before its planting."""
    later = built.planting(planted=ON + timedelta(30))
    of = examine_season(
        built.season_of(blocks=[built.block()], plantings=[later], trees=[built.tree("T1")]), ON
    )

    assert () == plan_pools(of).trees
