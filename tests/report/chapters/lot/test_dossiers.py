"""The dossiers: what the parents' table and the scope say is what the records and the result say."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from printed import cell_text, plain

from certgen.examination import examine, examine_season
from certgen.report.chapters.lot.dossiers import build_dossiers
from certgen.report.chapters.lot.parents import samples_of
from certgen.report.chapters.lot.scope import LIMITS
from certgen.report.context import Context
from certgen.typeset.parts import Findings, Grid, Listing

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
        assert isinstance(first, Listing)
        assert context.result.scopes.of_lot(lot).sentence == first.items[0][0].text


def test_each_letter_stands_for_what_its_trees_share(context, sections):
    """A tree's letters, taken together, say its samples' reports; each is explained once."""
    *_, legend = (part for part in sections["lots#parents"].parts if isinstance(part, Grid))
    reports = {row.anchor.removeprefix("result/"): cell_text(row.cells[-2]) for row in legend.rows}
    assert [row.anchor for row in legend.rows] == list(dict.fromkeys(row.anchor for row in legend.rows))
    for lot in context.result.lots:
        (matrix,) = (part for part in sections[f"lots/{lot}#trees"].parts if isinstance(part, Grid))
        for row in matrix.rows[:-2]:
            letters = [run.text for run in row.cells[1].runs if run.href.startswith("result/")]
            said = {reports[letter].partition(",")[0] for letter in letters}
            samples = samples_of(context, cell_text(row.cells[0]))
            assert {one["report"] or "no report" for one in samples} == said


def test_a_result_s_report_opens_its_letter(sections):
    """Where the letter travels inside, its number opens it; a missing one has a shape."""
    *_, legend = (part for part in sections["lots#parents"].parts if isinstance(part, Grid))
    reports = {cell_text(row.cells[-2]).partition(",")[0]: row.cells[-2].runs[0] for row in legend.rows}

    assert "evidence/letters/bf-26-0034.txt" == reports["BF-26-0034"].href
    assert ("", "unproven") == (reports["no report"].href, reports["no report"].mark)


def test_parents_are_told_once(context, sections):
    """Each parent of any lot stands in one line of one table, whatever number of lots it is behind."""
    *varieties, _ = (part for part in sections["lots#parents"].parts if isinstance(part, Grid))
    listed = [run.text for grid in varieties for row in grid.rows for run in row.cells[0].runs if run.href]
    parents = {node.id for lot in context.result.lots for node in context.lineage.seed_parents(lot)}

    assert sorted(set(listed)) == sorted(listed)
    assert set(listed) <= parents
    assert ["Parents of Amber Kestrel: 20 trees", "Parents of Rosy Cistern: 11 trees"] == [
        grid.caption for grid in varieties
    ]


def test_a_rejected_lot_opens_with_what_speaks_against_it(sections):
    """First the findings, leading to their cards, then the seed that has left, then what was packed."""
    against, left, told = sections["lots/RC-26-2"].parts[:3]

    assert "What speaks against this lot" == against.caption
    assert [("4", "gap/4"), ("8", "gap/8"), ("10", "gap/10")] == [
        (row.cells[0].runs[0].text, row.cells[0].runs[0].href) for row in against.rows
    ]
    assert "bagging/B26-064" == against.rows[0].cells[2].runs[0].href
    assert ["11", "rejected", "25", "Wickerlight Farm", "INV-26-007", "18 September 2026"] == [
        cell_text(cell) for cell in left.rows[0].cells
    ]
    assert "On hand 65 g, counted on 20 November 2026" in plain(told.items[1][0].text)


def test_a_clean_lot_opens_with_its_grams(sections):
    """Nothing speaks against it, and it says so; advice alone is headed as what it is."""
    told, *_ = sections["lots/RC-26-1"].parts
    assert plain(told.items[1][0].text).startswith("No gap reaches this lot. On hand 54.8 g")
    assert "lot, variety and status as here; last certified operation" in told.items[0][1].text
    advice, *_ = sections["lots/AK-25-2"].parts
    assert "Advice" == advice.caption


def test_every_dossier_has_room_for_a_finding(context, sections):
    """Ticks and a line for an inspector, apart from what the operation declares."""
    for lot in context.result.lots:
        box = sections[f"lots/{lot}#scope"].parts[-1]
        assert isinstance(box, Findings)
        assert ("seen", "accepted", "open, by when:") == box.ticks
        assert f"Inspector’s finding on lot {lot}, compared with the records it names" == box.title
        assert ("Name, signature", "Place and date") == box.signers


def test_documents_open_their_papers(sections):
    """An invoice that travels inside opens from the ledger; one that doesn't is plain text."""
    (ledger,) = sections["lots/AK-26-1#ledger"].parts
    documents = {cell_text(row.cells[7]): row.cells[7].runs[0].href for row in ledger.rows}

    assert "evidence/sales/inv-26-002.txt" == documents["INV-26-002"]
    assert "" == documents["INV-26-004"]


def test_a_column_has_one_unit(sections):
    """What was typed in ounces or pounds stands in grams, with what was typed beside it."""
    (runs, _) = sections["lots/AK-26-2#runs"].parts
    heads = [head.text for head in runs.heads]
    dry = [plain(cell_text(row.cells[heads.index("Dry")])) for row in runs.rows]
    fruit = [plain(cell_text(row.cells[heads.index("Weight")])) for row in runs.rows]

    assert ["56.7 g (2 oz)", "49.6 g (1.75 oz)"] == dry
    assert ["4 490 g", "3 311 g (7.3 lb)"] == fruit


def test_last_season_stands_beside_this_one(context, sections):
    """In words as in bars, with what can't be compared; beside some lots alone it would tell of others."""
    (picture,) = sections["lots#twin"].parts
    some = {
        section.anchor
        for chapter in build_dossiers(context, 400.0, ["AK-26-1"])
        for section in chapter.sections
    }

    assert "Bags put on: 152 in 2026, 36 in 2025; Fruit picked: 121 in 2026, 30 in 2025" in picture.alt
    assert "Season 2026 runs until 31 December 2026" in picture.caption
    assert "lots#twin" not in some


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


def test_a_negative_of_no_known_method_is_left_out_of_what_methods_see(seasons):
    """What the test could see isn't known; beside it the others are told, and without them nothing is."""
    silent = {name: value for name, value in seasons.sample("S2", "T1").items() if name != "method"}

    def methods(*samples):
        told = Context(examine_season(seasons.season_of(**{**seasons.one_line(), "screening": samples}), ON))
        (chapter,) = build_dossiers(told, 400.0)
        return next(part for one in chapter.sections if one.anchor == "lots#methods" for part in one.parts)

    assert (LIMITS,) == methods(silent).paragraphs
    assert 1 == len(methods(seasons.sample("S1", "T1"), silent).rows)


def test_a_lot_without_records_says_so_in_one_place(context):
    """A lot that nothing stands behind gets one short section instead of a heading a table."""
    lot = replace(context.result.lots["AK-26-1"], lot="NONE", parts=())
    told = Context(replace(context.result, lots={"NONE": lot}))
    (chapter,) = build_dossiers(told, 400.0)
    sections = {section.anchor: section for section in chapter.sections}

    assert {"lots", "lots#methods", "lots#twin", "lots/NONE", "lots/NONE#missing", "lots/NONE#scope"} == set(
        sections
    )
    (said,) = sections["lots/NONE#missing"].parts
    assert "No parent tree stands behind this lot" in said.paragraphs[0]
    assert "No test of this lot is recorded." in said.paragraphs[0]
