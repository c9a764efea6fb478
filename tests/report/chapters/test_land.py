"""Land and follow-up: what changed, and how long to keep what."""

from __future__ import annotations

from datetime import date

import pytest
from printed import cell_text

from certgen.dossier.due import list_retention
from certgen.examination import examine
from certgen.report.chapters.land import (
    build_cautions,
    build_changes,
    build_land,
    build_retention,
    tables_told,
)
from certgen.report.context import Context
from certgen.typeset.parts import Grid, Prose

ON = date(2026, 11, 25)


@pytest.fixture(scope="module")
def context(example_season):
    """The example season, ready to be told."""
    return Context(examine(example_season, ON))


def test_the_records_and_what_follows_from_them_stand_together(context):
    """Tables of the land, then the plan, the changes and how long to keep what, each once."""
    (section,) = (one for one in build_land(context, 480).sections if one.anchor == "land/records")
    (told,) = section.parts
    anchors = [register.anchor for register in told.registers]

    assert ["blocks", "plantings-page", "selection"] == anchors[:3]
    assert ["plan", "changes", "keep"] == anchors[-3:]


def test_changes_are_those_of_the_result(context):
    """Each subject that changed has its row, and names what is new."""
    moved, altered = (part for part in build_changes(context).parts if isinstance(part, Grid))
    rows = {cell_text(row.cells[0]): cell_text(row.cells[1]) for row in moved.rows}

    assert [one.title for one in context.result.changes.changed if one.added or one.removed] == list(rows)
    for change in context.result.changes.changed:
        assert all(name in rows[change.title] for name in change.added[:12])
    assert [one.id for change in context.result.changes.changed for one in change.altered] == [
        cell_text(row.cells[0]) for row in altered.rows
    ]


def test_every_clock_is_printed(context):
    """What is to be kept, and until when, is the dossier's."""
    (grid,) = build_retention(context).parts

    assert [
        (one.identifier, one.until.isoformat() if one.until else "not known yet")
        for one in list_retention(context.result)
    ] == [(cell_text(row.cells[1]), cell_text(row.cells[2])) for row in grid.rows]


def test_tables_without_a_record_share_a_line(result):
    """Three headings over three empty tables would fill a page with nothing."""
    sections = {section.anchor: section for section in build_land(Context(result), 480).sections}
    said, told = sections["land/records"].parts

    assert {"inputs", "cleaning", "incidents"}.isdisjoint(register.anchor for register in told.registers)
    assert isinstance(said, Prose)
    assert "No input is recorded" in said.paragraphs[0]
    assert "No cleaning is recorded" in said.paragraphs[0]


def test_long_tables_are_left_to_the_registers(seasons, tmp_path):
    """More inputs than a chapter holds are told once, in their register, and the chapter says so."""
    inputs = [
        {"input": f"I{n}", "date": "2026-02-01", "block": "East", "material": "compost"} for n in range(61)
    ]
    seasons.write_season(tmp_path, **{**seasons.one_line(), "inputs": inputs})
    context = Context(examine(tmp_path, date(2026, 10, 31)))
    said, told = next(one.parts for one in build_land(context, 480).sections if one.anchor == "land/records")

    assert said.paragraphs[0].startswith("The registers have 61 inputs.")
    assert "inputs" not in {register.table for register in told.registers}
    assert "inputs" not in tables_told(context)


def test_no_caution_is_left_out(context):
    """Two to a row, and every one of the crop's."""
    (part,) = build_cautions(context).parts

    shown = [one for pair in part.pairs for one in pair]
    for caution, one in zip(context.profile.cautions.all, shown, strict=True):
        assert f"{caution.long} This defers to {caution.defers_to}." == one.text
    assert {1, 2} >= {len(pair) for pair in part.pairs}
