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
        "test": "G1", "lot": "L1", "date": date(2026, 8, 1), "kind": "moisture", "weighings": weighings,
        **more,
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
