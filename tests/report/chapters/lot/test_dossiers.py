"""The dossiers: what the parents' table and the scope say is what the records and the result say."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from printed import cell_text

from certgen.examination import examine
from certgen.report.chapters.lot.dossiers import build_dossiers
from certgen.report.context import Context
from certgen.typeset.parts import Grid, Prose

ON = date(2026, 11, 25)


@pytest.fixture(scope="module")
def context(example_season):
    """The example season, ready to be told."""
    return Context(examine(example_season, ON))


@pytest.fixture(scope="module")
def sections(context):
    """All sections of the dossiers by anchor."""
    return {
        section.anchor: section for chapter in build_dossiers(context, 400.0) for section in chapter.sections
    }


def test_every_lot_has_its_scope_in_the_words_of_the_result(context, sections):
    """The sentence that claims no more than was tested opens the section."""
    for lot in context.result.lots:
        first = sections[f"lots/{lot}#scope"].parts[0]
        assert isinstance(first, Prose)
        assert context.result.scopes.of_lot(lot).sentence == first.paragraphs[0]


def test_each_letter_stands_for_what_its_trees_share(context, sections):
    """Taken together, a parent's letters say its samples, methods and results."""
    for lot in context.result.lots:
        grids = {
            part.caption: part for part in sections[f"lots/{lot}#parents"].parts if isinstance(part, Grid)
        }
        parents, results = grids.values()
        letters = {cell_text(row.cells[0]): row for row in results.rows}
        for row in parents.rows:
            named = [one for one in cell_text(row.cells[6]).split(", ") if one != "–"]
            assert set(named) <= set(letters)
            reports = {cell_text(letters[one].cells[6]) for one in named}
            samples = [run.href.removeprefix("screening/") for run in row.cells[5].runs if run.href]
            known = {one["sample"]: one for one in context.all_rows("screening")}
            assert {known[one]["report"] or "none" for one in samples} == reports


def test_many_lots_stand_in_groups(context):
    """Past forty lots the contents name groups; each lot is in one, and headings skip no level."""
    lot = context.result.lots["AK-26-1"]
    many = {f"X-{number:03}": replace(lot, lot=f"X-{number:03}") for number in range(45)}
    told = Context(replace(context.result, lots=many))
    found = [section for chapter in build_dossiers(told, 400.0) for section in chapter.sections]
    groups = [section.title for section in found if section.style == "group"]

    assert ["Lots X-000 to X-019", "Lots X-020 to X-039", "Lots X-040 to X-044"] == groups
    assert {3} == {section.level for section in found if section.style == "dossier"}
    assert 45 == sum(section.style == "dossier" for section in found)


def test_a_lot_without_records_says_so_in_one_place(context):
    """A lot that nothing stands behind gets one short section instead of a heading a table."""
    lot = replace(context.result.lots["AK-26-1"], lot="NONE", parts=())
    told = Context(replace(context.result, lots={"NONE": lot}))
    _, dossier = build_dossiers(told, 400.0)
    sections = {section.anchor: section for section in dossier.sections}

    assert {"lots/NONE", "lots/NONE#line", "lots/NONE#missing", "lots/NONE#scope"} == set(sections)
    (said,) = sections["lots/NONE#missing"].parts
    assert "No parent tree stands behind this lot" in said.paragraphs[0]
    assert "No test of this lot is recorded." in said.paragraphs[0]
