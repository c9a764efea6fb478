"""The section on inspections: what earlier years left open first, then this year's visits."""

from __future__ import annotations

from datetime import date

import pytest
from seasons import write_season

from certgen.examination import examine
from certgen.report.chapters.inspections import build_inspections, open_lines
from certgen.report.context import Context
from certgen.typeset.parts import Grid

ON = date(2026, 10, 31)
FINDING = {"finding": "NC-1", "kind": "plan", "found": "no plan"}


@pytest.fixture
def shown(seasons, tmp_path):
    """The captions of the section's tables, and the cover's lines."""

    def build(*visits):
        write_season(tmp_path, **seasons.one_line(), visits=list(visits))
        context = Context(examine(tmp_path, ON))
        section = build_inspections(context)
        parts = () if section is None else section.parts
        captions = [part.caption for part in parts if isinstance(part, Grid)]
        return captions, ["".join(run.text for run in line.runs) for line in open_lines(context)]

    return build


def test_a_season_without_visits_has_no_section(shown):
    """Nor a line on the cover."""
    assert ([], []) == shown()


def test_what_an_earlier_year_left_open_stands_first_and_on_the_cover(shown):
    """Then what was tried, found and asked for; the visits stand with the records of the land."""
    old = {"visit": "V0", "kind": "yearly", "from": "2025-06-01", "findings": [FINDING]}
    now = {
        "visit": "V1",
        "kind": "yearly",
        "from": "2026-06-01",
        "exercises": [{"kind": "labels", "about": ["L1"], "outcome": "agrees"}],
        "requests": [{"asked": "a map"}],
    }
    captions, lines = shown(old, now)

    assert [
        "Left open by earlier years: 1 entry",
        "Exercises: 1 exercise",
        "Findings: 1 finding",
        "Requests: 1 request",
    ] == captions
    assert ["One thing is open from an earlier year’s inspection"] == lines


def test_what_this_year_left_open_is_no_line_of_the_cover(shown):
    """It stands among the gaps and in the section."""
    now = {"visit": "V1", "kind": "yearly", "from": "2026-06-01", "findings": [FINDING]}

    assert (["Findings: 1 finding"], []) == shown(now)
