from __future__ import annotations

from datetime import date, timedelta

import pytest
from printed import plain


def pooled(name, when=date(2026, 8, 1), **more):
    """A transgene test of L1: two pools of fifty."""
    return {
        "test": name, "lot": "L1", "date": when, "kind": "transgene", "pools": 2, "seeds_per_pool": 50,
        "positive_pools": 0, "targets": ("35S",), "controls": "passed",
        "laboratory": "Ostrow Seed Laboratory", **more,
    }  # fmt: skip


def test_a_later_negative_undoes_no_positive(stocked, find) -> None:
    """The seed that was found had brothers."""
    season = stocked(tests=[pooled("G1", positive_pools=1), pooled("G2", date(2026, 9, 1))])

    assert [("G1", "rejects")] == [(gap.id, gap.weight) for gap in find(season, "lot-transgene-positive")]


def test_a_void_positive_rejects_nothing_and_proves_nothing(stocked, find) -> None:
    """With failed controls it must be made again; a sound test afterwards settles it."""
    void = pooled("G1", positive_pools=1, controls="failed")

    assert () == find(stocked(tests=[void]), "lot-transgene-positive")
    assert ["unproven"] == [gap.weight for gap in find(stocked(tests=[void]), "lot-test-void")]
    assert () == find(stocked(tests=[void, pooled("G2", date(2026, 8, 9))]), "lot-test-void")
    assert ["G1"] == [
        gap.id for gap in find(stocked(tests=[void, pooled("G2", date(2026, 7, 9))]), "lot-test-void")
    ]


@pytest.mark.parametrize(("grams", "found"), [(1, False), (0.9, True), (None, True)])
def test_ground_seed_must_have_left_the_lot(seasons, stocked, find, grams, found) -> None:
    """A hundred seeds weigh a gram at least, at the lightest usual seed."""
    moves = [] if grams is None else [seasons.movement("M1", "L1", "sampled", grams, 45)]

    assert found == bool(find(stocked(tests=[pooled("G1")], movements=moves), "sample-unrecorded"))


def moist(*afters, **more):
    """A moisture test of L1 from dishes of 20 g, with 5 g of seed each."""
    weighings = tuple({"container": "20 g", "before": "25 g", "after": f"{after} g"} for after in afters)
    return {
        "test": "G1", "lot": "L1", "date": date(2026, 8, 1), "kind": "moisture",
        **({"weighings": weighings} if afters else {}), **more,
    }  # fmt: skip


@pytest.mark.parametrize(
    ("afters", "found"),
    # 0.2 points of 5 g are 10 mg; that much is allowed, from memory.
    [
        (("24.57", "24.56"), False),
        (("24.57", "24.559"), True),
        (("25.1", "24.57"), True),
        (("24.57",), False),
    ],
)
def test_two_repeats_lie_close_and_no_seed_gains_weight(stocked, find, afters, found) -> None:
    """Compared as written, without the rounding of binary fractions."""
    assert found == bool(find(stocked(tests=[moist(*afters)]), "moisture-repeats-differ"))


@pytest.mark.parametrize(
    ("after", "told"), [("24.57", ""), ("24.4", "where practice is"), ("23.9", "can hardly be right")]
)
def test_moisture_is_held_against_practice(stocked, find, after, told) -> None:
    """8.6 % is usual, 12 % is damp, 22 % can't be stored seed."""
    found = find(stocked(tests=[moist(after, after)]), "moisture-out-of-range")

    assert bool(told) == bool(found)
    assert all(told in gap.message and gap.weight == "advice" for gap in found)


@pytest.mark.parametrize(
    ("positive", "controls", "found"),
    [(0, "passed", 0), (1, "passed", 1), (1, None, 1), (1, "failed", 0), (1, "not run", 0)],
)
def test_one_pool_is_enough(stocked, find, positive, controls, found) -> None:
    """Where nothing is written of controls, the result is taken as it stands."""
    test = pooled("G1", positive_pools=positive, controls=controls)
    test = {name: value for name, value in test.items() if value is not None}
    gaps = find(stocked(tests=[test]), "lot-transgene-positive")

    assert found == len(gaps)
    assert all(gap.message == "Test G1 found 35S in 1 of 2 pools of lot L1." for gap in gaps)


def test_a_count_of_pools_that_was_lost_finds_nothing(stocked, find) -> None:
    """The reader asks for it."""
    season = stocked(tests=[pooled("G1")])
    tests = season.table("tests")
    season = season.with_tables(
        {"tests": tests.assign(positive_pools=tests["positive_pools"].mask(tests["lot"] == "L1"))}
    )

    assert () == find(season, "lot-transgene-positive")


@pytest.mark.parametrize(("controls", "said"), [("failed", "failed,"), ("not run", "were not run,")])
def test_a_void_test_is_settled_on_its_day(stocked, find, controls, said) -> None:
    """By a sound test of that day, not by one of the day before; nor by one of another lot."""
    void = pooled("G1", controls=controls)
    same, before = pooled("G2"), pooled("G2", date(2026, 7, 31))

    assert () == find(stocked(tests=[void, same]), "lot-test-void")
    (gap,) = find(stocked(tests=[void, before, {**same, "test": "G3", "lot": "L9"}]), "lot-test-void")
    assert "G1" == gap.id
    assert f"of lot L1 {said}" in gap.message


@pytest.mark.parametrize(
    ("kinds", "found"),
    [(("sampled",), 0), (("retained",), 0), (("sold",), 1), ((), 1)],
)
def test_samples_and_kept_seed_are_what_a_test_can_use(seasons, stocked, find, kinds, found) -> None:
    """Told at its pools, with what the ledger shows."""
    moves = [seasons.movement(f"M-{kind}", "L1", kind, 1, 45) for kind in kinds]
    gaps = find(stocked(tests=[pooled("G1")], movements=moves), "sample-unrecorded")

    assert [("advice", ("pools",))] * found == [(gap.weight, gap.field) for gap in gaps]
    assert all(
        "Test G1 used 100 seeds of lot L1, at least 1 g, and the ledger shows 0 g taken out for samples."
        == plain(gap.message)
        for gap in gaps
    )


@pytest.mark.parametrize("figure", [None, {"low": None}])
def test_a_crop_whose_seed_nobody_weighed_tells_no_use(stocked, find, crop, figure) -> None:
    """Nor does a test of a lot that this season doesn't hold."""
    season = stocked(tests=[pooled("G1")])

    assert () == find(season, "sample-unrecorded", profile=crop(thousand_seed_weight_g=figure))
    assert () == find(stocked(tests=[pooled("G1", lot="K1")]), "sample-unrecorded")


@pytest.mark.parametrize(
    ("afters", "told"),
    [
        (("24.57", "24.50"), "gave 8.60 % and 10.00 %: 1.40 points apart"),
        (("24.57", "24.50", "24.57"), None),
        ((), None),
        (("25.1",), "can't be right"),
    ],
)
def test_only_a_pair_is_compared(stocked, find, afters, told) -> None:
    """A third repeat is somebody's answer to it; a test without weighings has nothing to compare."""
    found = find(stocked(tests=[moist(*afters, moisture="9 %")]), "moisture-repeats-differ")

    assert ([told] if told else []) == [told for gap in found if told in gap.message]


@pytest.mark.parametrize(
    ("afters", "given", "field", "said"),
    [
        ((), "10 %", None, ""),
        ((), "10.004 %", None, ""),
        ((), "10.006 %", "moisture", "Test G1 found 10 % moisture in lot L1, where"),
        ((), "7.9 %", None, ""),
        ((), "7.8 %", "moisture", "Test G1 found 7.8 % moisture in lot L1, where"),
        (("24.50",), "9 %", None, ""),
        (("24.49",), "9 %", "weighings", "Test G1 found 10.2 % moisture in lot L1, where"),
        (("24.4", "24.6"), "12 %", None, ""),
        (
            ("24.4", "24.4"),
            None,
            "weighings",
            "Test G1 found 12 % moisture in lot L1, the mean of 2 repeats, where",
        ),
        (("25.1",), "12 %", None, ""),
    ],
)
def test_weighings_count_before_a_figure(stocked, find, crop, afters, given, field, said) -> None:
    """Their mean, to the hundredth; weighings that can't be right are told elsewhere."""
    test = moist(*afters, **({"moisture": given} if given else {}))
    season = stocked(tests=[test])
    found = find(season, "moisture-out-of-range")

    assert ([((field,), "advice")] if field else []) == [(gap.field, gap.weight) for gap in found]
    assert all(gap.message.startswith(said) for gap in found)
    assert () == find(season, "moisture-out-of-range", profile=crop(moisture_pct=None))


@pytest.fixture
def kindred(seasons):
    """Lots of three runs: X1 of T1 gives L1, L2 and L6, X2 of T1 gives L3, X3 of T2 gives L4.

    L5 is blended from L1, and L6 into L1. `kindred(tests, samples)`: with more tests and samples.
    """

    def build(tests, samples=(), **tables):
        trees = [seasons.tree("T1"), seasons.tree("T2")]
        bags = [seasons.bag("B1", "T1"), seasons.bag("B2", "T1"), seasons.bag("B3", "T2")]
        parts = {"L6": ("batch", "X1"), "L1": ("batch", "X1"), "L2": ("batch", "X1"), "L3": ("batch", "X2"),
                 "L4": ("batch", "X3"), "L5": ("lot", "L1")}  # fmt: skip
        lots = [
            seasons.lot(name, [{kind: source, "weight": "2 g"}], 2, day=int(name == "L5"))
            for name, (kind, source) in parts.items()
        ]
        lots[1]["sources"] = (*lots[1]["sources"], {"lot": "L6", "weight": "1 g"})
        return seasons.season_of(
            **{
                "blocks": [seasons.block()],
                "plantings": [seasons.planting()],
                "trees": trees,
                "screening": [seasons.sample(f"S{at}", f"T{at}") for at in (1, 2)] + list(samples),
                "bagging": bags,
                "harvests": [seasons.harvest(f"H{at}", [f"B{at}"]) for at in (1, 2, 3)],
                "batches": [seasons.batch(f"X{at}", [f"H{at}"]) for at in (1, 2, 3)],
                "lots": lots,
                "tests": list(tests),
                **tables,
            }
        )

    return build


def doubted(gap):
    """The lots that a gap stands at; what was blended from them is touched besides."""
    return {node.id for node in gap.starts}


def cut(seasons, days, **more):
    """A leaf of T1, some days after the test's."""
    when = date(2026, 8, 1) + timedelta(days)
    return seasons.sample("S9", "T1", **{"collected": when, "submitted": when, "reported": when, **more})


@pytest.mark.parametrize(
    ("found", "clean", "expected"),
    [
        ("L1", (), {"L2", "L3", "L5", "L6"}),
        ("L1", ("L2",), {"L3", "L5", "L6"}),
        ("L1", ("L2", "L3", "L5", "L6"), set()),
        ("L1", ("L1",), {"L2", "L3", "L5", "L6"}),
        ("L3", (), {"L1", "L2", "L5", "L6"}),
        ("L4", (), set()),
        ("L5", (), {"L1", "L2", "L3", "L6"}),
        ("L6", (), {"L1", "L2", "L3", "L5"}),
    ],
)
def test_what_shares_a_run_or_parent_with_a_transgene_is_in_doubt(
    kindred, find, found, clean, expected
) -> None:
    """Also what was blended from it or into it, until a clean test of its own; nothing else is."""
    tests = [pooled("G1", lot=found, positive_pools=1), *(pooled(f"G-{lot}", lot=lot) for lot in clean)]
    gaps = find(kindred(tests), "transgene-in-kin")

    assert [expected] * bool(expected) == [doubted(gap) for gap in gaps]
    assert all(("unproven", ("lot",), "G1") == (gap.weight, gap.field, gap.id) for gap in gaps)


@pytest.mark.parametrize(
    ("more", "expected"),
    [
        ({"controls": "failed"}, []),
        ({"controls": "not run"}, []),
        ({"controls": None}, ["G1"]),
        ({"positive_pools": 0}, []),
    ],
)
def test_only_a_sound_test_casts_doubt_on_kin(kindred, find, more, expected) -> None:
    """A void one, or one that found nothing, says nothing of other lots."""
    test = {
        key: value
        for key, value in pooled("G1", **{"positive_pools": 1, **more}).items()
        if value is not None
    }

    assert expected == [gap.id for gap in find(kindred([test]), "transgene-in-kin")]


@pytest.mark.parametrize("controls", ["failed", "not run", None])
def test_a_void_test_clears_no_kin(kindred, find, controls) -> None:
    """It must be made again, or its controls written down: silence clears nothing."""
    clean = {
        name: said for name, said in pooled("G2", lot="L2", controls=controls).items() if said is not None
    }
    tests = [pooled("G1", positive_pools=1), clean]
    (gap,) = find(kindred(tests), "transgene-in-kin")

    assert "L2" in doubted(gap)


def test_a_laboratorys_letter_answers_for_the_controls_of_a_test_of_kin(kindred, find) -> None:
    """As it does for those of leaves; nothing of the lot is in doubt then."""
    clean = {name: said for name, said in pooled("G2", lot="L2", report="OS-7").items() if name != "controls"}
    gaps = find(kindred([pooled("G1", positive_pools=1), clean]), "transgene-in-kin")

    assert not any("L2" in doubted(gap) for gap in gaps)


@pytest.mark.parametrize(
    ("days", "more", "open_"),
    [
        (1, {}, False),
        (0, {}, True),
        (-9, {}, True),
        (1, {"result": "positive"}, True),
        (1, {"result": "inconclusive"}, True),
        (1, {"controls": "failed"}, True),
        (1, {"tree": "T2", "mark": "T2"}, True),
    ],
)
def test_a_parent_is_cleared_again_by_a_leaf_cut_since(seasons, kindred, find, days, more, open_) -> None:
    """Then its other runs are, and what shares the run is still in doubt."""
    (gap,) = find(kindred([pooled("G1", positive_pools=1)], [cut(seasons, days, **more)]), "transgene-in-kin")

    assert {"L2", "L5", "L6"} | ({"L3"} if open_ else set()) == doubted(gap)
    assert open_ == ("(tree T1 not tested since)" in gap.message)


def test_a_pool_clears_no_parent_again(seasons, kindred, find) -> None:
    """Nobody knows whether it would have found one leaf among many."""
    pool = {**cut(seasons, 1), "trees": ("T1", "T2")}
    del pool["tree"], pool["mark"]
    (gap,) = find(kindred([pooled("G1", positive_pools=1)], [pool]), "transgene-in-kin")

    assert "L3" in doubted(gap)


def test_a_transgene_of_this_year_casts_doubt_on_last_years_lot(seasons, carried, find) -> None:
    """Where they share a parent; it is told at the test."""
    bags = [seasons.bag("B1", "T1"), seasons.bag("B2", "T9")]
    harvests = [seasons.harvest("H1", ["B1", "B2"])]
    season = carried(bagging=bags, harvests=harvests, tests=[pooled("G1", positive_pools=1)])
    (gap,) = find(season, "transgene-in-kin")

    assert ("K1",) == gap.lots
    assert "(trees T1 and T9 not tested since)" in gap.message


@pytest.mark.parametrize(("other", "expected"), [("0 g", 0), ("0.001 g", 1), ("0.2 g", 1)])
def test_other_seed_in_a_purity_test_was_mixed_in(stocked, find, other, expected) -> None:
    """However little."""
    test = {"test": "G1", "lot": "L1", "date": date(2026, 8, 1), "kind": "purity", "pure": "4.7 g",
            "inert": "0.1 g", "other": other}  # fmt: skip
    found = find(stocked(tests=[test]), "purity-other-seed")

    assert [("unproven", ("L1",), ("other",))] * expected == [
        (gap.weight, gap.lots, gap.field) for gap in found
    ]


#: X1 was opened on 19 June 2026, and L1 packed on 18 July.
OPENED = date(2026, 6, 19)


@pytest.mark.parametrize("kind", ["germination", "transgene", "moisture"])
@pytest.mark.parametrize(
    ("sampled", "tested", "expected"),
    [(-1, 40, 1), (0, 40, 0), (40, 41, 0), (None, -1, 1), (None, 0, 0), (1, -1, 0)],
)
def test_a_sample_is_drawn_of_seed_that_is_there(
    seasons, stocked, find, kind, sampled, tested, expected
) -> None:
    """From the day on which its fruit was opened; of a test that doesn't say when, its own day counts."""
    made = {
        "germination": seasons.germination("G1", "L1"),
        "transgene": pooled("G1"),
        "moisture": moist("24.57"),
    }
    test = {**made[kind], "date": OPENED + timedelta(tested)}
    test |= {} if sampled is None else {"sampled": OPENED + timedelta(sampled)}
    found = find(stocked(tests=[test]), "sample-before-seed")

    assert [("unproven", ("L1",))] * expected == [(gap.weight, gap.lots) for gap in found]
    assert all("was taken out of its fruit on 19 June 2026." in gap.message for gap in found)


def test_of_several_runs_the_first_counts(seasons, stocked, find) -> None:
    """A lot that holds seed of two runs may have been sampled as soon as the first was there; of a lot that
    no run stands behind nothing can be said."""
    batches = [seasons.batch("X1", ["H1"], day=9), seasons.batch("X2", ["H1"])]
    parts = [{"batch": "X1", "weight": "4 g"}, {"batch": "X2", "weight": "4 g"}]
    lots = [seasons.lot("L1", parts, 8), seasons.lot("L2", [{"lot": "L1", "weight": "4 g"}], 4)]
    tests = [
        seasons.germination("G1", "L1", sampled=OPENED),
        seasons.germination("G2", "L1", sampled=OPENED - timedelta(1)),
        seasons.germination("G3", "L2", sampled=OPENED - timedelta(9)),
        seasons.germination("G4", "L9", sampled=OPENED - timedelta(9)),
    ]

    assert ["G2"] == [
        gap.id for gap in find(stocked(batches=batches, lots=lots, tests=tests), "sample-before-seed")
    ]


def test_a_transgene_is_followed_where_no_sample_has_a_day(seasons, stocked, find) -> None:
    """A clean leaf sample without the day it was collected settles no parent, and stops nothing."""
    lots = [seasons.lot(one, [{"batch": "X1", "weight": "4 g"}], 4) for one in ("L1", "L2")]
    undated = seasons.sample("S1", "T1")
    del undated["collected"]
    season = stocked(tests=[pooled("G1", positive_pools=1)], lots=lots, screening=[undated])

    (gap,) = find(season, "transgene-in-kin")
    assert gap.message.endswith("lot L2 shares its runs or parents (tree T1 not tested since).")
