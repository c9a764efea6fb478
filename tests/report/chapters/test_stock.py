"""The page of mass balance: what counts as income, which counts meet the book, what the scale can tell."""

from __future__ import annotations

from datetime import date

import pytest
from printed import cell_text, plain

from certgen.examination import examine
from certgen.report.chapters.stock import build_stock
from certgen.report.context import Context
from certgen.typeset.parts import Grid, Prose

ON = date(2026, 11, 20)


@pytest.fixture(scope="module")
def context(example_season):
    """The example season, ready to be told."""
    return Context(examine(example_season, ON))


def told(context):
    """The running text of the chapter."""
    parts = [part for section in build_stock(context, 500).sections for part in section.parts]
    return plain(" ".join(text for part in parts if isinstance(part, Prose) for text in part.paragraphs))


def balance(context):
    """The table by lot: of each row what stands under each heading."""
    parts = [part for section in build_stock(context, 500).sections for part in section.parts]
    (grid,) = (part for part in parts if isinstance(part, Grid))
    heads = [head.text.partition(",")[0] for head in grid.heads]
    return {
        cell_text(row.cells[0]): dict(
            zip(heads, (plain(cell_text(cell)).strip() for cell in row.cells), strict=True)
        )
        for row in grid.rows
    }


def test_a_difference_stands_beside_what_the_scale_can_tell(context):
    """Seven readings of a tenth of a gram don't explain 2.5 g; no lot stands better for the sentence."""
    shown = told(context)

    assert "The scale's step counts as 0.1 g" in shown
    assert (
        "less than the book on 20 November 2026. That is beyond what the scale can tell: 7 readings" in shown
    )
    assert "no lot stands better for it" in shown


def test_a_season_without_a_scale_says_so(example_copy):
    """No step on record: nothing is said of any difference."""
    path = example_copy / "season.yaml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("  scale_step: 0.1 g\n", ""), encoding="utf-8")
    shown = told(Context(examine(example_copy, ON)))

    assert "No scale's step is on record" in shown
    assert "beyond what the scale" not in shown


def test_the_verdict_comes_first(context):
    """How many counts meet the book stands above all tables, and who is short by how much."""
    (section,) = build_stock(context, 500).sections

    assert "8 of 9 counted lots meet the book; RC-26-3 is 2.5 g short." == plain(section.lead)


def test_a_failed_count_is_in_no_other_column(context):
    """Book before the count, counted, difference; what a count didn't find has not gone out."""
    rows = balance(context)

    assert ("43.2", "40.7", "− 2.5") == tuple(
        rows["RC-26-3"][head] for head in ("By the book", "Counted", "Difference")
    )
    assert "1.2" == rows["RC-26-3"]["Lost"]
    assert ("334.462", "331.962", "− 2.5") == tuple(
        rows["All lots"][head] for head in ("By the book", "Counted", "Difference")
    )
    assert ["Amber Kestrel", "Rosy Cistern", "All lots"] == [name for name in rows if not name[-1].isdigit()]


def test_the_figures_of_all_pages_are_reconciled(context):
    """The lots as packed, what came in and went out, and what is on hand, each in one sentence."""
    shown = told(context)

    assert "013.011 g of the first page are the lots as packed: 811.011 g packed from this season’s" in shown
    assert (
        "batches, 40 g blended from lot to lot (both held it) and 162 g packed in an earlier season" in shown
    )
    assert "came 911.011 g and 576.549 g went out, without what was blended: 334.462 g are on hand" in shown
    assert "and with what counts found 331.962 g." in shown
