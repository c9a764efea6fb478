"""The spot check: the draw that its text gives, whose it is, and room for what is found."""

from __future__ import annotations

from datetime import date

import pytest

from certgen.dossier.spot_check import DrawKey, draw_check, own_asked, own_text
from certgen.examination import examine
from certgen.report.chapters.spot_check import build_draw_ground, build_spot_check
from certgen.report.chapters.trace import build_trace
from certgen.report.context import Context

COVERS = ("certgen.report.chapters.trace",)
ON = date(2026, 11, 20)


@pytest.fixture(scope="module")
def context(example_season):
    """The example season, ready to be told."""
    return Context(examine(example_season, ON))


@pytest.fixture(scope="module")
def sheets(context):
    """The sheets of bags, trees and lots."""
    _, entries = build_spot_check(context).parts
    return entries.registers


def test_the_sheet_is_the_draw_that_its_text_gives(context, sheets):
    """Anyone with the printed text draws the same bags."""
    ((group,), *_) = (sheet.groups for sheet in sheets)
    key = DrawKey(own_text(context.result))
    check = draw_check(context.result, own_asked("bags"), key, len(group.entries))

    assert [one.identifier for one in check.drawn] == [entry.runs[0].text for entry in group.entries]
    assert all(entry.runs[-1].text.endswith("______") for entry in group.entries)


def test_the_spot_check_says_whose_it_is(context, sheets):
    """The grower's own, with the way to an inspector's; and what each sheet was drawn from."""
    told = build_spot_check(context).parts[0].paragraphs[0]

    assert "grower’s own draw" in told
    assert "‘certgen sample --freeze’" in told
    assert "of bags in the papers, of trees and lots on the spot" in told
    assert [
        "Bags to look at: 25 of 152 of the season on record",
        "Parent trees to look at: 16 of 31 that stand on 20 November 2026",
        "Lots to look at: 9 of 9 that lie in store on 20 November 2026",
    ] == [sheet.title for sheet in sheets]


def test_how_it_was_drawn_stands_in_the_appendix(context):
    """The text, the way to draw it again, its size and what it can miss."""
    (prose,) = build_draw_ground(context).parts
    said = " ".join(prose.paragraphs)

    assert own_text(context.result) in said
    assert "SHA-256" in said
    assert "bags: 1: " in said


def test_only_a_tag_that_differs_is_told(sheets):
    """A tag like the log would fill the sheet with what stands beside it."""
    bags = {entry.runs[0].text: entry.runs[1].text for entry in sheets[0].groups[0].entries}

    assert {"tag" in text for name, text in bags.items() if name not in {"B26-121", "B26-125"}} == {False}


def test_a_season_without_records_says_so(seasons, tmp_path):
    """No sheet, no way of drawing, and no error."""
    seasons.write_season(tmp_path)
    context = Context(examine(tmp_path, ON))
    (prose,) = build_spot_check(context).parts

    assert "nothing to draw from" in prose.paragraphs[0]
    assert build_draw_ground(context) is None


def test_a_sale_is_followed_to_the_ground(context):
    """From the largest sale over tests, bags and trees to the block; each step opens the file that holds"
    " it."""
    grid = build_trace(context).sections[0].parts[1]
    steps = ["".join(run.text for run in row.cells[0].runs) for row in grid.rows]
    places = [row.cells[3].runs for row in grid.rows]

    assert ["Sale", "2 lots", "3 tests"] == steps[:3]
    assert ["Planting", "Block"] == steps[-2:]
    assert {True} == {place[0].href.startswith("records/") for place in places}
