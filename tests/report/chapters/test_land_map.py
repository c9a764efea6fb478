"""The map's section, and the plan's."""

from __future__ import annotations

from datetime import date

import pytest

from certgen.examination import examine
from certgen.report.chapters.land_map import build_land_map, build_plan_sections
from certgen.report.context import Context
from certgen.typeset.parts import Picture, Prose

SQUARE = ["0 0", "100 0", "100 50", "0 50"]


@pytest.fixture
def context(seasons, tmp_path):
    """`context(details, **block)`: a season with one block and its map."""

    def build(details, **block):
        seasons.write_season(tmp_path, details=details, blocks=[seasons.block(**block)])
        return Context(examine(tmp_path, date(2026, 10, 31)))

    return build


@pytest.mark.parametrize(
    ("details", "block", "kinds"),
    [
        ({}, {}, None),
        ({}, {"corners": SQUARE}, [Picture]),
        ({}, {"corners": SQUARE, "sides": ["lane", "hedge", "wall", "track"]}, [Picture]),
        ({}, {"corners": SQUARE, "sides": ["lane"]}, [Picture]),
        ({"map": {"drawn": "map/plan.png"}}, {}, [Prose]),
        ({}, {"corners": ["0 0", "100 0", "0 50", "100 50"]}, None),
    ],
)
def test_a_map_is_shown_where_one_was_measured_or_drawn(context, details, block, kinds):
    """A block that can't lie so isn't drawn."""
    section = build_land_map(context(details, **block), 480)

    assert kinds == (None if section is None else [type(part) for part in section.parts])


def test_the_map_says_in_words_what_it_shows(context):
    """For those who don't see it."""
    details = {"map": {"from": "the gatepost", "north": 12, "measured_by": "K. Verrall"}}
    (picture,) = build_land_map(context(details, corners=SQUARE, area="0.5 ha"), 480).parts

    assert "Map of the land. To scale: East, organic, 0.50 ha." == picture.alt
    assert "the gatepost" in picture.svg
    assert (
        "Sides in metres, from each block’s corner 1 to 2 and on round: East 100.0, 50.0, 100.0, 50.0."
        == picture.caption
    )


def test_the_plans_sections_are_listed(context):
    """Each with its paper; none where the season names none."""
    plan = [{"section": "4", "title": "What is used", "date": "2026-01-02", "paper": "plan/4.txt"}]
    (part,) = build_plan_sections(context({"plan": plan})).parts

    assert "plan/4.txt" in str(part)
    assert build_plan_sections(context({})) is None
