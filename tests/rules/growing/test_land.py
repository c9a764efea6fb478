from __future__ import annotations

from datetime import timedelta

import pytest

from certgen.lineage import Node

ONE = timedelta(1)


@pytest.mark.parametrize(
    ("block", "claimed", "field", "said"),
    [
        ({}, "organic", None, ""),
        ({"organic_since": 0}, "organic", None, ""),
        ({"organic_since": 1}, "organic", ("organic_since",), "is organic only since 9 June 2026"),
        ({"organic_since": 1}, "transitional", None, ""),
        ({"organic_since": None}, "organic", None, ""),
        ({"status": "transitional"}, "organic", ("status",), "is transitional"),
        ({"status": "conventional", "organic_since": 1}, "organic", ("status",), "is conventional"),
        ({"status": "conventional"}, "transitional", None, ""),
        ({"block": "West"}, "organic", None, ""),
    ],
)
def test_organic_fruit_comes_of_organic_ground(seasons, stocked, find, block, claimed, field, said) -> None:
    """On the day of its picking, which may be the first; unknown ground is told by another rule."""
    entry = {**seasons.block(), **block}
    since = block.get("organic_since", -2000)
    entry["organic_since"] = None if since is None else seasons.PICKED + since * ONE
    entry = {name: value for name, value in entry.items() if value is not None}
    season = stocked(blocks=[entry], harvests=[seasons.harvest("H1", ["B1"], status=claimed)])
    found = find(season, "block-not-organic")

    assert ([(field, "rejects", ("L1",))] if field else []) == [
        (gap.field, gap.weight, gap.lots) for gap in found
    ]
    assert all(
        f"Block East {said}, but picking H1 from it is called organic." == gap.message for gap in found
    )


def test_each_block_is_told_once_for_all_its_pickings(seasons, stocked, find) -> None:
    """Two pickings of one block and one of another; organic ground beside them is left alone."""
    blocks = [seasons.block(), seasons.block("North", status="conventional"),
              seasons.block("West", status="transitional")]  # fmt: skip
    season = stocked(
        blocks=blocks,
        plantings=[seasons.planting(f"P{at}", block=one["block"]) for at, one in enumerate(blocks)],
        trees=[seasons.tree(f"T{at}", planting=f"P{at}") for at in range(3)],
        bagging=[seasons.bag(f"B{at}", f"T{at % 3}") for at in range(5)],
        harvests=[seasons.harvest(f"H{at}", [f"B{at}"]) for at in range(5)],
    )
    north, west = find(season, "block-not-organic")

    assert (
        ("North", {Node("harvests", "H1"), Node("harvests", "H4")}),
        ("West", {Node("harvests", "H2")}),
    ) == (
        (north.id, set(north.starts)),
        (west.id, set(west.starts)),
    )
    assert "pickings H1 and H4 from it are called organic" in north.message
