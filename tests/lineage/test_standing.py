from __future__ import annotations

from datetime import timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from seasons import blank

from certgen.lineage import Fault, Node, Part, build_lineage, judge_lots
from certgen.lineage.custody import keep_books
from certgen.lineage.standing import RANKS
from certgen.records.joining.farm import join_seasons

STEP = 100


def two_runs(seasons):
    """The tables of batches X1 (of tree T1) and X2 (of tree T2)."""
    return {
        "trees": [seasons.tree("T1"), seasons.tree("T2")],
        "bagging": [seasons.bag("B1", "T1"), seasons.bag("B2", "T2")],
        "harvests": [seasons.harvest("H1", ["B1"]), seasons.harvest("H2", ["B2"])],
        "batches": [seasons.batch("X1", ["H1"]), seasons.batch("X2", ["H2"])],
    }


def stock(seasons, sources=None, moves=()):
    """Batches X1 (tree T1) and X2 (tree T2), packed together as L1; half of L1 is blended into L2 with X2."""
    sources = sources or [{"batch": "X1", "weight": "30 g"}, {"batch": "X2", "weight": "10 g"}]
    return seasons.season_of(
        **two_runs(seasons),
        lots=[
            seasons.lot("L1", sources, 40),
            seasons.lot("L2", [{"lot": "L1", "weight": "20 g"}, {"batch": "X2", "weight": "5 g"}], 25),
        ],
        movements=list(moves),
    )


def apart(season, *faults, step=STEP):
    """The lots of the season and of all before it, taken apart."""
    farm = join_seasons(season)
    return judge_lots(farm, build_lineage(farm), faults, keep_books(farm, step), step)


def judged(season, *faults):
    """The standing of each lot, and its traced, unproven and rejected grams; of no lot a gram is nowhere."""
    standings = apart(season, *faults).judge()

    assert {0} == {one.unaccounted_mg for one in standings.values()}
    return {
        lot: (one.standing, one.traced_mg // 1000, one.unproven_mg // 1000, one.rejected_mg // 1000)
        for lot, one in standings.items()
    }


def grams(season, *faults, lot="L1", mended=()):
    """A lot's standing, and its traced, unproven, rejected and unaccounted milligrams."""
    one = apart(season, *faults).judge(mended)[lot]
    return one.standing, one.traced_mg, one.unproven_mg, one.rejected_mg, one.unaccounted_mg


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
    standings = apart(season, at("lots", "L1", touches="rest"))
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


def carried(seasons):
    """The season after K1 was packed of X0 (tree T0): L1 is blended of 4 g of it; K1 weighed 10 g."""
    earlier = seasons.season_of(
        label="2025", trees=[seasons.tree("T0")], bagging=[seasons.bag("B0", "T0")],
        harvests=[seasons.harvest("H0", ["B0"])], batches=[seasons.batch("X0", ["H0"])],
        lots=[seasons.lot("K1", [{"batch": "X0", "weight": "10 g"}], 10, packed="2025-08-01")],
    )  # fmt: skip
    return seasons.season_of(lots=[seasons.lot("L1", [{"lot": "K1", "weight": "4 g"}], 4)], previous=earlier)


def test_an_earlier_lot_hands_on_the_standing_it_has(seasons):
    """A fault of its season reaches this one's lot, and the other way round nothing does."""
    season = carried(seasons)

    assert {"L1": ("traced", 4, 0, 0), "K1": ("traced", 10, 0, 0)} == judged(season)
    assert {"L1": ("rejected", 0, 0, 4), "K1": ("rejected", 0, 0, 10)} == judged(
        season, at("trees", "T0", "rejects")
    )
    assert {"L1": ("unproven", 0, 4, 0), "K1": ("traced", 10, 0, 0)} == judged(season, at("lots", "L1"))


def test_a_lot_that_no_record_bears_hands_on_nothing_that_is_proved(seasons):
    """Nobody knows what it was."""
    season = seasons.season_of(lots=[seasons.lot("L1", [{"lot": "K1", "weight": "4 g"}], 4)])

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


def test_a_movement_of_no_known_weight_touches_no_grams(seasons):
    """How much went is unknown: it is told, and takes nothing off the traced grams."""
    season = stock(seasons, moves=[seasons.movement("M1", "L1", "sold", 8)])
    frame = season.table("movements")
    season = season.with_tables(
        {"movements": frame.assign(weight_mg=frame["weight_mg"].mask(frame.index == 0))}
    )

    assert ("traced", 40, 0, 0) == judged(season, at("movements", "M1"))["L1"]


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


def test_a_fault_here_touches_what_an_earlier_season_handed_on(seasons):
    """One that only doubts leaves rejected what was rejected there."""
    season, there = carried(seasons), at("trees", "T0", "rejects")

    assert ("rejected", 0, 0, 4) == judged(season, there, at("lots", "L1"))["L1"]
    assert ("rejected", 0, 0, 4) == judged(season, at("trees", "T0"), at("lots", "L1", "rejects"))["L1"]


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

    assert ("rejected", 30, 0, 10) == judged(season, at("lots", "L1", "rejects", touches="rest"))["L1"]
    assert ("traced", 40, 0, 0) == judged(stock(seasons), at("lots", "L1", touches="rest"))["L1"]


def test_grams_that_share_everything_are_one(seasons):
    """Twice of one batch are two parts of one standing; the same faults make one atom in each."""
    season = stock(seasons, [{"batch": "X1", "weight": "30 g"}, {"batch": "X1", "weight": "10 g"}])
    standings = apart(season, at("trees", "T1"), at("lots", "L1"))

    assert [(30_000, 0), (10_000, 1)] == [atom[:2] for atom in standings.lots["L1"].atoms]
    assert {frozenset({0, 1})} == {atom.faults for atom in standings.lots["L1"].atoms}
    assert [(20_000, 0, {0, 1}), (5_000, 1, set())] == [
        (atom.weight_mg, atom.part, set(atom.faults)) for atom in standings.lots["L2"].atoms
    ]


def mixed(seasons, *, day=61, lots=()):
    """L1 of 40 g: 10 g are sold, then 5 g come in by M2, then 7 g are sold."""
    return seasons.season_of(
        batches=[seasons.batch("X1", [])],
        lots=[seasons.lot("L1", [{"batch": "X1", "weight": "40 g"}], 40), *lots],
        movements=[
            seasons.movement("M1", "L1", "sold", 10, 60), seasons.movement("M2", "L1", "received", 5, day),
            seasons.movement("M3", "L1", "sold", 7, 62),
        ],
    )  # fmt: skip


def test_what_came_in_touches_what_was_there_then_and_not_what_had_left(seasons):
    """By the weight of what was found; where no check speaks of it, it is unproven all the same."""
    coming = {"touches": "mixed"}

    assert ("unproven", 10_000, 35_000, 0, 0) == grams(mixed(seasons))
    assert ("unproven", 10_000, 35_000, 0, 0) == grams(mixed(seasons), at("movements", "M2", **coming))
    assert ("rejected", 10_000, 0, 35_000, 0) == grams(
        mixed(seasons), at("movements", "M2", "rejects", **coming)
    )


def test_seed_from_elsewhere_is_never_traced(seasons):
    """With all that was found mended the lot's own grams are; what came in has no parents here."""
    season = mixed(seasons)
    fault = at("movements", "M2", touches="mixed")

    assert ("unproven", 40_000, 5_000, 0, 0) == grams(season, fault, mended={0})
    assert (Node("batches", "X1"), Node("movements", "M2")) == apart(season, fault).lots["L1"].sources
    assert (
        Part(Node("batches", "X1"), 40_000, 10_000, 30_000, 0),
        Part(Node("movements", "M2"), 5_000, 0, 5_000, 0),
    ) == apart(season, fault).judge()["L1"].parts  # fmt: skip


def test_the_worst_of_a_lot_at_a_stage(seasons):
    """The first sale was of clean seed, the second of mixed; of a lot that isn't known nothing is proved."""
    standings = apart(
        mixed(seasons), at("movements", "M2", touches="mixed"), at("batches", "X1", "rejects"),
    )  # fmt: skip

    assert ["rejected", "rejected", "traced", "unproven"] == [
        standings.worst_at("L1", 0), standings.worst_at("L1", 1), standings.worst_at("L1", 0, {0, 1}),
        standings.worst_at("L1", 1, {1}),
    ]  # fmt: skip
    assert "unproven" == standings.worst_at("L9", 0)
    # At a stage at which nothing left, what the lot is as a whole is told.
    assert "rejected" == standings.worst_at("L1", 7)


@pytest.mark.parametrize(("day", "handed"), [(20, ("traced", 8_000, 0)), (22, ("unproven", 6_857, 1_143))])
def test_a_blend_hands_on_what_was_there_on_its_day(seasons, day, handed):
    """Before seed came in all of it is the lot's own; after it, its share of what came in (5 of 35 g)."""
    blend = seasons.lot("L2", [{"lot": "L1", "weight": "8 g"}], 8, day=day)
    season = mixed(seasons, lots=[blend])
    fault = at("movements", "M2", touches="mixed")

    assert handed == grams(season, fault, lot="L2", mended={0})[:3]
    assert ("unproven", 0, 8_000) == grams(season, fault, lot="L2")[:3] or day == 20


def counted(seasons, found, *, lots=(), day=61):
    """L1 of 40 g, of which 10 g are sold and `found` grams are counted."""
    return seasons.season_of(
        batches=[seasons.batch("X1", [])],
        lots=[seasons.lot("L1", [{"batch": "X1", "weight": "40 g"}], 40), *lots],
        movements=[
            seasons.movement("M1", "L1", "sold", 10, 60), seasons.movement("M2", "L1", "counted", found, day),
        ],
    )  # fmt: skip


def test_grams_that_a_count_found_gone_are_unaccounted(seasons):
    """Said or not; what was counted and what was sold keep what they are, the lot as a whole doesn't."""
    gone = at("movements", "M2", touches="missing")

    assert ("unproven", 34_000, 0, 0, 6_000) == grams(counted(seasons, 24))
    assert ("unproven", 34_000, 0, 0, 6_000) == grams(counted(seasons, 24), gone)
    assert ("traced", 40_000, 0, 0, 0) == grams(counted(seasons, 24), gone, mended={0})
    assert ("traced", 40_000, 0, 0, 0) == grams(counted(seasons, 30), gone)


ENTRIES = st.lists(
    st.tuples(st.sampled_from(["sold", "received", "returned", "counted"]), st.integers(1, 12)), max_size=9
)


@settings(max_examples=60)
@given(entries=ENTRIES, most=st.integers(1, 3), faults=st.lists(
    st.tuples(st.integers(0, 8), st.sampled_from(["mixed", "missing", "own"]),
              st.sampled_from(["unproven", "rejects"])),
    max_size=8,
))  # fmt: skip
def test_no_gram_is_better_for_stages_that_are_kept_together(seasons, entries, most, faults):
    """A lot that very many entries changed: what left late is touched by all that came in since."""
    season = seasons.season_of(
        batches=[seasons.batch("X1", [])],
        lots=[seasons.lot("L1", [{"batch": "X1", "weight": "40 g"}], 40)],
        movements=[
            seasons.movement(f"M{number}", "L1", kind, mass, 60 + number, party="Ann", document="D1")
            for number, (kind, mass) in enumerate(entries)
        ],
    )  # fmt: skip
    told = [
        at("movements", f"M{number}", weight, touches=touches)
        for number, touches, weight in faults
        if number < len(entries)
    ]
    exact = apart(season, *told)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("certgen.lineage.custody.MOST_CELLS", 0)
        patch.setattr("certgen.lineage.custody.MOST_STAGES", most)
        joined = apart(season, *told)
    one, other = exact.judge()["L1"], joined.judge()["L1"]
    ranks = ("traced", "unproven", "rejected")

    assert sum(atom.weight_mg for atom in exact.lots["L1"].atoms) == sum(
        atom.weight_mg for atom in joined.lots["L1"].atoms
    )
    assert one.traced_mg >= other.traced_mg
    assert one.rejected_mg <= other.rejected_mg
    assert ranks.index(one.standing) <= ranks.index(other.standing)
    for stage in range(len(entries) + 1):
        assert RANKS[exact.worst_at("L1", stage)] <= RANKS[joined.worst_at("L1", min(stage, most))]


def test_grams_that_are_nowhere_are_nothing_else(seasons):
    """Of a lot that is rejected they are nowhere too, and would be rejected if they were found."""
    gone, bad = at("movements", "M2", touches="missing"), at("batches", "X1", "rejects")

    assert ("rejected", 0, 0, 34_000, 6_000) == grams(counted(seasons, 24), bad)
    assert ("rejected", 0, 0, 34_000, 6_000) == grams(counted(seasons, 24), bad, gone)
    assert ("rejected", 0, 0, 40_000, 0) == grams(counted(seasons, 24), bad, gone, mended={1})


def test_a_blend_takes_nothing_of_what_is_nowhere(seasons):
    """Its grams were there: they are what the counted ones are."""
    blend = seasons.lot("L2", [{"lot": "L1", "weight": "8 g"}], 8, day=22)
    gone = at("movements", "M2", touches="missing")
    season = counted(seasons, 24, lots=[blend])

    assert ("traced", 8_000, 0, 0, 0) == grams(season, lot="L2")
    assert ("traced", 8_000, 0, 0, 0) == grams(season, gone, lot="L2")


def test_a_count_above_the_book_makes_what_is_there_unproven(seasons):
    """Seed of unknown origin was added: what had left is as it was."""
    more = at("movements", "M2", touches="mixed")

    assert ("unproven", 10_000, 33_000, 0, 0) == grams(counted(seasons, 33), more)
    assert ("unproven", 10_000, 33_000, 0, 0) == grams(counted(seasons, 33))
    assert ("traced", 40_000, 0, 0, 0) == grams(counted(seasons, "30.1"), more)


def test_what_is_open_about_a_lot_as_a_whole_moves_no_gram(seasons):
    """All of them stay traced, and the lot is not; of a run it is open for every lot that it went into."""
    season = stock(seasons)
    of_lot, of_run = (at(*place, touches="whole") for place in (("lots", "L2"), ("batches", "X1")))

    assert {"L1": ("traced", 40, 0, 0), "L2": ("unproven", 25, 0, 0)} == judged(season, of_lot)
    assert {"L1": ("unproven", 40, 0, 0), "L2": ("unproven", 25, 0, 0)} == judged(season, of_run)
    assert "traced" == grams(season, of_lot, lot="L2", mended={0})[0]
    assert "rejected" == grams(season, of_lot, at("batches", "X2", "rejects"), lot="L2")[0]
    assert ("traced", "traced") == tuple(
        one[0] for one in judged(season, of_lot._replace(weight="advice")).values()
    )


@pytest.mark.parametrize(("short", "rest"), [("39.9", 0), ("39.899", 101)])
def test_sources_that_fall_short_by_a_step_account_for_all(seasons, short, rest):
    """What the scale can't show is no difference; a milligram more is unproven."""
    season = seasons.season_of(
        batches=[seasons.batch("X1", [])],
        lots=[seasons.lot("L1", [{"batch": "X1", "weight": f"{short} g"}], 40)],
    )

    assert (40_000 - rest, rest) == grams(season)[1:3]


def test_some_lots_alone(seasons):
    """With what touches them; one that isn't known is left out."""
    standings = apart(stock(seasons), at("lots", "L1"))

    assert {"L2": standings.judge()["L2"]} == standings.only(["L9", "L2"]).judge()


KINDS = ["sold", "sown", "sampled", "received", "returned", "counted", "mixing"]
ENTRIES = st.lists(
    st.tuples(st.sampled_from(KINDS), st.integers(45, 50), st.integers(0, 60), st.booleans()), max_size=8
)
TOUCHES = ["own", "own", "own", "rest", "mixed", "missing", "whole"]


@st.composite
def some_books(draw):
    """What happened to two lots, on which day the second was packed, and what it drew from the first."""
    return [draw(ENTRIES), draw(ENTRIES)], draw(st.integers(5, 11)), draw(st.integers(0, 30))


def _some_faults(lineage):
    """Up to six faults at records of a lineage."""
    node = st.sampled_from([node for node in lineage.nodes if node.table != "inputs"])
    fault = st.builds(
        Fault,
        st.sampled_from(["rejects", "unproven", "advice"]),
        st.lists(node, min_size=1, max_size=3).map(tuple),
        st.sampled_from(TOUCHES),
    )
    return st.lists(fault, max_size=6)


@settings(max_examples=60)
@given(data=st.data(), story=some_books())
def test_mass_is_conserved_and_mending_never_makes_it_worse(data, story, seasons):
    """Whatever happened and whatever was found: all grams are told once, and mending adds traced ones."""
    farm = join_seasons(_some_stock(seasons, *story))
    lineage, books = build_lineage(farm), keep_books(farm, 0)
    faults = data.draw(_some_faults(lineage))
    standings = judge_lots(farm, lineage, faults, books)
    mended = data.draw(st.sets(st.integers(0, 5)))
    before, after = standings.judge(), standings.judge(mended)
    clean = judge_lots(farm, lineage, [], books).judge()

    for lot, one in after.items():
        book = books[lot]
        came_in = sum(event.mass_mg for event in book.mixing)
        missing = sum(event.mass_mg for event in book.missing)
        assert one.weight_mg == one.traced_mg + one.unproven_mg + one.rejected_mg + one.unaccounted_mg
        assert one.weight_mg == book.packed_mg + came_in == sum(part.weight_mg for part in one.parts)
        for part in one.parts:
            told = (part.traced_mg, part.unproven_mg, part.rejected_mg, part.unaccounted_mg)
            assert part.weight_mg == sum(told)
            assert min(told) >= 0
        assert min(one.traced_mg, one.unproven_mg, one.rejected_mg, one.unaccounted_mg) >= 0
        assert one.unaccounted_mg <= missing == clean[lot].unaccounted_mg
        assert one.traced_mg <= book.packed_mg
        assert before[lot].traced_mg <= one.traced_mg
        assert before[lot].traced_mg <= clean[lot].traced_mg
        if one.standing == "traced":
            assert one.weight_mg == one.traced_mg


@settings(max_examples=40)
@given(data=st.data(), story=some_books())
def test_faults_that_make_nothing_of_any_gram_change_no_lot(data, story, seasons):
    """Wherever they stand among the others, the lots are as they would be taken apart under all of them."""
    farm = join_seasons(_some_stock(seasons, *story))
    lineage, books = build_lineage(farm), keep_books(farm, 0)
    before, after = data.draw(_some_faults(lineage)), []
    for fault in before:
        more = data.draw(
            st.sampled_from([[], [Fault("advice", (Node("lots", "L1"),))], [Fault("rejects", ())]])
        )
        after += [*more, *([fault] if fault.tells or data.draw(st.booleans()) else [])]
    standings = judge_lots(farm, lineage, before, books)

    assert judge_lots(farm, lineage, after, books) == standings.under(after)
    assert standings.under([*after, Fault("unproven", (Node("lots", "L2"),))]) is None


def _some_stock(seasons, stories, day, drawn):
    """L1 of X1 and X2, L2 of X2 and of what it drew from L1, and what happened to each."""
    sources = [
        [{"batch": "X1", "weight": "0.023 g"}, {"batch": "X2", "weight": "0.007 g"}],
        [{"lot": "L1", "weight": f"{drawn / 1000:.3f} g"}, {"batch": "X2", "weight": "0.009 g"}],
    ]
    moves, incidents = [], []
    for at_lot, entries in enumerate(stories, start=1):
        for number, (kind, on, mass, opened) in enumerate(entries):
            name = f"M{at_lot}-{number}"
            more = {"party": "Ann", "opened": opened} if kind == "returned" else {"party": "Ann"}
            if kind == "mixing":
                moved = seasons.PICKED + timedelta(on)
                incidents.append(
                    {
                        "incident": name,
                        "date": moved,
                        "kind": kind,
                        "about": [f"L{at_lot}"],
                        "action": "swept",
                    }
                )
            else:
                moves.append(seasons.movement(name, f"L{at_lot}", kind, f"{mass / 1000:.3f}", on, **more))
    return seasons.season_of(
        **two_runs(seasons),
        lots=[
            seasons.lot("L1", sources[0], "0.040"),
            seasons.lot("L2", sources[1], f"{(drawn + 9) / 1000:.3f}", day=day),
        ],
        movements=moves, incidents=incidents,
    )  # fmt: skip
