from __future__ import annotations

from datetime import timedelta

import pytest


@pytest.mark.parametrize(
    ("left", "said"),
    [
        ((), "has no tag"),
        (("variety",), "doesn't say its date or tree"),
        (("date", "tree"), "doesn't say its variety"),
    ],
)
def test_a_tag_is_told_apart_from_half_a_tag(seasons, stocked, find, left, said) -> None:
    """No tag at all, or what is missing on it."""
    bag = seasons.bag("B1", "T1")
    bag = {**bag, "tag": {key: value for key, value in bag["tag"].items() if key in left}}
    (gap,) = find(stocked(bagging=[bag]), "bag-untagged")

    assert said in gap.message


def test_a_whole_tag_is_no_gap(stocked, find) -> None:
    """Date, variety and tree stand on it."""
    assert () == find(stocked(), "bag-untagged")


@pytest.mark.parametrize(
    ("tag", "field", "said"),
    [
        ({}, None, ""),
        ({"variety": "AMBER  kestrel"}, None, ""),
        ({"variety": None}, None, ""),
        ({"date": None}, None, ""),
        ({"tree": None}, None, ""),
        ({"tree": "T2"}, ("tag", "tree"), "says tree T2 where the log says T1."),
        ({"variety": "Moth Lantern"}, ("tag", "variety"),
         "says variety Moth Lantern where tree T1 is Amber Kestrel."),
        ({"date": "2026-01-13"}, ("tag", "date"), "says 13 January 2026 where the log says 12 January 2026."),
        ({"date": "2026-01-13", "tree": "T2"}, ("tag", "tree"),
         "says tree T2 where the log says T1 and 13 January 2026 where the log says 12 January 2026."),
    ],
)  # fmt: skip
def test_a_tag_says_what_the_log_says(seasons, stocked, find, tag, field, said) -> None:
    """As far as it says anything, and whatever the letter case."""
    bag = seasons.bag("B1", "T1")
    words = {key: value for key, value in {**bag["tag"], **tag}.items() if value is not None}
    found = find(stocked(bagging=[{**bag, "tag": words}]), "bag-tag-differs")

    assert ([f"The tag of bag B1 {said}"] if said else []) == [gap.message for gap in found]
    assert all(".".join(field) == ".".join(map(str, gap.field)) for gap in found)


def test_a_tag_on_an_unknown_tree_differs_from_no_variety(seasons, stocked, find) -> None:
    """That the tree is unknown is told elsewhere."""
    bag = seasons.bag("B1", "T9")

    assert () == find(stocked(bagging=[bag]), "bag-tag-differs")


@pytest.mark.parametrize(("stage", "found"), [("open", 1), ("closed bud", 0), (None, 0)])
def test_a_bag_goes_over_a_closed_bud(seasons, stocked, find, stage, found) -> None:
    """A stage that nobody wrote down is no open flower."""
    bag = {key: value for key, value in seasons.bag("B1", "T1", stage=stage).items() if value is not None}

    assert ["rejects"] * found == [gap.weight for gap in find(stocked(bagging=[bag]), "bag-over-open-flower")]


def failed(seasons, days, condition="torn"):
    """A bag that a look found so after some days; None for a look without a day."""
    look = {"date": seasons.COVERED + timedelta(days), "condition": condition}
    return seasons.bag("B1", "T1", checks=[look])


@pytest.mark.parametrize(
    ("days", "condition", "found"),
    [(0, "torn", 1), (6, "loose", 1), (7, "gone", 0), (8, "torn", 0), (3, "intact", 0)],
)
def test_a_cover_must_hold_while_the_stigma_takes_pollen(
    seasons, stocked, find, days, condition, found
) -> None:
    """Seven days by the profile; whatever befalls it later does no harm."""
    gaps = find(stocked(bagging=[failed(seasons, days, condition)]), "bag-failed")

    assert ["rejects"] * found == [gap.weight for gap in gaps]
    assert all(f"was found {condition} on" in gap.message for gap in gaps)
    assert all(f", {days} days after it was put on." in gap.message for gap in gaps)


@pytest.mark.parametrize("figure", [None, {"low": None, "high": 30}])
def test_a_crop_whose_flowers_nobody_knows_needs_its_cover_for_good(
    seasons, stocked, find, crop, figure
) -> None:
    """Its profile doesn't say when it may come off."""
    season = stocked(bagging=[failed(seasons, 60)])

    assert () == find(season, "bag-failed")
    assert 1 == len(find(season, "bag-failed", profile=crop(days_covered=figure)))


def test_a_failed_bag_that_nobody_picked_is_told_as_such(seasons, stocked, find) -> None:
    """No lot rests on it, so it is a loose end."""
    (gap,) = find(stocked(bagging=[failed(seasons, 2)], harvests=[], batches=[], lots=[]), "bag-failed")

    assert "advice" == gap.weight
    assert gap.message.endswith("No picking took its fruit.")
