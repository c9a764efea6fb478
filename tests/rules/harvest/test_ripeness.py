from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from certgen.standards import load_profile

ON = date(2026, 10, 31)


def farm(seasons, harvest, bags=1, **tables):
    """Some bags, one picking and a lot of it."""
    return seasons.season_of(
        **{
            "blocks": [seasons.block()],
            "plantings": [seasons.planting()],
            "trees": [seasons.tree("T1")],
            "bagging": [seasons.bag(f"B{n}", "T1") for n in range(1, bags + 1)],
            "harvests": [harvest],
            "batches": [seasons.batch("X1", ["H1"], bags)],
            "lots": [seasons.lot("L1", [{"batch": "X1", "weight": f"{8 * bags} g"}], 8 * bags)],
            **tables,
        }
    )


@pytest.mark.parametrize(("days", "expected"), [(111, 1), (112, 0), (210, 0), (211, 1)])
def test_the_days_from_cover_to_picking_have_bounds(seasons, days, expected, find):
    """On the bound is within."""
    harvest = seasons.harvest("H1", ["B1"], date=seasons.COVERED + timedelta(days))

    assert expected == len(find(farm(seasons, harvest), "harvest-interval-unlikely"))


def test_one_odd_picking_is_one_gap(seasons, find):
    """Three bags of it were all covered on one day: most likely the picking's day is wrong."""
    harvest = seasons.harvest("H1", ["B1", "B2", "B3"], date=seasons.COVERED + timedelta(60))
    (gap,) = find(farm(seasons, harvest, bags=3), "harvest-interval-unlikely")

    assert ("unproven", 2) == (gap.weight, len(gap.others))
    assert "can hardly be right" in gap.message
    assert "The same goes for 2 bags more of it" in gap.message


def test_a_picking_before_its_cover_is_told_elsewhere(seasons, find):
    """`date-out-of-order` speaks of days that run backwards."""
    harvest = seasons.harvest("H1", ["B1"], date=seasons.COVERED - timedelta(1))

    assert () == find(farm(seasons, harvest), "harvest-interval-unlikely")


@pytest.mark.parametrize(
    ("stage", "said"),
    [
        ("mature green", "before 'colour break'"),
        ("colour break", None),
        ("half ripe", None),
        ("ripe", None),
        ("over-ripe", None),
    ],
)
def test_fruit_is_practice_from_colour_break_to_over_ripe(seasons, stage, said, find):
    """Ripe and over-ripe fruit gives the best seed, and greener fruit ripens on once its colour breaks."""
    found = find(farm(seasons, seasons.harvest("H1", ["B1"], stage=stage)), "harvest-stage")

    assert ([said] if said else []) == [said for gap in found if said in gap.message]


@pytest.mark.parametrize(
    ("stage", "said"), [("mature green", "before"), ("ripe", "after"), ("half ripe", None)]
)
def test_the_stage_is_told_as_before_or_after(seasons, stage, said, find):
    """In the order of the crop's own words, whatever stretch of them a crop's practice is."""
    papaya = load_profile("papaya")
    middle = ("colour break", "quarter ripe", "half ripe")
    profile = replace(papaya, roles={**papaya.roles, "harvest_stages": middle})
    found = find(farm(seasons, seasons.harvest("H1", ["B1"], stage=stage)), "harvest-stage", profile=profile)

    assert ([said] if said else []) == [said for gap in found if f", {said} '" in gap.message]


def test_fruit_that_still_ripens_is_not_asked_for(seasons, find):
    """A picking has its time until it must be in a batch."""
    season = farm(seasons, seasons.harvest("H1", ["B1"]), batches=[], lots=[])

    assert () == find(season, "harvest-unprocessed", on=seasons.PICKED + timedelta(21))
    assert ["H1"] == [
        gap.id for gap in find(season, "harvest-unprocessed", on=seasons.PICKED + timedelta(22))
    ]


@pytest.mark.parametrize(
    ("days", "weights"),
    [(111, ["unproven"]), (112, []), (210, []), (211, ["advice"]), (300, ["advice"]), (301, ["unproven"])],
)
def test_a_fruit_hangs_so_long_and_in_a_cold_season_longer(seasons, days, weights, find):
    """Winter fruit up to the profile's last bound is advice; beyond it, or too soon, it is other fruit."""
    harvest = seasons.harvest("H1", ["B1"], date=seasons.COVERED + timedelta(days))
    lot = seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8, day=170)
    season = farm(seasons, harvest, batches=[seasons.batch("X1", ["H1"], day=160)], lots=[lot])

    assert weights == [gap.weight for gap in find(season, "harvest-interval-unlikely", on=date(2027, 1, 31))]
