"""What the links are built from: labels, numbers, weights and what is absent."""

from __future__ import annotations

import pytest
from seasons import blank, lineage_of

from certgen.lineage import Link, Node


def test_a_number_is_one_node_however_often_it_is_written(seasons):
    """Two records of one number are one; the nodes stand in the order of the tables, own ones first."""
    earlier = seasons.season_of(label="2025", blocks=[seasons.block("West")])
    season = seasons.season_of(
        lots=[seasons.lot("L1", [], 1), seasons.lot("L2", [], 1), seasons.lot("L1", [], 2)],
        blocks=[seasons.block()],
        previous=earlier,
    )
    lineage = lineage_of(season)

    assert (
        Node("blocks", "East"), Node("blocks", "West"), Node("lots", "L1"), Node("lots", "L2"),
    ) == lineage.nodes  # fmt: skip
    assert ["", "2025", "", ""] == [lineage.season_of(node) for node in lineage.nodes]
    assert frozenset() == lineage.missing


def test_weights_go_along_in_milligrams(seasons):
    """Of what was packed, blended and moved; no other link weighs anything."""
    season = seasons.season_of(
        batches=[seasons.batch("X1", ["H1"])],
        lots=[
            seasons.lot("L1", [{"batch": "X1", "weight": "6.5 g"}], 7),
            seasons.lot("L2", [{"lot": "L1", "weight": "2 g"}, {"batch": "X1", "weight": "0 g"}], 2),
        ],
        movements=[seasons.movement("M1", "L2", "sold", 1)],
    )
    x1, l1, l2 = Node("batches", "X1"), Node("lots", "L1"), Node("lots", "L2")

    assert (
        Link(Node("harvests", "H1"), x1, "processed"),
        Link(x1, l1, "packed", 6500),
        Link(l1, l2, "blended", 2000),
        Link(x1, l2, "packed", 0),
        Link(l2, Node("movements", "M1"), "moved", 1000),
    ) == lineage_of(season).links


def test_a_movement_without_a_weight_is_a_link_all_the_same(seasons):
    """How much went is unknown, whence it went is not."""
    season = seasons.season_of(
        lots=[seasons.lot("L1", [], 8)],
        movements=[seasons.movement("M1", "L1", "sold", 3), seasons.movement("M2", "L1", "sold", 2)],
    )
    lineage = lineage_of(blank(season, "movements", "weight_mg"))

    assert [None, 2000] == [link.weight_mg for link in lineage.links]


@pytest.mark.parametrize("column", ["movement", "lot"])
def test_a_movement_without_its_number_or_lot_links_nothing(seasons, column):
    """The other one stands."""
    season = seasons.season_of(
        lots=[seasons.lot("L1", [], 8)],
        movements=[seasons.movement("M1", "L1", "sold", 3), seasons.movement("M2", "L1", "sold", 2)],
    )

    assert ["M2"] == [link.target.id for link in lineage_of(blank(season, "movements", column)).links]


@pytest.mark.parametrize("column", ["tree", "planting"])
def test_a_link_needs_both_its_ends(seasons, column):
    """A tree whose number or planting is not known hangs on nothing."""
    season = seasons.season_of(
        blocks=[seasons.block()], plantings=[seasons.planting()],
        trees=[seasons.tree("T1"), seasons.tree("T2")],
    )  # fmt: skip

    assert [("stands on", "P1"), ("planted", "T2")] == [
        (link.kind, link.target.id) for link in lineage_of(blank(season, "trees", column)).links
    ]


def test_opening_stock_and_sales_are_of_the_seasons_own_lot_first(seasons):
    """Where both have the number; one that only an earlier season has is that one."""
    earlier = seasons.season_of(
        label="2025", lots=[seasons.lot("L1", [], 8, packed="2025-08-01"), seasons.lot("K1", [], 8)]
    )
    season = seasons.season_of(
        lots=[seasons.lot("L1", [], 8)],
        movements=[
            seasons.movement("M1", "L1", "opening stock", 3),
            seasons.movement("M2", "L1", "sold", 3),
            seasons.movement("M3", "K1", "opening stock", 3),
        ],
        previous=earlier,
    )
    lineage = lineage_of(season)

    assert ["L1", "L1", "K1"] == [link.source.id for link in lineage.links]
    assert ["", "", "2025"] == [lineage.season_of(link.source) for link in lineage.links]
    assert "2025" == lineage.season_of(Node("lots", "L1 (2025)"))


def test_a_number_that_no_record_bears_is_one_missing_node(seasons):
    """However often it is named, in whichever season: nobody can tell it apart."""
    earlier = seasons.season_of(label="2025", movements=[seasons.movement("M0", "L9", "sold", 1)])
    season = seasons.season_of(
        lots=[seasons.lot("L1", [{"lot": "L9", "weight": "1 g"}, {"batch": "X9", "weight": "1 g"}], 2)],
        movements=[
            seasons.movement("M1", "L9", "opening stock", 1), seasons.movement("M2", "L9", "sold", 1),
        ],
        previous=earlier,
    )  # fmt: skip
    lineage = lineage_of(season)

    assert {Node("lots", "L9"), Node("batches", "X9")} == lineage.missing
    assert {"L1", "M0", "M1", "M2"} == {link.target.id for link in lineage.uses(Node("lots", "L9"))}
    assert "" == lineage.season_of(Node("lots", "L9"))


def test_every_record_is_looked_for_in_earlier_seasons_and_then_in_later_ones(seasons):
    """A tree of last season's register is this one's; a bag of last season may be picked in this one."""
    earlier = seasons.season_of(
        label="2025", trees=[seasons.tree("T1")], bagging=[seasons.bag("B1", "T1")],
        harvests=[seasons.harvest("H0", ["B2"])],
    )  # fmt: skip
    season = seasons.season_of(
        bagging=[seasons.bag("B2", "T1")], harvests=[seasons.harvest("H1", ["B1"])], previous=earlier
    )
    lineage = lineage_of(season)

    assert {Node("plantings", "P1")} == lineage.missing
    assert [("T1", "B2"), ("T1", "B1"), ("B1", "H1"), ("B2", "H0")] == [
        (link.source.id, link.target.id) for link in lineage.links if link.kind in {"bagged", "picked"}
    ]


def test_every_table_gives_its_nodes_and_materials_are_applied_to_blocks(seasons):
    """Screening, incidents and inputs, too; a cleaning stands before the batch it was for."""
    season = seasons.season_of(
        blocks=[seasons.block()],
        inputs=[{"input": "I1", "date": seasons.PICKED, "block": "East", "material": "compost"}],
        screening=[seasons.sample("S1", "T1")],
        trees=[seasons.tree("T1")],
        plantings=[seasons.planting()],
    )
    lineage = lineage_of(season)

    assert {("I1", "East", "applied"), ("S1", "T1", "screened"), ("East", "P1", "stands on"),
            ("P1", "T1", "planted")} == {
        (link.source.id, link.target.id, link.kind) for link in lineage.links
    }  # fmt: skip
    assert {"blocks", "plantings", "trees", "screening", "inputs"} == {node.table for node in lineage.nodes}
