"""A season that is clean by construction has no gap of any weight, and every lot in it is traced.

What it rightly gets as advice is noted where it was grown: a record of last year that stands in this year's
folder, an own figure that let something pass.
"""

from __future__ import annotations

from copy import deepcopy
from datetime import timedelta
from random import Random

import pytest
from condensing import condense, ranges
from generator import ORGANIC, examine_truth, grow_season, season_of_seed
from hypothesis import given, settings
from hypothesis import strategies as st
from planted import FAULTS
from plot import Plot

COVERS = ("certgen.rules", "certgen.examination")


def alarms(truth):
    """What is found in a season: gaps, advice that is missing, rules that failed, lots that aren't traced."""
    result, _ = examine_truth(truth)
    found = {(gap.rule, one): gap for gap in result.gaps for one in gap.ids}
    told = {place: f"{gap.rule}: {gap.message}" for place, gap in found.items() if place not in truth.noted}
    return (
        list(told.values()),
        truth.noted - found.keys(),
        result.crashed,
        [lot for lot, standing in result.lots.items() if standing.standing != "traced"],
    )


CLEAN = ([], set(), (), [])


@settings(max_examples=20)
@given(st.integers(0, 10**9))
def test_nothing_is_found_in_a_clean_season(seed):
    """Whatever the crop, the standards, the way of sampling, packing and selling."""
    assert CLEAN == alarms(season_of_seed(seed))


@pytest.mark.parametrize("crop", ["papaya", "squash"])
def test_nothing_is_found_under_all_standards_at_once(crop):
    """What satisfies each standard satisfies them together, over two seasons."""
    truth = grow_season(Random(11), crop=crop, standards=[*ORGANIC, "seed-law"], earlier=True)

    assert CLEAN == alarms(truth)


@pytest.mark.parametrize("seed", [3, 190, 1003])
def test_a_clean_season_stays_clean_years_later(seed):
    """Nothing that was settled comes open with time."""
    truth = season_of_seed(seed)
    truth.on += timedelta(days=1500)

    assert CLEAN == alarms(truth)


def test_the_same_seed_names_the_same_season(tmp_path):
    """A false alarm can be looked at again."""
    first, again = season_of_seed(5), season_of_seed(5)

    assert first.write(tmp_path / "one") == again.write(tmp_path / "two")
    assert first.tables == again.tables


def folded(truth):
    """What is found and how the lots stand, whatever line it stands on."""
    result, _ = examine_truth(truth)
    return {(gap.rule, gap.weight, *sorted(gap.ids)) for gap in result.gaps}, dict(result.lots)


@pytest.mark.parametrize("slug", ["bag-failed", "controls-unwritten", "bag-untagged", "record-incomplete"])
@pytest.mark.parametrize("seed", [8, 77])
def test_what_was_said_once_for_many_says_the_same(seed, slug):
    """In rounds, letters and a routine as in every record by itself; silence stays silence, too."""
    plain = season_of_seed(seed)
    FAULTS[slug](Plot(plain, Random(seed)))
    plain.style = None
    once = deepcopy(plain)
    once.style = seed

    assert folded(plain) == folded(once)


def test_numbers_that_follow_one_another_become_a_range():
    """Three or more with the same letters and no gap between them."""
    names = ["26B1", "26B2", "26B3", "26B5", "26B6", "27B7", "N-1", "B01", "B02", "B03", "B-none"]

    assert ["26B1 to 26B3", "26B5", "26B6", "27B7", "N-1", "B01 to B03", "B-none"] == ranges(names)


def list_kinds(truth):
    """What a season holds, in words."""
    tables = truth.tables
    seen = {table for table, rows in tables.items() if rows}
    seen |= {one["kind"] for table in ("movements", "tests") for one in tables.get(table, ())}
    seen |= {one["status"] for one in tables.get("lots", ())}
    seen |= {"pool" for one in tables.get("screening", ()) if len(one.get("trees", ())) > 1}
    seen |= {"pollen" for one in tables.get("bagging", ()) if "pollen_parent" in one}
    seen |= {"blend" for lot in tables.get("lots", ()) for part in lot["sources"] if "lot" in part}
    seen |= {"own seed" for one in tables["plantings"] if "lot" in one["origin"]}
    seen |= {truth.season["crop"], *truth.season["standards"], *truth.season.get("routine", ())}
    seen |= {f"incident: {one['kind']}" for one in tables.get("incidents", ())}
    seen |= {f"round: {one['kind']}" for one in tables.get("rounds", ())}
    seen |= {"exception" for one in tables.get("rounds", ()) if "exceptions" in one}
    seen |= {"letter" for one in tables.get("letters", ()) if "samples" in one}
    return seen | {"never packed" for one in tables.get("batches", ()) if "never_packed" in one}


def list_crossings(truth):
    """What runs over from one season into the next."""
    before, tables = truth.previous, truth.tables
    if before is None:
        return set()
    own = {
        key: {one[key] for one in tables.get(table, ())}
        for table, key in (("bagging", "bag"), ("harvests", "harvest"), ("batches", "batch"))
    }
    seen = {"earlier", *(["two earlier"] if before.previous else [])}
    early = {one["bag"] for one in tables.get("bagging", ()) if one["covered"] < truth.season["from"]}
    both = {one["bag"] for one in before.tables.get("bagging", ())}
    for one in tables.get("harvests", ()):
        if set(one["bags"]) - own["bag"]:
            seen.add("bag of last year, in its folder")
        seen |= {"bag of last year, in both" if bag in both else "bag of last year, in this folder"
                 for bag in early & set(one["bags"])}  # fmt: skip
    if any(set(one["harvests"]) - own["harvest"] for one in tables.get("batches", ())):
        seen.add("picked last year")
    if any(part.get("batch", "x") not in own["batch"] for one in tables.get("lots", ())
           for part in one["sources"] if "batch" in part):  # fmt: skip
        seen.add("dried last year")
    last = before.season["to"]
    if any(one["packed"] > last for one in before.tables.get("lots", ())):
        seen.add("packed this year, in last year's folder")
    return seen


def test_seasons_are_rich():
    """Every table, kind of movement, test, status and crop turns up: a bare season shows little."""
    seen: set[str] = set()
    for seed in range(160):
        truth = season_of_seed(seed)
        seen |= list_crossings(truth)
        if truth.style is not None:
            seed_of_style = Random(truth.style)
            truth.season, truth.tables = condense(truth.season, truth.tables, truth.previous, seed_of_style)
        seen |= list_kinds(truth)

    assert seen >= {
        "blocks", "plantings", "trees", "screening", "bagging", "harvests", "batches", "cleaning", "lots",
        "tests", "movements", "inputs", "incidents", "rounds", "letters", "opening stock", "returned", "sold",
        "transferred", "sown", "sampled", "retained", "discarded", "downgraded", "counted", "germination",
        "moisture", "purity", "seed weight", "transgene", "organic", "transitional", "conventional", "pool",
        "pollen", "blend", "own seed", "papaya", "squash", *ORGANIC, "seed-law", "never packed",
        "laboratory", "blade", "bag_use", "packaging", "container_use", "storage", "exception", "letter",
        *(f"round: {one}" for one in ("sampling", "bagging", "check", "storm", "uncovering", "picking")),
        *(f"incident: {one}" for one in ("positive screening", "drift", "storm", "torn bags", "complaint",
                                         "recall", "other")),
        "earlier", "two earlier", "bag of last year, in its folder", "bag of last year, in this folder",
        "bag of last year, in both", "picked last year", "dried last year",
        "packed this year, in last year's folder",
    }  # fmt: skip
