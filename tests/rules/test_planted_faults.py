"""A fault planted anywhere in a clean season is found, at its record, and nothing else is."""

from __future__ import annotations

import copy
from datetime import date

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from certgen.examination import examine_season

COVERS = ("certgen.rules",)
ON = date(2026, 10, 31)
# Each season is written and read: few of them, and none made smaller for minutes when one fails.
GENERATED = settings(
    max_examples=4,
    phases=[Phase.explicit, Phase.reuse, Phase.generate],
    suppress_health_check=list(HealthCheck),
)
#: Rule, table of the record on the line from ground to lot, what is changed there (None: taken away).
FAULTS = [
    ("report-missing", "screening", {"report": None, "evidence": None}),
    ("sample-out-of-range", "screening", {"petiole": "6 in"}),
    ("controls-unwritten", "screening", {"controls": None}),
    ("method-does-not-cover", "screening", {"method": "gus", "targets": None}),
    ("bag-on-wrong-flower", "bagging", {"flower": "male"}),
    ("bag-buds-not-cleared", "bagging", {"other_buds_cleared": False}),
    ("bag-not-secured", "bagging", {"secured": False}),
    ("uncovered-early", "bagging", {"uncovered": date(2026, 1, 16)}),
    ("bag-reused", "bagging", {"bag_use": "re-used"}),
    ("bag-outcome-differs", "bagging", {"outcome": "lost"}),
    ("fruit-unmarked", "bagging", {"fruit_marked": False}),
    ("more-fruit-than-bags", "harvests", {"fruits": 9}),
    ("harvest-stage", "harvests", {"stage": "mature green"}),
    ("blade-sharp", "batches", {"blade": "sharp"}),
    ("rinse-count", "batches", {"rinses": 1}),
    ("drying-out-of-range", "batches", {"moisture": "15 %"}),
    ("land-too-recent", "blocks", {"last_prohibited_substance": "2024-02-01"}),
    ("land-history-missing", "blocks", {"last_prohibited_substance": None, "organic_since": None}),
    ("boundary-undescribed", "blocks", {"boundary": None}),
    ("isolation-short", "blocks", {"nearest_same_crop": "50 m"}),
    ("planting-without-origin", "plantings", {"origin": None}),
    ("supplier-certificate-missing", "plantings", {"origin": {"supplier": "a neighbour"}}),
]


def find_line(tables, bag):
    """The records that the bag's seed runs through, by table."""
    harvest = next(one for one in tables["harvests"] if bag["bag"] in one["bags"])
    return {
        "blocks": tables["blocks"][0],
        "plantings": tables["plantings"][0],
        "trees": next(one for one in tables["trees"] if one["tree"] == bag["tree"]),
        "screening": next(one for one in tables["screening"] if one["tree"] == bag["tree"]),
        "bagging": bag,
        "harvests": harvest,
        "batches": next(one for one in tables["batches"] if harvest["harvest"] in one["harvests"]),
    }


def number_tags(tables):
    """Each tag bears its bag's number, so that no other bag shares what is wrong with it."""
    for bag in tables["bagging"]:
        bag["tag"]["bag"] = bag["bag"]
    return tables


@pytest.mark.parametrize(("slug", "table", "change"), FAULTS, ids=[slug for slug, *_ in FAULTS])
@given(data=st.data())
@GENERATED
def test_a_planted_fault_is_found_and_nothing_else(slug, table, change, seasons, data):
    """At the very record that was changed."""
    tables = number_tags(copy.deepcopy(data.draw(seasons.clean_tables())))
    record = find_line(tables, data.draw(st.sampled_from(tables["bagging"])))[table]
    identifier = next(iter(record.values()))
    for field, value in change.items():
        if value is None:
            del record[field]
        else:
            record[field] = value
    result = examine_season(seasons.season_of(**tables), ON)

    assert {slug} == {gap.rule for gap in result.gaps}
    assert all(identifier in gap.ids for gap in result.gaps)


@pytest.mark.parametrize(
    "change", [{"secured": False}, {"flower": "male"}, {"checks": (), "uncovered": None, "outcome": "lost"}]
)
@given(data=st.data())
@GENERATED
def test_bags_of_one_tag_share_what_is_wrong_with_one(change, seasons, data):
    """Once the fruit is picked nothing but the tag tells where it hung."""
    tables = copy.deepcopy(data.draw(seasons.clean_tables()))
    bag = data.draw(st.sampled_from(tables["bagging"]))
    bag |= {field: value for field, value in change.items() if value is not None}
    for field in (field for field, value in change.items() if value is None):
        del bag[field]
    result = examine_season(seasons.season_of(**tables), ON)
    alike = {
        one["bag"]
        for one in tables["bagging"]
        if (one["tree"], one["covered"]) == (bag["tree"], bag["covered"]) and one is not bag
    }

    assert alike == {one for gap in result.gaps if gap.rule == "bag-tag-shared" for one in gap.ids}


@given(data=st.data())
@GENERATED
def test_a_run_of_other_seed_between_two_runs_is_found_at_every_run_since(seasons, data):
    """Until the equipment is cleaned; what was dry and gone before isn't touched."""
    tables = copy.deepcopy(data.draw(seasons.clean_tables()))
    for batch in tables["batches"]:
        batch["drying"]["on"] = (f"rack of {batch['batch']}",)
    later = data.draw(st.sampled_from(tables["batches"]))
    between = {
        "batch": "X0", "date": later["date"], "status": "conventional",
        "other_seed": "bought-in lettuce", "equipment": ("mixer",),
        "drying": {"method": "fan", "from": later["date"], "on": ("kitchen rack",)},
    }  # fmt: skip
    since = [one["batch"] for one in tables["batches"] if one["date"] >= later["date"]]
    tables["batches"].insert(0, between)
    tables["cleaning"] = []
    result = examine_season(seasons.season_of(**tables), ON)

    assert [("equipment-not-cleaned", one) for one in since] == [(gap.rule, gap.id) for gap in result.gaps]
