"""The chapter of mass balance and stock: what counts as income, and what the scale can tell."""

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
    """The table by variety: each posting's cells by its name, and the note below."""
    parts = [part for section in build_stock(context, 500).sections for part in section.parts]
    (grid,) = (part for part in parts if isinstance(part, Grid) and part.caption == "By variety")
    rows = {cell_text(row.cells[0]): [cell_text(cell) for cell in row.cells[1:]] for row in grid.rows}
    return rows, plain(grid.note)


def test_a_difference_stands_beside_what_the_scale_can_tell(context):
    """Seven readings of a tenth of a gram don't explain 2.5 g; no lot stands better for the sentence."""
    shown = told(context)

    assert "The scale's step counts as 0.1 g" in shown
    assert "less than the book on 2026-11-20. That is beyond what the scale can tell: 7 readings" in shown
    assert "no lot stands better for it" in shown


def test_a_season_without_a_scale_says_so(example_copy):
    """No step on record: nothing is said of any difference."""
    path = example_copy / "season.yaml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("  scale_step: 0.1 g\n", ""), encoding="utf-8")
    shown = told(Context(examine(example_copy, ON)))

    assert "No scale's step is on record" in shown
    assert "beyond what the scale" not in shown


def test_what_one_lot_took_from_another_is_in_no_sum(context):
    """Of one variety: 40 g that neither came in nor went out."""
    rows, note = balance(context)

    assert [] == [name for name in rows if "lended" in name]
    assert note.startswith("Blended from lot to lot: 40 g.")
    assert "911.011" in rows["All that came in"][-1]
    assert "579.049" in rows["All that went out"][-1]
