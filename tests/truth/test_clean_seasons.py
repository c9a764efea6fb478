"""A season that is clean by construction has no gap of any weight, and every lot in it is traced."""

from __future__ import annotations

from datetime import timedelta

import pytest
from generator import ORGANIC, examine_truth, grow_season, season_of_seed
from hypothesis import given, settings
from hypothesis import strategies as st


def alarms(truth):
    """What is found in a season: gaps, rules that failed, lots that aren't traced."""
    result, _ = examine_truth(truth)
    return (
        [f"{gap.rule}: {gap.message}" for gap in result.gaps],
        result.crashed,
        [lot for lot, standing in result.lots.items() if standing.standing != "traced"],
    )


@settings(max_examples=20)
@given(st.integers(0, 10**9))
def test_nothing_is_found_in_a_clean_season(seed):
    """Whatever the crop, the standards, the way of sampling, packing and selling."""
    assert ([], (), []) == alarms(season_of_seed(seed))


@pytest.mark.parametrize("crop", ["papaya", "squash"])
def test_nothing_is_found_under_all_standards_at_once(crop):
    """What satisfies each standard satisfies them together, over two seasons."""
    from random import Random

    truth = grow_season(Random(11), crop=crop, standards=[*ORGANIC, "seed-law"], earlier=True)

    assert ([], (), []) == alarms(truth)


@pytest.mark.parametrize("seed", [3, 190])
def test_a_clean_season_stays_clean_years_later(seed):
    """Nothing that was settled comes open with time."""
    truth = season_of_seed(seed)
    truth.on += timedelta(days=1500)

    assert ([], (), []) == alarms(truth)


def test_the_same_seed_names_the_same_season(tmp_path):
    """A false alarm can be looked at again."""
    first, again = season_of_seed(5), season_of_seed(5)

    assert first.write(tmp_path / "one") == again.write(tmp_path / "two")
    assert first.tables == again.tables


def test_seasons_are_rich():
    """Every table, kind of movement, test, status and crop turns up: a bare season shows little."""
    seen: set[str] = set()
    for seed in range(80):
        truth = season_of_seed(seed)
        seen |= {table for table, rows in truth.tables.items() if rows}
        seen |= {one["kind"] for table in ("movements", "tests") for one in truth.tables.get(table, ())}
        seen |= {one["status"] for one in truth.tables["lots"]}
        seen |= {"pool" for one in truth.tables["screening"] if len(one.get("trees", ())) > 1}
        seen |= {"pollen" for one in truth.tables["bagging"] if "pollen_parent" in one}
        seen |= {"blend" for lot in truth.tables["lots"] for part in lot["sources"] if "lot" in part}
        seen |= {"own seed" for one in truth.tables["plantings"] if "lot" in one["origin"]}
        seen |= {truth.season["crop"], *truth.season["standards"], *(["earlier"] if truth.previous else [])}

    assert seen >= {
        "blocks", "plantings", "trees", "screening", "bagging", "harvests", "batches", "cleaning", "lots",
        "tests", "movements", "inputs", "incidents", "opening stock", "received", "returned", "sold",
        "transferred", "sown", "sampled", "retained", "discarded", "downgraded", "counted", "germination",
        "moisture", "purity", "seed weight", "transgene", "organic", "transitional", "conventional", "pool",
        "pollen", "blend", "own seed", "papaya", "squash", *ORGANIC, "seed-law", "earlier",
    }  # fmt: skip
