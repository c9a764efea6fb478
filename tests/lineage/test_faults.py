from __future__ import annotations

import pytest

from certgen.lineage import Fault, Node, build_lineage
from certgen.lineage.faults import Touched
from certgen.records.joining.farm import join_seasons

L1, L2, X1, X2 = Node("lots", "L1"), Node("lots", "L2"), Node("batches", "X1"), Node("batches", "X2")


def touched(seasons, *faults):
    """What faults touch in a season of two trees; each has a batch, L1 is of both, and L2 of L1."""
    season = seasons.season_of(
        trees=[seasons.tree("T1"), seasons.tree("T2")],
        bagging=[seasons.bag("B1", "T1"), seasons.bag("B2", "T2")],
        harvests=[seasons.harvest("H1", ["B1"]), seasons.harvest("H2", ["B2"])],
        batches=[seasons.batch("X1", ["H1"]), seasons.batch("X2", ["H2"])],
        lots=[
            seasons.lot("L1", [{"batch": "X1", "weight": "30 g"}, {"batch": "X2", "weight": "10 g"}], 40),
            seasons.lot("L2", [{"lot": "L1", "weight": "20 g"}], 20),
        ],
    )
    return Touched(build_lineage(join_seasons(season)), faults)


@pytest.mark.parametrize(
    ("table", "name", "batches"),
    [("trees", "T1", {X1}), ("bagging", "B2", {X2}), ("batches", "X1", {X1}), ("trees", "T9", set())],
)
def test_a_fault_touches_the_batches_that_rest_on_its_record(seasons, table, name, batches):
    """A batch is one mixed quantity, so the fault is the batch's; lots take it over part by part."""
    found = touched(seasons, Fault("unproven", (Node(table, name),)))

    assert batches == set(found.batches)
    assert {} == found.lots


def test_a_fault_at_a_lot_touches_what_it_says(seasons):
    """Its own grams, the rest that no source accounts for, or the lot as a whole and no gram of it."""
    found = touched(
        seasons,
        Fault("unproven", (L1,)),
        Fault("unproven", (L1,), touches="rest"),
        Fault("unproven", (L1,), touches="whole"),
        Fault("rejects", (L2,), touches="mixed"),
        Fault("unproven", (L2,), touches="missing"),
    )

    assert ({L1: {0}}, {L1: {1}}, {L1: {2}}) == (found.lots, found.rests, found.whole)
    assert ({L2: {3}}, {L2: {4}}, {4}) == (found.came_in, found.missed, found.missing)


def test_a_whole_lot_is_meant_wherever_the_fault_stands(seasons):
    """Of a tree's fault about whole lots: each lot that its seed came to."""
    found = touched(seasons, Fault("unproven", (Node("trees", "T2"),), touches="whole"))

    assert {L1: {0}, L2: {0}} == found.whole
    assert {} == found.batches


@pytest.mark.parametrize("touches", ["own", "rest", "mixed", "missing", "whole"])
def test_faults_that_share_their_records_touch_what_each_alone_would(seasons, touches):
    """Where they stand is looked up once for all of them, and for others anew."""
    starts = (Node("trees", "T1"), Node("bagging", "B2"), L1, L2, Node("trees", "T9"))
    other = (Node("trees", "T2"), L2)
    shared = [Fault("unproven", starts, touches), Fault("rejects", other), Fault("rejects", starts, touches)]
    apart = [fault._replace(starts=(*fault.starts, L2)) for fault in shared]
    found, expected = touched(seasons, *shared), touched(seasons, *apart)

    for name in ("batches", "lots", "rests", "whole", "movements", "came_in", "missed", "missing"):
        assert getattr(expected, name) == getattr(found, name)


def test_advice_touches_nothing(seasons):
    """It changes no standing."""
    assert {} == touched(seasons, Fault("advice", (Node("trees", "T1"),))).batches
