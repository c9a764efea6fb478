from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
from seasons import without


def test_a_variety_is_spelled_as_it_was_first_written(seasons, stocked, case_of) -> None:
    """Letter case and spaces make no other variety; a name that stands nowhere is left as it is."""
    plantings = [seasons.planting(), seasons.planting("P2", variety=" AMBER   kestrel")]
    case = case_of(stocked(plantings=plantings))
    names = case.plantings["variety"].tolist()
    other = case.season.table("lots")["variety"].where(lambda column: column.isna(), "Moth Lantern")

    assert ["Amber Kestrel"] * 2 == names
    assert ["Moth Lantern"] == case.spelling.spell(other).tolist()


def test_what_two_years_call_alike_is_called_so_in_each(seasons, carried, last_year, case_of) -> None:
    """Tree T1 of another planting stood there until it was removed; the farm calls it by its year, and what
    was written on its tags and leaves names it all the same."""
    old = seasons.tree("T1", planting="P9", removed=date(2025, 9, 30))
    bag = seasons.bag("B9", "T1", covered=date(2025, 1, 12), tag={"date": "2025-01-12", "tree": "T1"})
    season = replace(
        carried(), previous=last_year(trees=[old], bagging=[without(bag, "checks", "uncovered")])
    )
    case = case_of(season)
    said, names = (
        np.array(one, dtype=object) for one in (["T1", "T1", "T2"], ["T1", "T1 (2025)", "T1 (2025)"])
    )

    assert ["T1", "T1 (2025)"] == case.season.table("trees")["tree"].tolist()
    bags = case.joined("bags")
    assert ["T1", "T1 (2025)"] == bags["tree"].tolist()
    assert [True, True, False] == case.spelling.are_called(said, names).tolist()
    assert [True, True] == case.spelling.are_called(bags["tag.tree"], bags["tree"]).tolist()
