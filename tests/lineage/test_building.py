"""What the links are built from: labels, numbers, weights and what is absent."""

from __future__ import annotations

from dataclasses import replace

import pytest

from certgen.lineage import Link, Node, build_lineage
from certgen.lineage.building import seasons_of


def blank(season, table, column, row=0):
    """The season with one value unknown: no file reads so, as the reader leaves such records out."""
    frame = season.table(table)
    return season.with_tables({table: frame.assign(**{column: frame[column].mask(frame.index == row)})})


def unnamed(season):
    """The season without a label."""
    return replace(season, details=replace(season.details, label=""))


def test_seasons_are_told_apart_by_label(seasons):
    """Those of one label are counted from two, without a label it is the earlier one, this one needs none."""
    at = None
    for label in ("2025", "2024", "2025", "2025"):
        at = seasons.season_of(label=label, previous=at)
    chain = list(seasons_of(unnamed(seasons.season_of(previous=unnamed(replace(at, previous=at))))))

    assert ["", "earlier", "2025", "2025 (2)", "2024", "2025 (3)"] == [label for label, _ in chain]
    assert ["2025", "2025", "2024", "2025"] == [season.details.label for _, season in chain[2:]]


def test_seasons_without_labels_are_counted_too(seasons):
    """The earlier one, and the one before it."""
    oldest = unnamed(seasons.season_of())
    chain = seasons_of(seasons.season_of(previous=unnamed(seasons.season_of(previous=oldest))))

    assert ["", "earlier", "earlier (2)"] == [label for label, _ in chain]


def test_a_number_is_one_node_however_often_it_is_written(seasons):
    """Two records of one number are one; the nodes stand in the order of the tables, then of the seasons."""
    earlier = seasons.season_of(label="2025", blocks=[seasons.block("West")])
    season = seasons.season_of(
        lots=[seasons.lot("L1", [], 1), seasons.lot("L2", [], 1), seasons.lot("L1", [], 2)],
        blocks=[seasons.block()],
        previous=earlier,
    )
    lineage = build_lineage(season)

    assert (
        Node("blocks", "East"), Node("lots", "L1"), Node("lots", "L2"), Node("blocks", "West", "2025"),
    ) == lineage.nodes  # fmt: skip
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
    ) == build_lineage(season).links


def test_a_movement_without_a_weight_is_a_link_all_the_same(seasons):
    """How much went is unknown, whence it went is not."""
    season = seasons.season_of(
        lots=[seasons.lot("L1", [], 8)],
        movements=[seasons.movement("M1", "L1", "sold", 3), seasons.movement("M2", "L1", "sold", 2)],
    )

    assert [None, 2000] == [
        link.weight_mg for link in build_lineage(blank(season, "movements", "weight_mg")).links
    ]


@pytest.mark.parametrize("column", ["movement", "lot"])
def test_a_movement_without_its_number_or_lot_links_nothing(seasons, column):
    """The other one stands."""
    season = seasons.season_of(
        lots=[seasons.lot("L1", [], 8)],
        movements=[seasons.movement("M1", "L1", "sold", 3), seasons.movement("M2", "L1", "sold", 2)],
    )

    assert ["M2"] == [link.target.id for link in build_lineage(blank(season, "movements", column)).links]


@pytest.mark.parametrize("column", ["tree", "planting"])
def test_a_link_needs_both_its_ends(seasons, column):
    """A tree whose number or planting is not known hangs on nothing."""
    season = seasons.season_of(
        blocks=[seasons.block()], plantings=[seasons.planting()],
        trees=[seasons.tree("T1"), seasons.tree("T2")],
    )  # fmt: skip

    assert [("stands on", "P1"), ("planted", "T2")] == [
        (link.kind, link.target.id) for link in build_lineage(blank(season, "trees", column)).links
    ]


def test_opening_stock_is_an_earlier_lot_and_a_sale_this_seasons(seasons):
    """Where both have the number; without an earlier one the opening stock is this season's."""
    earlier = seasons.season_of(label="2025", lots=[seasons.lot("L1", [], 8)])
    season = seasons.season_of(
        lots=[seasons.lot("L1", [], 8), seasons.lot("L2", [], 8)],
        movements=[
            seasons.movement("M1", "L1", "opening stock", 3),
            seasons.movement("M2", "L1", "sold", 3),
            seasons.movement("M3", "L2", "opening stock", 3),
        ],
        previous=earlier,
    )

    assert [("L1", "2025"), ("L1", ""), ("L2", "")] == [
        link.source[1:] for link in build_lineage(season).links
    ]


def test_a_number_that_no_record_bears_is_one_missing_node(seasons):
    """Named three times, in the season that names it; an earlier season's of the same number is another."""
    earlier = seasons.season_of(label="2025", movements=[seasons.movement("M0", "L9", "sold", 1)])
    season = seasons.season_of(
        lots=[seasons.lot("L1", [{"lot": "L9", "weight": "1 g"}, {"batch": "X9", "weight": "1 g"}], 2)],
        movements=[
            seasons.movement("M1", "L9", "opening stock", 1), seasons.movement("M2", "L9", "sold", 1),
        ],
        previous=earlier,
    )  # fmt: skip
    lineage = build_lineage(season)

    assert {Node("lots", "L9"), Node("batches", "X9"), Node("lots", "L9", "2025")} == lineage.missing
    assert {"L1", "M1", "M2"} == {link.target.id for link in lineage.uses(Node("lots", "L9"))}
    assert {"M0"} == {link.target.id for link in lineage.uses(Node("lots", "L9", "2025"))}


def test_only_lots_are_looked_for_in_earlier_seasons(seasons):
    """A tree of last season's number is not this season's, who must have planted it anew."""
    earlier = seasons.season_of(label="2025", trees=[seasons.tree("T1")])
    season = seasons.season_of(bagging=[seasons.bag("B1", "T1")], previous=earlier)

    assert {Node("trees", "T1"), Node("plantings", "P1", "2025")} == build_lineage(season).missing


def test_every_table_gives_its_nodes_and_materials_are_applied_to_blocks(seasons):
    """Screening, incidents and inputs, too; a cleaning stands before the batch it was for."""
    season = seasons.season_of(
        blocks=[seasons.block()],
        inputs=[{"input": "I1", "date": seasons.PICKED, "block": "East", "material": "compost"}],
        screening=[seasons.sample("S1", "T1")],
        trees=[seasons.tree("T1")],
        plantings=[seasons.planting()],
    )
    lineage = build_lineage(season)

    assert {("I1", "East", "applied"), ("S1", "T1", "screened"), ("East", "P1", "stands on"),
            ("P1", "T1", "planted")} == {
        (link.source.id, link.target.id, link.kind) for link in lineage.links
    }  # fmt: skip
    assert {"blocks", "plantings", "trees", "screening", "inputs"} == {node.table for node in lineage.nodes}
