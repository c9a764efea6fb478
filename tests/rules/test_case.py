from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from certgen.lineage import Node


@pytest.fixture
def two_years(seasons, stocked):
    """L1 of this season takes 2 g of K1, and K1 and K2 stand in the two seasons before."""

    def lot(name, year, **more):
        return {**seasons.lot(name, [], 8, **more), "packed": date(year, 7, 1)}

    first = seasons.season_of(label="2024", lots=[lot("K1", 2024, variety="Moth Lantern"), lot("K2", 2024)])
    second = replace(seasons.season_of(label="2025", lots=[lot("K1", 2025), lot("L1", 2025)]), previous=first)
    parts = [{"batch": "X1", "weight": "6 g"}, {"lot": "K1", "weight": "2 g"}]
    return replace(stocked(lots=[seasons.lot("L1", parts, 8)]), previous=second)


def test_a_season_changes_the_crops_practice(stocked, case_of) -> None:
    """Its own figure stands in place of the crop's; a figure that the crop hasn't is none."""
    season = stocked()
    practice = {"rinses": {"high": 6.0, "reason": "our water is soft"}}
    changed = replace(season, details=replace(season.details, practice=practice))

    assert ((3, 10), (3, 6)) == tuple(case_of(one).practice("rinses").range for one in (season, changed))
    assert case_of(season).practice("no such figure") is None


def test_only_rulebooks_that_ask_are_named(stocked, case_of) -> None:
    """Of two standards one asks for growing seasons of the mother plant."""
    asked = case_of(stocked(), "us-nop", "eu").demand("mother_plant_seasons")

    assert ["eu"] == [rulebook.key for rulebook, _ in asked]


def test_under_other_rulebooks_the_tables_are_kept(stocked, case_of) -> None:
    """No table depends on a rulebook, so none is joined a second time."""
    case = case_of(stocked(), "us-nop", "eu")
    bags = case.bags
    other = case.under(case.rulebooks[1:])

    assert ["eu"] == [book.key for book in other.rulebooks]
    assert bags is other.bags


def test_a_repeated_number_means_its_first_record(seasons, stocked, case_of) -> None:
    """Whatever names the number is looked up there, and the number stays a column."""
    plantings = [seasons.planting(), seasons.planting("P1", variety="Moth Lantern")]
    trees = [seasons.tree("T1"), seasons.tree("T1", sex="female"), seasons.tree("T2")]
    case = case_of(stocked(plantings=plantings, trees=trees))

    assert [("T1", 0), ("T2", 2)] == list(case.keyed("trees")[["tree", "row_of"]].itertuples(index=False))
    assert [("T1", "hermaphrodite"), ("T2", "hermaphrodite")] == list(
        case.tree_of[["tree", "sex"]].itertuples(index=False)
    )
    assert ["Amber Kestrel"] * 3 == case.trees["variety"].tolist()


def test_a_record_stands_behind_what_rests_on_it(seasons, stocked, case_of) -> None:
    """T1 bears the bag of the lot; T2 bears one that nobody picked; T3 bears none."""
    trees = [seasons.tree(f"T{number}") for number in (1, 2, 3)]
    bags = [seasons.bag("B1", "T1"), seasons.bag("B2", "T2")]
    case = case_of(stocked(trees=trees, bagging=bags))
    one, two, three = (Node("trees", f"T{number}") for number in (1, 2, 3))

    assert [True, False, False] == case.behind("trees").tolist()
    assert "It stands behind 1 bag and 1 lot." == case.stands_behind(one)
    assert "It stands behind 1 bag." == case.stands_behind(two)
    assert "They stand behind 2 bags and 1 lot." == case.stands_behind(one, two)
    assert "" == case.stands_behind(three)


@pytest.mark.parametrize(
    ("lot", "season"), [("L1", ""), ("K1", "2025"), ("K2", "2024"), ("Q", ""), ("T1", "")]
)
def test_a_lots_number_means_the_latest_lot_of_it(two_years, case_of, lot, season) -> None:
    """This season's, else the latest earlier season's; a number of no lot is taken as this season's."""
    assert Node("lots", lot, season) == case_of(two_years).lot_node(lot)


def test_earlier_lots_are_those_of_the_latest_season_first(two_years, stocked, case_of) -> None:
    """K1 was packed twice: the later one is meant."""
    lots = case_of(two_years).earlier_lots[["lot", "season", "variety"]]

    assert [
        ("K1", "2025", "Amber Kestrel"),
        ("L1", "2025", "Amber Kestrel"),
        ("K2", "2024", "Amber Kestrel"),
    ] == list(lots.itertuples(index=False))
    assert 0 == len(case_of(stocked()).earlier_lots)


def test_a_variety_is_spelled_as_it_was_first_written(seasons, stocked, case_of) -> None:
    """Letter case and spaces make no other variety; a name that stands nowhere is left as it is."""
    plantings = [seasons.planting(), seasons.planting("P2", variety=" AMBER   kestrel")]
    case = case_of(stocked(plantings=plantings))
    names = case.plantings["variety"].tolist()
    other = case.season.table("lots")["variety"].where(lambda column: column.isna(), "Moth Lantern")

    assert ["Amber Kestrel"] * 2 == names
    assert ["Moth Lantern"] == case.spell(other).tolist()


def test_a_bag_fails_on_the_first_day_that_a_look_finds_it_open(seasons, stocked, case_of) -> None:
    """Looks may be written in any order, and a bag that only held has no such day."""
    looks = [(9, "gone"), (4, "torn"), (2, "intact"), (6, "loose")]
    checks = [{"date": date(2026, 1, 12 + days), "condition": condition} for days, condition in looks]
    bags = case_of(stocked(bagging=[seasons.bag("B1", "T1", checks=checks), seasons.bag("B2", "T1")])).bags

    assert ["torn", None] == bags["failure"].astype("object").where(bags["failure"].notna(), None).tolist()
    assert date(2026, 1, 16) == bags["failed"][0].date()
    assert [True, False] == bags["picked"].tolist()


def test_what_was_picked_is_one_row_a_bag_and_a_loose_tree(seasons, stocked, case_of) -> None:
    """Each row has a number of its own, for it is what a rule selects by."""
    trees = [seasons.tree("T1"), seasons.tree("T2")]
    harvests = [seasons.harvest("H0", []), seasons.harvest("H1", ["B1"], trees=("T2", "T1"))]
    picked = case_of(stocked(trees=trees, harvests=harvests)).picked

    assert [0, 1, 2] == picked.index.tolist()
    assert [("H1", 1, 0, "T1", False), ("H1", 1, 0, "T2", True), ("H1", 1, 1, "T1", True)] == list(
        picked[["harvest", "harvest_row", "position", "tree", "loose"]].itertuples(index=False)
    )
    assert [True, False, False] == picked["bag"].notna().tolist()


def test_varieties_come_through_tree_and_planting_once(seasons, stocked, case_of) -> None:
    """Two bags of one variety and one of another went into one batch."""
    case = case_of(
        stocked(
            plantings=[seasons.planting(), seasons.planting("P2", variety="Moth Lantern")],
            trees=[seasons.tree("T1"), seasons.tree("T2", planting="P2")],
            bagging=[seasons.bag("B1", "T1"), seasons.bag("B2", "T1"), seasons.bag("B3", "T2")],
            harvests=[seasons.harvest("H1", ["B1", "B2"]), seasons.harvest("H2", ["B1", "B3"])],
            batches=[seasons.batch("X1", ["H1", "H2"])],
        )
    )

    assert [("H1", "Amber Kestrel"), ("H2", "Amber Kestrel"), ("H2", "Moth Lantern")] == list(
        case.harvest_varieties.itertuples(index=False)
    )
    assert [("X1", "Amber Kestrel"), ("X1", "Moth Lantern")] == list(
        case.batch_varieties.itertuples(index=False)
    )
