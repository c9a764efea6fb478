"""From fruit to packed seed."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.figures.conversion import (
    ProcessingRun,
    compare_with_history,
    expect_seed,
    find_impossible,
    find_yields,
    place_in_range,
    recover,
)


def test_yields_of_a_whole_run():
    """40 fruits of 60 kg in all: 1,500 g wet, 300 g floated off, 300 g dry, 290 g packed."""
    yields = find_yields(ProcessingRun(40, 60_000_000, 1_500_000, 300_000, 300_000, 290_000))

    assert (0.025, 1 / 6, 0.2, 0.005, 7500.0) == (
        yields.wet_of_fruit, yields.floated_of_wet, yields.dry_of_wet, yields.dry_of_fruit,
        yields.dry_per_fruit_mg,
    )  # fmt: skip
    assert 290 / 300 == yields.packed_of_dry


def test_what_was_not_recorded_stays_unknown():
    """A missing weight makes its yields None, and never zero; a weight of nothing divides nothing."""
    yields = find_yields(ProcessingRun(fruits=40, dry_mg=300_000, wet_mg=0))

    assert (None, None, None, 7500.0) == (
        yields.wet_of_fruit, yields.dry_of_wet, yields.packed_of_dry, yields.dry_per_fruit_mg,
    )  # fmt: skip


@given(st.lists(st.one_of(st.none(), st.integers(0, 10**9)), min_size=6, max_size=6))
def test_possible_runs_only_lose_weight(masses):
    """A run without an impossible stage has no yield above one along the way."""
    run = ProcessingRun(*masses)
    yields = find_yields(run)
    impossible = find_impossible(run)

    for stage, share in (
        ("wet", yields.wet_of_fruit),
        ("dry", yields.dry_of_wet),
        ("packed", yields.packed_of_dry),
    ):
        assert stage in impossible or share is None or share <= 1


def test_impossible_stages_are_named():
    """Seed outweighs its fruit, dries to more, packs to more."""
    assert ("wet", "dry", "packed") == find_impossible(ProcessingRun(1, 100, 90, 11, 95, 96))
    assert () == find_impossible(ProcessingRun(1, 100, 90, 10, 90, 90))


@pytest.mark.parametrize(
    ("value", "standing"), [(49, "below"), (50, "within"), (1200, "within"), (1201, "above")]
)
def test_a_range_includes_its_ends(value, standing):
    """Below, within, above; an open end shuts nothing out."""
    assert standing == place_in_range(value, 50, 1200)
    assert "within" == place_in_range(value, None, None)


def test_own_seasons():
    """The median of three, and a figure above them all."""
    found = compare_with_history(0.3, [0.2, 0.25, 0.1])

    assert (0.2, 0.1, 0.25, 3, 1.5, "above") == (
        found.median, found.low, found.high, found.seasons, pytest.approx(found.ratio), found.standing,
    )  # fmt: skip
    assert None is compare_with_history(0.3, [])
    assert None is compare_with_history(0.3, [0]).ratio


def test_expected_and_recovered_seed():
    """No fruit, no seed; all of it recovered is one."""
    assert 0.0 == expect_seed(0, 450, 16)
    assert 1.0 == recover(288, expect_seed(40, 450, 16))


def test_nonsense_is_refused():
    """Negative weights, a range upside down, an expectation of nothing."""
    with pytest.raises(ValueError, match="at least 0"):
        find_yields(ProcessingRun(fruits=-1))
    with pytest.raises(ValueError, match="upside down"):
        place_in_range(1, 3, 2)
    with pytest.raises(ValueError, match="more than zero"):
        recover(1, 0)


def test_fruit_without_seed_gives_none():
    """No seeds a fruit is an expectation, too; 40 fruits of 450 at 16 g a thousand are 288 g."""
    assert (0.0, 288.0) == (expect_seed(40, 0, 16), expect_seed(40, 450, 16))


def test_a_stage_without_the_one_before_is_possible():
    """An absent weight can be outweighed by nothing, and outweighs nothing."""
    assert () == find_impossible(ProcessingRun(fruits=1, wet_mg=90, packed_mg=10))
    assert () == find_impossible(ProcessingRun(fruit_mg=90, dry_mg=10))
    assert () == find_impossible(ProcessingRun())
    # 91 g of wet seed without a word about what floated off.
    assert ("wet",) == find_impossible(ProcessingRun(fruit_mg=90, wet_mg=91))


def test_each_kind_of_weight_must_be_a_weight():
    """Whichever of the six is negative."""
    for place in range(6):
        masses = [100, 90, 80, 0, 20, 20]
        masses[place] = -1
        with pytest.raises(ValueError, match="at least 0"):
            find_yields(ProcessingRun(*masses))


def test_floated_seed_needs_both_weights():
    """One alone is no share; nothing floated off is a share of nothing."""
    assert None is find_yields(ProcessingRun(wet_mg=80)).floated_of_wet
    assert None is find_yields(ProcessingRun(floated_mg=20)).floated_of_wet
    assert (0.0, 0.2) == (
        find_yields(ProcessingRun(wet_mg=80, floated_mg=0)).floated_of_wet,
        find_yields(ProcessingRun(wet_mg=80, floated_mg=20)).floated_of_wet,
    )
    assert 0.0 == find_yields(ProcessingRun(wet_mg=80, dry_mg=0)).dry_of_wet


@pytest.mark.parametrize(
    ("low", "high", "standings"),
    [(None, 3, "within within above"), (3, None, "below within within"), (3, 3, "below within above")],
)
def test_a_range_may_be_open_or_a_point(low, high, standings):
    """Of two, three and four."""
    assert standings.split() == [place_in_range(value, low, high) for value in (2, 3, 4)]


def test_own_seasons_by_hand():
    """Among them it is within, and a figure at the lowest or the highest still is."""
    found = compare_with_history(30, [10, 20, 30, 60])

    assert (25.0, 10.0, 60.0, 4, 1.2, "within") == (
        found.median, found.low, found.high, found.seasons, found.ratio, found.standing,
    )  # fmt: skip
    assert ["below", "within", "within", "above"] == [
        compare_with_history(value, [10, 60]).standing for value in (9, 10, 60, 61)
    ]


def test_nothing_recovered_is_a_share():
    """None of what was expected; without a thousand-seed weight nothing can be expected."""
    assert (0.0, 0.5, 2.0) == (recover(0, 288), recover(144, 288), recover(576, 288))
    with pytest.raises(ValueError, match="thousand-seed weight must be more"):
        expect_seed(40, 450, 0)
    with pytest.raises(ValueError, match="Seeds a fruit"):
        expect_seed(40, -1, 16)
