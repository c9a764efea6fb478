from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest


def told(gaps):
    """Where the gaps stand, and at how many more places."""
    return [(gap.table, gap.id, gap.field, len(gap.others)) for gap in gaps]


@pytest.mark.parametrize(
    ("table", "change", "field", "supply"),
    [
        ("plantings", {"block": "Nowhere"}, ("block",), "a record of block Nowhere"),
        ("trees", {"planting": "P9"}, ("planting",), "a record of planting P9"),
        ("bagging", {"pollen_parent": "T9"}, ("pollen_parent",), "a record of tree T9"),
        ("harvests", {"bags": ("B1", "B9")}, ("bags", 1), "a record of bag B9"),
        ("harvests", {"bags": ("B9",)}, ("bags", 0), "a record of bag B9"),
        ("lots", {"sources": ({"batch": "X1", "weight": "4 g"}, {"batch": "X9", "weight": "4 g"})},
         ("sources", 1, "batch"), "a record of batch X9"),
        ("lots", {"sources": ({"lot": "K9", "weight": "8 g"},)}, ("sources", 0, "lot"), "a record of lot K9"),
    ],
)  # fmt: skip
def test_what_a_record_names_has_a_record(stocked, find, table, change, field, supply) -> None:
    """Told at the very entry, and nothing else is."""
    season = stocked()
    key = {"plantings": "P1", "trees": "T1", "bagging": "B1", "harvests": "H1", "lots": "L1"}[table]
    record = {**season.record_at(table, 0), **change}
    (gap,) = find(stocked(**{table: [record]}), "reference-unknown")

    assert (table, key, field, "unproven", supply) == (gap.table, gap.id, gap.field, gap.weight, gap.supply)
    assert () == find(season, "reference-unknown")


def test_a_number_that_is_missing_at_many_places_is_one_gap(seasons, stocked, find) -> None:
    """One record would mend them all; another number is another gap."""
    trees = [seasons.tree(f"T{number}", planting=of) for number, of in enumerate(("P8", "P9", "P8"))]
    found = find(stocked(trees=trees, screening=[], bagging=[], harvests=[], batches=[], lots=[], tests=[]),
                 "reference-unknown")  # fmt: skip

    assert [("trees", "T0", ("planting",), 1), ("trees", "T1", ("planting",), 0)] == told(found)
    assert "Tree T0 names planting P8, and no planting bears that number." == found[0].message


@pytest.mark.parametrize(
    ("there", "typed", "meant"),
    [
        (["02"], "2", " Did you mean 02?"), (["T-2"], "t002", " Did you mean T-2?"), (["2", "02"], "002", ""),
        (["02"], "3", ""),
    ],
)  # fmt: skip
def test_a_number_that_is_spelled_otherwise_is_guessed(there, typed, meant, seasons, stocked, find) -> None:
    """Leading zeros, dashes and letter case: but not where two could be meant."""
    season = stocked(trees=[seasons.tree(one) for one in there], bagging=[seasons.bag("B1", typed)])
    said = [gap.message for gap in find(season, "reference-unknown") if gap.table == "bagging"]

    assert [f"Bag B1 names tree {typed}, and no tree bears that number.{meant}"] == said


def test_seed_moved_under_an_unknown_number_is_never_a_loose_end(seasons, stocked, find) -> None:
    """No lot of the season rests on it, and still nobody knows which seed went; so for no other table."""
    moves = [seasons.movement("M1", "L9", "sown", 1)]
    spare = {"cleaning": "C1", "date": date(2026, 6, 1), "equipment": ["mixer"], "method": "brush",
             "before": "X9"}  # fmt: skip
    found = find(stocked(movements=moves, cleaning=[spare]), "reference-unknown")

    assert {"M1": "unproven", "C1": "advice"} == {gap.id: gap.weight for gap in found}
    assert {"M1": True, "C1": False} == {gap.id: "`previous:`" in gap.remedy for gap in found}
    assert {"M1": True, "C1": False} == {gap.id: "or an earlier one" in gap.message for gap in found}


@pytest.mark.parametrize(
    ("before", "bags", "expected"),
    [
        (True, ["B1", "B9"], []),
        (True, ["B1", "B8"], [("harvests", "H1", ("bags", 1), 0)]),
        (False, ["B1", "B9"], [("harvests", "H1", ("bags", 1), 0), ("movements", "M0", ("lot",), 0)]),
    ],
)
def test_an_earlier_seasons_records_are_known(seasons, carried, find, before, bags, expected) -> None:
    """A bag of December is picked in the next season, and a lot carried over; what no year has isn't."""
    season = carried(harvests=[seasons.harvest("H1", bags)])

    assert expected == told(find(season if before else replace(season, previous=None), "reference-unknown"))


def test_a_record_may_name_one_of_several_tables(stocked, find) -> None:
    """An incident is about a tree, a lot or whatever it was; of an unknown number nobody says what it is."""
    incident = {"incident": "E1", "date": date(2026, 2, 3), "kind": "torn bags", "about": ("T1", "L1", "Q1")}
    (gap,) = find(stocked(incidents=[incident]), "reference-unknown")

    assert ("about", 2) == gap.field
    assert "Incident E1 names record Q1, and no record bears that number." == gap.message


def test_a_number_is_given_once_in_its_table(seasons, stocked, find) -> None:
    """Told at the second and every further one; the same number in another table is another."""
    trees = [seasons.tree("T1"), seasons.tree("T2"), seasons.tree("T1"), seasons.tree("T1")]
    bags = [seasons.bag("T1", "T1"), seasons.bag("B1", "T1")]
    (gap,) = find(stocked(trees=trees, bagging=bags), "identifier-repeated")

    assert ("trees", "T1", ("tree",), "unproven", 1) == (
        gap.table, gap.id, gap.field, gap.weight, len(gap.others),
    )  # fmt: skip
    assert 2 == gap.place.path[1]
    assert "3 trees bear the number T1." == gap.message


def test_explanations_bear_no_number(stocked, find) -> None:
    """Two of one rule may stand side by side, and name what they speak about."""
    words = {
        "rule": "bag-untagged",
        "about": ("B1",),
        "reason": "so",
        "by": "R. A.",
        "date": date(2026, 7, 1),
    }
    season = stocked(explanations=[words, {**words, "about": ("B9",)}])

    assert () == find(season, "identifier-repeated")
