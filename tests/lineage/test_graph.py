from __future__ import annotations

import pickle

from seasons import lineage_of

from certgen.lineage import CLAIM_KINDS, LINK_KINDS, Node


def two_generations(seasons):
    """Lot L1 of 2025 is sown as P1, whose tree gives lot L2 of 2026, into which L1 is blended too."""
    earlier = seasons.season_of(
        label="2025",
        batches=[seasons.batch("X0", [])],
        lots=[seasons.lot("L1", [{"batch": "X0", "weight": "8 g"}], 8)],
    )
    pool = {key: value for key, value in seasons.sample("S2", "").items() if key not in {"tree", "mark"}}
    pool["trees"] = ("T1", "T2")
    return seasons.season_of(
        blocks=[seasons.block()],
        plantings=[seasons.planting(origin={"lot": "L1"})],
        trees=[seasons.tree("T1"), seasons.tree("T2")],
        screening=[seasons.sample("S1", "T1"), pool],
        bagging=[seasons.bag("B1", "T1", pollen_parent="T2")],
        harvests=[seasons.harvest("H1", ["B1", "B9"], trees=("T2",))],
        batches=[seasons.batch("X1", ["H1"])],
        cleaning=[{"cleaning": "C1", "date": seasons.PICKED, "method": "water", "before": "X1"}],
        lots=[seasons.lot("L2", [{"batch": "X1", "weight": "6 g"}, {"lot": "L1", "weight": "2 g"}], 8)],
        tests=[seasons.germination("G1", "L2")],
        movements=[
            seasons.movement("M0", "L1", "opening stock", 8),
            seasons.movement("M1", "L2", "sown", 1, planting="P1"),
        ],
        previous=earlier,
    )


def links(lineage):
    """Every link in one short form."""
    return {
        (link.kind, link.source.id, link.target.id, lineage.season_of(link.source)) for link in lineage.links
    }


def test_every_kind_of_link_is_drawn(seasons):
    """What the records say, no more and no less; earlier lots are found in their own season."""
    assert {
        ("stands on", "East", "P1", ""),
        ("grown from", "L1", "P1", "2025"),
        ("planted", "P1", "T1", ""),
        ("planted", "P1", "T2", ""),
        ("screened", "S1", "T1", ""),
        ("screened", "S2", "T1", ""),
        ("screened", "S2", "T2", ""),
        ("bagged", "T1", "B1", ""),
        ("pollen", "T2", "B1", ""),
        ("picked", "B1", "H1", ""),
        ("picked", "B9", "H1", ""),
        ("picked", "T2", "H1", ""),
        ("processed", "H1", "X1", ""),
        ("cleaned for", "C1", "X1", ""),
        ("packed", "X1", "L2", ""),
        ("blended", "L1", "L2", "2025"),
        ("tested", "G1", "L2", ""),
        ("moved", "L1", "M0", "2025"),
        ("moved", "L2", "M1", ""),
        ("sown", "M1", "P1", ""),
        ("packed", "X0", "L1", "2025"),
    } == links(lineage_of(two_generations(seasons)))


def test_the_claim_ends_at_sowing_and_the_line_does_not(seasons):
    """Behind lot L2 stands its own generation; the whole line goes on through the lot that was sown."""
    lineage = lineage_of(two_generations(seasons))
    lot = Node("lots", "L2")

    assert Node("batches", "X0") in lineage.back(Node("trees", "T1"))
    assert Node("lots", "L1") not in lineage.claim_back(Node("trees", "T1"))
    assert {"T1", "T2"} == {node.id for node in lineage.seed_parents("L2")}
    assert {"T2"} == {node.id for node in lineage.pollen_parents("L2")}
    assert ("L2",) == lineage.lots_reached(Node("blocks", "East"))
    assert ("L2", "L1") == lineage.lots_reached(Node("lots", "L1"))
    assert ("L2",) == lineage.lots_reached(Node("movements", "M1"))
    assert ("L1",) == lineage.lots_reached(Node("movements", "M0"))
    assert lot == lineage.line_of_lot("L2")[0]


def test_a_number_without_a_record_is_a_missing_node(seasons):
    """Bag B9 is named by a picking and stands in no record: the line still leads to it."""
    lineage = lineage_of(two_generations(seasons))

    assert {Node("bagging", "B9")} == lineage.missing
    assert Node("bagging", "B9") in lineage.back(Node("lots", "L2"))
    assert () == lineage.back(Node("lots", "nowhere"))


def test_records_that_came_out_of_one_another_are_named_and_every_walk_ends(seasons):
    """The lot was sown as the planting that it grew from."""
    lineage = lineage_of(two_generations(seasons))
    circle = {node.id for group in lineage.cycles for node in group}

    assert {"P1", "T1", "L2", "M1"} <= circle
    assert Node("lots", "L2") not in lineage.back(Node("lots", "L2"))


def test_a_chain_of_seasons_that_bites_its_tail_ends(seasons):
    """Two seasons, each the other's previous, and of one label: both are read once and kept apart."""
    one = seasons.season_of(label="2026", lots=[seasons.lot("L1", [], 1)])
    other = seasons.season_of(label="2026", lots=[seasons.lot("L1", [], 1)])
    object.__setattr__(one, "previous", other)
    object.__setattr__(other, "previous", one)
    lineage = lineage_of(one)

    assert {Node("lots", "L1"), Node("lots", "L1")} == set(lineage.nodes)


def test_a_lineage_travels_to_another_process(seasons):
    """It is the same when it comes out of a pickle."""
    lineage = lineage_of(two_generations(seasons))
    again = pickle.loads(pickle.dumps(lineage))

    assert lineage.links == again.links
    assert lineage.missing == again.missing


def test_a_lot_is_looked_for_in_the_seasons_before_the_one_that_names_it(seasons):
    """Three seasons: the middle one's lot is found there; only what no earlier one has is a later one's."""
    oldest = seasons.season_of(
        label="2024", movements=[seasons.movement("M4", "L6", "sold", 1)], lots=[seasons.lot("L4", [], 8)]
    )
    middle = seasons.season_of(
        label="2025", lots=[seasons.lot("L5", [{"lot": "L4", "weight": "2 g"}], 8)], previous=oldest
    )
    season = seasons.season_of(
        lots=[seasons.lot("L6", [{"lot": "L5", "weight": "1 g"}, {"lot": "L4", "weight": "1 g"}], 8)],
        previous=middle,
    )
    lineage = lineage_of(season)

    assert [Node("lots", "L5"), Node("lots", "L4")] == [
        link.source for link in lineage.sources(Node("lots", "L6"))
    ]
    assert [Node("lots", "L4")] == [link.source for link in lineage.sources(Node("lots", "L5"))]
    (sold,) = lineage.sources(Node("movements", "M4"))
    assert Node("lots", "L6") == sold.source


def test_straight_into_and_out_of_a_record(seasons):
    """Bag B1 came off T1 with pollen of T2 and was picked; a number that nobody knows has neither."""
    lineage = lineage_of(two_generations(seasons))
    bag, nowhere = Node("bagging", "B1"), Node("bagging", "nowhere")

    assert {"T1", "T2"} == {link.source.id for link in lineage.sources(bag)}
    assert ["H1"] == [link.target.id for link in lineage.uses(bag)]
    assert ((), ()) == (lineage.sources(nowhere), lineage.uses(nowhere))


def test_the_claim_rests_on_every_link_but_three():
    """Seed that was sown starts a claim of its own, and what was moved is gone."""
    assert {"grown from", "sown", "moved"} == set(LINK_KINDS) - CLAIM_KINDS
    assert set(LINK_KINDS) > CLAIM_KINDS


def test_the_line_either_way_nearest_first(seasons):
    """From the batch back to the block and on to the lot; the claim ends at the door, the line does not."""
    lineage = lineage_of(two_generations(seasons))
    batch = Node("batches", "X1")

    assert ["H1", "C1"] == [node.id for node in lineage.claim_back(batch)[:2]]
    assert {"H1", "C1", "B1", "B9", "T2", "T1", "S2", "S1", "P1", "East"} == {
        node.id for node in lineage.claim_back(batch)
    }
    assert (Node("lots", "L2"),) == lineage.claim_forward(batch)
    assert ("L2", "M1", "P1") == tuple(node.id for node in lineage.forward(batch))[:3]
    assert (Node("lots", "L2"), *lineage.claim_back(Node("lots", "L2"))) == lineage.line_of_lot("L2")
    for walked in (lineage.forward, lineage.claim_forward, lineage.claim_back):
        assert () == walked(Node("lots", "nowhere"))


def test_what_is_known_and_what_is_behind_the_lots(seasons):
    """All of this season's line; a movement, a later planting's seed and an unused tree are behind none."""
    season = two_generations(seasons)
    lineage = lineage_of(season)
    behind = {node for node in lineage.nodes if node.id in lineage.behind_lots(node.table)}

    assert {Node("lots", "L2"), Node("trees", "T1"), Node("tests", "G1"), Node("bagging", "B9"),
            Node("lots", "L1"), Node("batches", "X0")} <= behind  # fmt: skip
    assert {"movements"} == {node.table for node in lineage.nodes if node not in behind}
    assert Node("trees", "T1") in lineage
    assert Node("trees", "T9") not in lineage


def test_a_lot_that_is_missing_has_nothing_behind_it(seasons):
    """It has no record, so nothing rests on it as on a lot; an earlier season's lots are lots like others."""
    earlier = seasons.season_of(
        label="2025",
        batches=[seasons.batch("X0", [])],
        lots=[seasons.lot("K1", [{"batch": "X0", "weight": "8 g"}], 8)],
    )
    season = seasons.season_of(
        tests=[seasons.germination("G1", "L9")],
        movements=[seasons.movement("M1", "L9", "sold", 1)],
        previous=earlier,
    )
    lineage = lineage_of(season)

    behind = {node.id for node in lineage.nodes if node.id in lineage.behind_lots(node.table)}

    assert {"K1", "X0"} == behind
    assert ((), ("K1",)) == (
        lineage.lots_reached(Node("tests", "G1")), lineage.lots_reached(Node("batches", "X0")),
    )  # fmt: skip
    assert ("L9",) == lineage.lots_reached(Node("movements", "M1"))
    assert () == lineage.line_of_lot("nowhere")


def test_lots_are_reached_in_the_order_of_the_records(seasons):
    """Each once, from however many records; a record that nobody knows reaches none."""
    season = seasons.season_of(
        batches=[seasons.batch("X1", []), seasons.batch("X2", [])],
        lots=[
            seasons.lot("L3", [{"lot": "L1", "weight": "1 g"}], 1),
            seasons.lot("L1", [{"batch": "X1", "weight": "2 g"}], 2),
            seasons.lot("L2", [{"batch": "X1", "weight": "1 g"}, {"batch": "X2", "weight": "1 g"}], 2),
        ],
    )
    lineage = lineage_of(season)
    one, other, nowhere = (Node("batches", name) for name in ("X1", "X2", "X9"))

    assert ("L3", "L1", "L2") == lineage.lots_reached(one) == lineage.lots_reached(one)
    assert ("L3", "L1", "L2") == lineage.lots_of([other, one, nowhere])
    assert ("L3", "L1") == lineage.lots_of([Node("lots", "L1"), Node("lots", "L3")])
    assert ((), ()) == (lineage.lots_reached(nowhere), lineage.lots_of([]))
    assert ("L3", "L1") == lineage.lots_reached(Node("lots", "L1"))


def test_two_movements_of_one_number_reach_their_lot_once(seasons):
    """The gap that tells of the number names each lot in the order of the movements, and none twice."""
    moves = [seasons.movement("M1", of, "sold", 1) for of in ("L2", "L1", "L2")]
    lots = [seasons.lot(name, [], 8) for name in ("L1", "L2")]
    lineage = lineage_of(seasons.season_of(lots=lots, movements=moves))
    both = Node("movements", "M1")

    assert ("L2", "L1") == lineage.lots_reached(both) == lineage.lots_of([both])


def test_parents_are_told_by_what_they_gave(seasons):
    """A tree that fruit was picked of bore seed; a tree that was only sampled, or gave pollen, did not."""
    season = seasons.season_of(
        trees=[seasons.tree(f"T{number}") for number in range(1, 5)],
        screening=[seasons.sample("S1", "T4")],
        bagging=[seasons.bag("B1", "T1", pollen_parent="T2"), seasons.bag("B2", "T4", pollen_parent="T4")],
        harvests=[seasons.harvest("H1", ["B1"], trees=("T3",))],
        batches=[seasons.batch("X1", ["H1"])],
        lots=[seasons.lot("L1", [{"batch": "X1", "weight": "1 g"}], 1)],
    )
    lineage = lineage_of(season)

    assert ["T3", "T1"] == [node.id for node in lineage.seed_parents("L1")]
    assert ["T2"] == [node.id for node in lineage.pollen_parents("L1")]
    assert ((), ()) == (lineage.seed_parents("L9"), lineage.pollen_parents("L9"))


def test_no_circle_no_group(seasons):
    """Sound records come out of nothing that came out of them."""
    season = seasons.season_of(
        batches=[seasons.batch("X1", [])], lots=[seasons.lot("L1", [{"batch": "X1", "weight": "1 g"}], 1)]
    )
    circle = seasons.season_of(
        lots=[
            seasons.lot("L2", [{"lot": "L1", "weight": "1 g"}], 1),
            seasons.lot("L1", [{"lot": "L2", "weight": "1 g"}], 1),
            seasons.lot("L3", [{"lot": "L1", "weight": "1 g"}], 1),
        ]
    )

    assert () == lineage_of(season).cycles
    assert ((Node("lots", "L2"), Node("lots", "L1")),) == lineage_of(circle).cycles


def test_what_rests_on_several_records_is_told_once(seasons):
    """One of them, too, where it rests on another; itself doesn't make it so."""
    season = seasons.season_of(
        batches=[seasons.batch("X1", []), seasons.batch("X2", [])],
        lots=[
            seasons.lot("L1", [{"batch": "X1", "weight": "2 g"}], 2),
            seasons.lot("L2", [{"lot": "L1", "weight": "1 g"}, {"batch": "X2", "weight": "1 g"}], 2),
        ],
    )
    lineage = lineage_of(season)
    one, other, lot = Node("batches", "X1"), Node("batches", "X2"), Node("lots", "L1")

    assert {"L1", "L2"} == {node.id for node in lineage.claim_forward_of([one, other])}
    assert {"L1", "L2"} == {node.id for node in lineage.claim_forward_of([one, lot])}
    assert lineage.claim_forward(one) == lineage.claim_forward_of([one])
    assert () == lineage.claim_forward_of([Node("batches", "X9")])
    assert frozenset({"X1", "X2"}) == lineage.behind_lots("batches")
