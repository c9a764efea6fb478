"""The matrix of a lot: every parent, bag and picking behind it, and what is open at each."""

from __future__ import annotations

from datetime import date

import pytest
import seasons as built
from hypothesis import given, settings

from certgen.dossier.trace_matrix import Matrices, Open, tell_verdicts
from certgen.examination import examine, examine_season
from certgen.lineage import Node

ON = date(2026, 11, 25)


def matrix_of(result, lot):
    """The matrix of one lot."""
    return Matrices(result, tell_verdicts(result)).of_lot(lot)


@pytest.fixture(scope="module")
def example(example_season):
    """The example season, examined."""
    return examine(example_season, ON)


def test_a_fault_stands_where_it_begins(example):
    """The torn bag is open and its tree is not; the missing letter is open at the tree, not at its bags."""
    parents = {parent.tree: parent for parent in matrix_of(example, "RC-26-2").parents}

    assert Open("rejected", (4,)) == parents["T-203"].bags["H26-06"][0].open
    assert Open() == parents["T-203"].open
    assert Open("unproven", (8,)) == parents["T-104"].open
    assert {Open()} == {bag.open for bag in parents["T-104"].all_bags}
    assert {"T-104", "T-203"} == {tree for tree, parent in parents.items() if not parent.is_clean}
    assert ["clean", "failed"] == sorted({bag.open.word for bag in matrix_of(example, "RC-26-2").bags})


def test_every_bag_and_picking_of_the_line_is_in_it(example):
    """What the lineage knows behind a lot, the matrix shows, blended lots' fruit too."""
    for lot in example.lots:
        line = example.lineage.line_of_lot(lot)
        matrix = matrix_of(example, lot)
        assert {node.id for node in line if node.table == "bagging"} == {bag.bag for bag in matrix.bags}
        assert {node.id for node in line if node.table == "harvests"} == {
            picking.harvest for picking in matrix.pickings
        }
        assert {node.id for node in example.lineage.seed_parents(lot)} == {
            parent.tree for parent in matrix.parents
        }


def test_what_is_open_at_the_ground_is_told_once():
    """A planting that lacks something is named with its gap, and its trees and bags are what they are."""
    planting = built.planting(origin={"lot": "L-unheard-of"})
    matrix = matrix_of(built.examine_line(ON, plantings=[planting]), "L1")
    ((node, found),) = matrix.ground

    assert Node("plantings", "P1") == node
    assert "unproven" == found.standing
    assert found.numbers
    assert matrix.parents[0].is_clean


def test_advice_opens_nothing(example):
    """A torn bag whose fruit nobody picked is advice; it leaves no seed in doubt."""
    assert ("B26-051", "advice") == (example.gap(2).id, example.gap(2).weight)
    assert Open() == Matrices(example, {}).find_open([Node("bagging", "B26-051")])


def test_fruit_without_a_bag_is_loose():
    """Fruit that a picking names by its tree alone is no bag's; by both it is the bag's."""
    both = matrix_of(
        built.examine_line(ON, harvests=[built.harvest("H1", ["B1"], trees=("T1",))]), "L1"
    ).parents
    alone = matrix_of(
        built.examine_line(ON, harvests=[built.harvest("H1", [], trees=("T1",), fruits=1)]), "L1"
    ).parents

    assert [frozenset()] == [parent.loose for parent in both]
    assert [frozenset({"H1"})] == [parent.loose for parent in alone]
    assert not alone[0].is_clean


def test_a_bag_that_nobody_recorded_has_a_row_without_a_tree():
    """A picking's bag that the log lacks is shown, with no tree."""
    parents = matrix_of(built.examine_line(ON, harvests=[built.harvest("H1", ["B1", "B9"])]), "L1").parents

    assert [("", ("B9", False)), ("T1", ("B1", True))] == sorted(
        (parent.tree, (bag.bag, bag.known)) for parent in parents for bag in parent.all_bags
    )


@settings(max_examples=15)
@given(built.clean_seasons())
def test_a_clean_season_is_clean_in_every_cell(season):
    """Nothing is open at any parent, bag or picking of a lot against which nothing speaks."""
    result = examine_season(season, ON)
    for lot in result.lots:
        matrix = matrix_of(result, lot)
        assert all(parent.is_clean for parent in matrix.parents)
        assert {Open()} >= {picking.open for picking in matrix.pickings}
