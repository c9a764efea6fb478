"""Blocks by their measured corners."""

from __future__ import annotations

import pytest

from certgen.rules.growing.land_map import lay_out_blocks, tell_area

SQUARE = ["0 0", "100 0", "100 50", "0 50"]


@pytest.mark.parametrize(
    ("corners", "said"),
    [
        (SQUARE, None),
        ([*SQUARE, "0 0"], None),
        (["0 0", "100 0", "0 50", "100 50"], "its sides cross each other"),
        (["0 0", "100 0"], "it has 2 corners, and an area needs three"),
        (["0 0", "0 0", "0 0"], "it has 0 corners"),
        (["0 0", "100 0", "200 0"], "there is no ground between its corners"),
        ([f"{at} {at * at}" for at in range(201)], "it has 201 corners, and a map here takes 200"),
    ],
)
def test_a_block_that_cannot_lie_as_it_is_drawn_is_told(seasons, stocked, find, corners, said):
    """A walk that ends where it began has one corner fewer."""
    found = find(stocked(blocks=[seasons.block(corners=corners)]), "block-map-impossible")

    assert ([("advice", ())] if said else []) == [(gap.weight, gap.lots) for gap in found]
    assert all(said in gap.message for gap in found)


@pytest.mark.parametrize(("left", "found"), [(100, 0), (99, 0), (90, 1)])
def test_two_blocks_on_one_ground_are_told(seasons, stocked, find, left, found):
    """A metre is what a tape may be off by."""
    other = [f"{left} 0", f"{left + 80} 0", f"{left + 80} 50", f"{left} 50"]
    blocks = [seasons.block(corners=SQUARE), seasons.block("West", corners=other)]
    told = find(stocked(blocks=blocks), "block-map-impossible")

    assert ["By their corners block East and block West lie on the same ground."] * found == [
        gap.message for gap in told
    ]


@pytest.mark.parametrize(
    ("area", "said"),
    [
        ("0.5 ha", None),
        ("5,200 m2", None),
        ("0.53 ha", "0.50 ha, 6 % less. Usual is at most 5 %."),
        ("1 acre", "0.50 ha, 24 % more"),
        (None, None),
    ],
)
def test_an_area_is_the_area_between_the_corners(seasons, stocked, find, area, said):
    """Within what a tape and a deed may differ by."""
    more = {"area": area.replace(",", "")} if area else {}
    found = find(stocked(blocks=[seasons.block(corners=SQUARE, **more)]), "block-area-differs")

    assert bool(said) == bool(found)
    assert all(said in gap.message for gap in found)


def _degrees(seasons, *blocks):
    details = {"map": {"measured_in": "degrees"}}
    return seasons.season_of(details=details, blocks=list(blocks))


def test_latitude_and_longitude_are_laid_out_together(seasons, case_of):
    """Two fields of a hundredth of a degree's thousandth, side by side."""
    one = ["19.5000 -155.9000", "19.5000 -155.8990", "19.5005 -155.8990", "19.5005 -155.9000"]
    two = ["19.5000 -155.8990", "19.5000 -155.8980", "19.5005 -155.8980", "19.5005 -155.8990"]
    season = _degrees(seasons, seasons.block(corners=one), seasons.block("West", corners=two))
    first, second = lay_out_blocks(case_of(season))

    assert ("", "") == (first.fault, second.fault)
    assert first.corners[1] == pytest.approx(second.corners[0])


@pytest.mark.parametrize(
    ("corner", "said"),
    [
        ("95 10", "one of its corners is no latitude and longitude"),
        ("-19.5 -155.9", "more than 100 km apart"),
    ],
)
def test_a_slip_in_a_degree_is_told(seasons, find, corner, said):
    """The block isn't drawn."""
    corners = ["19.5 -155.9", "19.5 -155.899", "19.5005 -155.899", corner]
    (gap,) = find(_degrees(seasons, seasons.block(corners=corners)), "block-map-impossible")

    assert said in gap.message


@pytest.mark.parametrize(("metres", "told"), [(405, "405 m²"), (2833, "0.28 ha"), (1000, "0.10 ha")])
def test_areas_are_told_as_people_do(metres, told):
    """Small ones in square metres."""
    assert told == tell_area(metres)
