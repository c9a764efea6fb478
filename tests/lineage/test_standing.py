from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from certgen.lineage import Fault, LotStanding, Node, Part, build_lineage, judge_lots


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


def blank(season, table, column, row=0):
    """The season with one value unknown: no file reads so, as the reader leaves such records out."""
    frame = season.table(table)
    return season.with_tables({table: frame.assign(**{column: frame[column].mask(frame.index == row)})})


def apart(season, *faults, earlier=None):
    """The season's lots taken apart."""
    return judge_lots(season, build_lineage(season), faults, earlier)


def test_the_parts_of_a_lot_are_its_sources_and_what_they_leave(seasons):
    """As they are written; a lot that is wholly accounted for has no other part."""
    rest = stock(seasons, [{"batch": "X1", "weight": "30 g"}])
    faults = [at("trees", "T1", "rejects")]
    x1, x2, l1 = Node("batches", "X1"), Node("batches", "X2"), Node("lots", "L1")

    assert (Part(x1, 30_000, 0, 0, 30_000), Part(x2, 10_000, 10_000, 0, 0)) == (
        apart(stock(seasons), *faults).judge()["L1"].parts
    )
    assert (Part(x1, 30_000, 0, 0, 30_000), Part(None, 10_000, 0, 10_000, 0)) == (
        apart(rest, *faults).judge()["L1"].parts
    )
    assert (Part(l1, 20_000, 0, 5_000, 15_000), Part(x2, 5_000, 5_000, 0, 0)) == (
        apart(rest, *faults).judge()["L2"].parts
    )


def test_a_lot_says_what_it_is(seasons):
    """Its number, variety and weight go along, in the order of the records."""
    standings = apart(stock(seasons))

    assert [("L1", "Amber Kestrel", 40_000), ("L2", "Amber Kestrel", 25_000)] == [
        (one.lot, one.variety, one.weight_mg) for one in standings.judge().values()
    ]
    assert "" == apart(blank(stock(seasons), "lots", "variety")).judge()["L1"].variety


def test_of_two_lots_with_one_number_the_first_is_meant(seasons):
    """Its weight, though both name sources; one without a number is none."""
    lots = [seasons.lot("L1", [], 5), seasons.lot("L1", [], 9), seasons.lot("L2", [], 3)]
    season = seasons.season_of(lots=lots)

    assert {"L1": 5_000, "L2": 3_000} == {lot: one.weight_mg for lot, one in apart(season).judge().items()}
    assert {"L1"} == apart(blank(season, "lots", "lot", 2)).lots.keys()


def test_a_lot_of_no_known_weight_has_no_grams(seasons):
    """And hands on nothing that could be proved."""
    judged_lots = apart(blank(stock(seasons), "lots", "weight_mg")).judge()

    assert (0, 0, 0, 0) == (
        judged_lots["L1"].weight_mg, judged_lots["L1"].traced_mg, judged_lots["L1"].unproven_mg,
        judged_lots["L1"].rejected_mg,
    )  # fmt: skip
    assert (5_000, 20_000) == (judged_lots["L2"].traced_mg, judged_lots["L2"].unproven_mg)


def test_a_source_of_no_known_weight_gave_nothing(seasons):
    """The lot's other grams are accounted for by nobody."""
    season = stock(seasons, [{"batch": "X1", "weight": "30 g"}, {"batch": "X2", "weight": "10 g"}])
    frame = season.table("lots")
    sources = frame["sources"].tolist()
    sources[0] = ({"batch": "X1"}, *sources[0][1:])
    season = season.with_tables(
        {"lots": frame.assign(sources=type(frame["sources"])(sources, index=frame.index))}
    )

    assert (Node("batches", "X1"), Node("batches", "X2"), None) == apart(season).lots["L1"].sources
    assert ("unproven", 10, 30, 0) == judged(season)["L1"]


@pytest.mark.parametrize(
    ("weight", "grams", "expected"),
    [
        ("unproven", 40, ("unproven", 0, 40, 0)),
        ("unproven", 45, ("unproven", 0, 40, 0)),
        ("rejects", 8, ("rejected", 22, 10, 8)),
        ("rejects", 35, ("rejected", 0, 5, 35)),
        ("rejects", 45, ("rejected", 0, 0, 40)),
        ("advice", 8, ("unproven", 30, 10, 0)),
    ],
)
def test_a_movement_takes_traced_grams_first_then_unproven_ones(seasons, weight, grams, expected):
    """Ten of forty grams are unproven; more than there is cannot be moved."""
    season = stock(
        seasons, [{"batch": "X1", "weight": "30 g"}], [seasons.movement("M1", "L1", "sold", grams)]
    )

    assert expected == judged(season, at("movements", "M1", weight))["L1"]


def test_two_movements_are_two_takings(seasons):
    """Each its own grams, and mended each by itself."""
    moves = [seasons.movement("M1", "L1", "sold", 8), seasons.movement("M2", "L1", "sold", 5)]
    standings = apart(stock(seasons, moves=moves), at("movements", "M1"), at("movements", "M2"))

    assert [27_000, 35_000, 32_000, 40_000] == [
        standings.judge(mended)["L1"].traced_mg for mended in ((), {0}, {1}, {0, 1})
    ]
    assert ((8_000, frozenset({0})), (5_000, frozenset({1}))) == standings.lots["L1"].movements


def test_two_faults_at_one_movement_are_one_taking(seasons):
    """It takes both to mend it."""
    season = stock(seasons, moves=[seasons.movement("M1", "L1", "sold", 8)])
    standings = apart(season, at("movements", "M1"), at("movements", "M1", "rejects"))

    assert ("rejected", "unproven", "traced") == tuple(
        standings.judge(mended)["L1"].standing for mended in ((), {1}, {0, 1})
    )


def test_what_an_earlier_season_rejected_no_mending_here_makes_good(seasons):
    """A fault that only doubts leaves it rejected; a rejection here rejects the rest, too."""
    earlier = seasons.season_of(label="2025", lots=[seasons.lot("K1", [], 10)])
    season = seasons.season_of(
        lots=[seasons.lot("L1", [{"lot": "K1", "weight": "4 g"}], 4)], previous=earlier
    )
    k1 = Node("lots", "K1", "2025")
    known = {k1: LotStanding("K1", "", "rejected", 10_000, 2_500, 5_000, 2_500)}

    assert {"L1": ("rejected", 1, 2, 1)} == judged(season, earlier=known)
    assert {"L1": ("rejected", 0, 3, 1)} == judged(season, at("lots", "L1"), earlier=known)
    assert {"L1": ("rejected", 0, 0, 4)} == judged(season, at("lots", "L1", "rejects"), earlier=known)
    # A lot of which nothing was left there tells nothing about what came here.
    gone = {k1: LotStanding("K1", "", "traced", 0, 0, 0, 0)}
    assert {"L1": ("unproven", 0, 4, 0)} == judged(season, earlier=gone)


def test_a_fault_at_an_earlier_lot_reaches_the_grams_that_came_of_it(seasons):
    """It rejects what would only be unproven."""
    season = seasons.season_of(lots=[seasons.lot("L1", [{"lot": "K1", "weight": "3 g"}], 4)])

    assert {"L1": ("rejected", 0, 1, 3)} == judged(season, at("lots", "K1", "rejects"))


@pytest.mark.parametrize(
    ("table", "identifier", "lots"),
    [
        ("batches", "X1", (30, 15)),
        ("harvests", "H2", (10, 10)),
        ("bagging", "B1", (30, 15)),
        ("trees", "T1", (30, 15)),
        ("lots", "L1", (40, 20)),
        ("lots", "L2", (0, 25)),
        ("tests", "G1", (40, 20)),
        ("trees", "T9", (0, 0)),
    ],
)
def test_a_fault_reaches_what_rests_on_its_record(seasons, table, identifier, lots):
    """Grams of each lot, from each kind of record; one that nobody knows reaches nothing."""
    season = stock(seasons)
    with_test = seasons.season_of(tests=[seasons.germination("G1", "L1")])
    season = season.with_tables({"tests": with_test.table("tests")})
    found = judged(season, at(table, identifier))

    assert lots == tuple(found[lot][2] for lot in ("L1", "L2"))


def test_a_fault_may_stand_at_several_records(seasons):
    """It touches what any of them touches, and is one fault to mend."""
    both = Fault("unproven", (Node("trees", "T1"), Node("trees", "T2"), Node("bagging", "B1")))
    standings = apart(stock(seasons), both)

    assert (0, 40_000) == (standings.judge()["L1"].traced_mg, standings.judge({0})["L1"].traced_mg)


def test_a_fault_of_the_rest_leaves_the_parts_alone(seasons):
    """It rejects the grams that no source accounts for and no other."""
    season = stock(seasons, [{"batch": "X1", "weight": "30 g"}])

    assert ("rejected", 30, 0, 10) == judged(season, at("lots", "L1", "rejects", only_rest=True))["L1"]
    assert ("traced", 40, 0, 0) == judged(stock(seasons), at("lots", "L1", only_rest=True))["L1"]


def test_grams_that_share_everything_are_one(seasons):
    """Twice of one batch are two parts of one standing; the same faults make one atom in each."""
    season = stock(seasons, [{"batch": "X1", "weight": "30 g"}, {"batch": "X1", "weight": "10 g"}])
    standings = apart(season, at("trees", "T1"), at("lots", "L1"))

    assert [(30_000, 0), (10_000, 1)] == [atom[:2] for atom in standings.lots["L1"].atoms]
    assert {frozenset({0, 1})} == {atom.faults for atom in standings.lots["L1"].atoms}
    assert [(20_000, 0, {0, 1}), (5_000, 1, set())] == [
        (atom.weight_mg, atom.part, set(atom.faults)) for atom in standings.lots["L2"].atoms
    ]
