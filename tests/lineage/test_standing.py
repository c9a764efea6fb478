from __future__ import annotations

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from certgen.lineage import Fault, LotStanding, Node, build_lineage, judge_lots


def stock(seasons, sources=None, moves=()):
    """Batches X1 (tree T1) and X2 (tree T2), packed together as L1; half of L1 is blended into L2 with X2."""
    sources = sources or [{"batch": "X1", "weight": "30 g"}, {"batch": "X2", "weight": "10 g"}]
    return seasons.season_of(
        trees=[seasons.tree("T1"), seasons.tree("T2")],
        bagging=[seasons.bag("B1", "T1"), seasons.bag("B2", "T2")],
        harvests=[seasons.harvest("H1", ["B1"]), seasons.harvest("H2", ["B2"])],
        batches=[seasons.batch("X1", ["H1"]), seasons.batch("X2", ["H2"])],
        lots=[
            seasons.lot("L1", sources, 40),
            seasons.lot("L2", [{"lot": "L1", "weight": "20 g"}, {"batch": "X2", "weight": "5 g"}], 25),
        ],
        movements=list(moves),
    )


def judged(season, *faults, earlier=None):
    """(traced, unproven, rejected) grams of each lot, and its standing."""
    standings = judge_lots(season, build_lineage(season), faults, earlier).judge()
    return {
        lot: (one.standing, one.traced_mg // 1000, one.unproven_mg // 1000, one.rejected_mg // 1000)
        for lot, one in standings.items()
    }


def at(table, identifier, weight="unproven", **more):
    """A fault at one record."""
    return Fault(weight, (Node(table, identifier),), **more)


def test_without_faults_everything_is_traced(seasons):
    """Every gram of every lot."""
    assert {"L1": ("traced", 40, 0, 0), "L2": ("traced", 25, 0, 0)} == judged(stock(seasons))


def test_a_batch_takes_the_worst_of_its_line_and_a_lot_takes_each_part(seasons):
    """Ten grams of L1 came from the tree; a blended lot hands it on pro rata."""
    fault = at("trees", "T2")

    assert {"L1": ("unproven", 30, 10, 0), "L2": ("unproven", 15, 10, 0)} == judged(stock(seasons), fault)


def test_a_rejection_outweighs_what_is_unproven_and_advice_counts_for_nothing(seasons):
    """Three faults on one line."""
    faults = [at("trees", "T2"), at("bagging", "B2", "rejects"), at("trees", "T1", "advice")]

    assert {"L1": ("rejected", 30, 0, 10), "L2": ("rejected", 15, 0, 10)} == judged(stock(seasons), *faults)


def test_a_lots_own_fault_touches_all_its_grams_and_is_handed_on(seasons):
    """A test speaks about its lot as a whole."""
    assert ("unproven", 0, 40, 0) == judged(stock(seasons), at("lots", "L1"))["L1"]
    assert ("unproven", 5, 20, 0) == judged(stock(seasons), at("lots", "L1"))["L2"]


def test_grams_that_no_source_accounts_for_are_unproven(seasons):
    """The sources weigh less than the lot."""
    season = stock(seasons, [{"batch": "X1", "weight": "30 g"}])

    assert ("unproven", 30, 10, 0) == judged(season)["L1"]
    rest = at("lots", "L1", only_rest=True)
    standings = judge_lots(season, build_lineage(season), [rest])
    assert 30_000 == standings.judge()["L1"].traced_mg
    assert 40_000 == standings.judge({0})["L1"].traced_mg


def test_sources_that_weigh_more_than_the_lot_are_scaled(seasons):
    """Sixty grams of sources in a lot of forty: each gives two thirds."""
    season = stock(seasons, [{"batch": "X1", "weight": "45 g"}, {"batch": "X2", "weight": "15 g"}])

    assert ("unproven", 30, 10, 0) == judged(season, at("trees", "T2"))["L1"]


def test_a_movements_fault_touches_its_own_grams_out_of_the_traced_ones(seasons):
    """It is not handed on: those grams went elsewhere."""
    season = stock(seasons, moves=[seasons.movement("M1", "L1", "sold", 8)])

    assert {"L1": ("unproven", 32, 8, 0), "L2": ("traced", 25, 0, 0)} == judged(season, at("movements", "M1"))
    assert ("unproven", 22, 18, 0) == judged(season, at("movements", "M1"), at("trees", "T2"))["L1"]


def test_an_earlier_lot_hands_on_the_standing_it_has_there(seasons):
    """Without a standing of its own season it is unproven."""
    earlier = seasons.season_of(label="2025", lots=[seasons.lot("K1", [], 10)])
    season = replace(
        seasons.season_of(lots=[seasons.lot("L1", [{"lot": "K1", "weight": "4 g"}], 4)]), previous=earlier
    )
    known = {Node("lots", "K1", "2025"): LotStanding("K1", "", "rejected", 10_000, 5_000, 0, 5_000)}

    assert {"L1": ("rejected", 2, 0, 2)} == judged(season, earlier=known)
    assert {"L1": ("unproven", 0, 4, 0)} == judged(season)


def test_lots_that_are_blended_in_a_circle_prove_nothing(seasons):
    """Each says it came out of the other."""
    season = seasons.season_of(
        lots=[
            seasons.lot("L1", [{"lot": "L2", "weight": "4 g"}], 4),
            seasons.lot("L2", [{"lot": "L1", "weight": "4 g"}], 4),
        ]
    )

    assert {"L1": ("unproven", 0, 4, 0), "L2": ("unproven", 0, 4, 0)} == judged(season)


@settings(max_examples=40)
@given(data=st.data())
def test_mass_is_conserved_and_mending_never_makes_it_worse(data, seasons):
    """Whatever the faults: the three standings add up to the weight, and mending only adds traced grams."""
    season = _some_stock(seasons)
    lineage = build_lineage(season)
    node = st.sampled_from([node for node in lineage.nodes if node.table != "inputs"])
    fault = st.builds(
        Fault,
        st.sampled_from(["rejects", "unproven", "advice"]),
        st.lists(node, min_size=1, max_size=3).map(tuple),
    )
    faults = data.draw(st.lists(fault, max_size=6))
    standings = judge_lots(season, lineage, faults)
    mended = data.draw(st.sets(st.integers(0, 5)))
    before, after = standings.judge(), standings.judge(mended)

    for lot, one in after.items():
        assert one.weight_mg == one.traced_mg + one.unproven_mg + one.rejected_mg
        assert one.weight_mg == sum(part.weight_mg for part in one.parts)
        assert before[lot].traced_mg <= one.traced_mg


_STOCK = {}


def _some_stock(seasons):
    if not _STOCK:
        moves = [seasons.movement("M1", "L1", "sold", 8), seasons.movement("M2", "L2", "sold", 3)]
        _STOCK["season"] = stock(
            seasons, [{"batch": "X1", "weight": "23 g"}, {"batch": "X2", "weight": "7 g"}], moves
        )
    return _STOCK["season"]


def test_a_movement_of_no_known_weight_touches_no_grams(seasons):
    """How much went is unknown: it is told, and takes nothing off the traced grams."""
    season = stock(seasons, moves=[seasons.movement("M1", "L1", "sold", 8)])
    frame = season.table("movements")
    season = season.with_tables(
        {"movements": frame.assign(weight_mg=frame["weight_mg"].mask(frame.index == 0))}
    )

    assert ("traced", 40, 0, 0) == judged(season, at("movements", "M1"))["L1"]
