from __future__ import annotations

from datetime import date

import pytest


def pooled(name, when=date(2026, 8, 1), **more):
    """A transgene test of L1: two pools of fifty."""
    return {
        "test": name, "lot": "L1", "date": when, "kind": "transgene", "pools": 2, "seeds_per_pool": 50,
        "positive_pools": 0, "targets": ("35S",), "controls": "passed", **more,
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
        == gap.message.replace("\N{NO-BREAK SPACE}", " ")
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
