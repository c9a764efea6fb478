"""Aids to planning: sexes, seedlings a hole, drying."""

from __future__ import annotations

from datetime import date

import pytest

from certgen.dossier.planning import compare_progeny, find_dry_targets, plan_holes
from certgen.examination import examine_season

ON = date(2026, 10, 31)


def own_seed(seasons, sexes, parent_sex="hermaphrodite", **bag):
    """A planting of the given sexes, grown from a lot of the season before."""
    before = seasons.season_of(
        label="2025",
        blocks=[seasons.block()],
        plantings=[seasons.planting()],
        trees=[seasons.tree("T1", sex=parent_sex), seasons.tree("T2", sex="hermaphrodite")],
        bagging=[seasons.bag("B1", "T1", **bag)],
        harvests=[seasons.harvest("H1", ["B1"])],
        batches=[seasons.batch("X1", ["H1"])],
        lots=[seasons.lot("L25", [{"batch": "X1", "weight": "8 g"}], 8)],
    )
    season = seasons.season_of(
        previous=before,
        blocks=[seasons.block()],
        plantings=[seasons.planting("P2", origin={"lot": "L25"})],
        trees=[seasons.tree(f"N{at}", planting="P2", sex=sex) for at, sex in enumerate(sexes)],
    )
    return examine_season(season, ON)


def test_selfed_hermaphrodites_give_two_to_one(seasons):
    """Eight to four is exactly what theory says: chi-square nothing."""
    (found,) = compare_progeny(own_seed(seasons, ["hermaphrodite"] * 8 + ["female"] * 4))

    assert ("P2", "L25", ("hermaphrodite × hermaphrodite",)) == (found.planting, found.lot, found.parents)
    assert pytest.approx(0) == found.fit.statistic
    assert pytest.approx(1) == found.fit.chance


def test_a_crossed_female_gives_one_to_one(seasons):
    """A bag on a female with pollen of a hermaphrodite."""
    result = own_seed(seasons, ["hermaphrodite"] * 5 + ["female"] * 5, "female", pollen_parent="T2")
    (found,) = compare_progeny(result)

    assert {"hermaphrodite": 0.5, "female": 0.5} == found.expected
    assert pytest.approx(0) == found.fit.statistic


def test_a_sex_that_the_cross_cannot_give_is_compared_with_nothing(seasons):
    """A male among selfed hermaphrodites' progeny: no figure, for there is none."""
    (found,) = compare_progeny(own_seed(seasons, ["hermaphrodite", "male"]))

    assert found.fit is None


def test_bought_seed_is_not_compared(seasons):
    """Nothing is known of its parents' sexes."""
    season = seasons.season_of(
        blocks=[seasons.block()], plantings=[seasons.planting()], trees=[seasons.tree("T1")]
    )

    assert () == compare_progeny(examine_season(season, ON))


def test_seedlings_a_hole_by_the_crops_share(seasons):
    """One less the chance that all are of another sex, for a measured share of 70.1 %."""
    holes = plan_holes(examine_season(seasons.season_of(), ON))

    assert [pytest.approx(1 - 0.299**number) for number in range(1, 6)] == [c for _, c in holes.chances]
    assert 3 == holes.enough


def test_moist_seed_gets_a_weight_to_dry_to(seasons):
    """20 g at 19 % hold 16.2 g of seed; at 10 % that weighs 18 g. Seed within the range has no target."""
    bags = [seasons.bag(f"B{at}", "T1") for at in range(2)]
    season = seasons.season_of(
        bagging=bags,
        harvests=[seasons.harvest("H1", ["B0"]), seasons.harvest("H2", ["B1"])],
        batches=[
            seasons.batch("X1", ["H1"], dry_weight="20 g", moisture="19 %"),
            seasons.batch("X2", ["H2"], moisture="9 %"),
        ],
    )
    (target,) = find_dry_targets(examine_season(season, ON))

    assert ("X1", 10, pytest.approx(18)) == (target.batch, target.wanted, target.target_g)
