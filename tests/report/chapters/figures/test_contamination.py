"""The section on foreign pollen, checked against the dossier."""

from __future__ import annotations

import re
from datetime import date

import pytest
from printed import cell_text

from certgen.dossier.contamination import bound_pollen
from certgen.examination import examine
from certgen.report.chapters.figures.contamination import build_contamination, build_pollen_ground
from certgen.report.chapters.figures.formulas import build_formulas
from certgen.report.chapters.figures.odds import percent
from certgen.report.context import Context
from certgen.typeset.parts import Prose

ON = date(2026, 11, 20)


@pytest.fixture(scope="module")
def context(example_season):
    """The example season, ready to be told."""
    return Context(examine(example_season, ON))


def test_each_lot_has_the_dossiers_bound(context):
    """Under the usual share of carrying pollen, and at both ends of its range."""
    lots, assumed = build_pollen_ground(context).parts
    found = bound_pollen(context.result)

    shown = [[cell_text(cell).rstrip("\u2007\u202f") for cell in row.cells] for row in lots.rows]
    assert [
        [
            one.lot,
            *(
                percent(share).removesuffix("\u00a0%")
                for share in (one.uncovered, one.usual.open_to_pollen, one.usual.fathered)
            ),
        ]
        for one in found.lots
    ] == [row[:4] for row in shown]
    assert [percent(one.usual.carrying) for one in found.lots] == [f"{row[4]}\u00a0%" for row in shown]
    assert ["foreign_pollen_fathers_pct", "foreign_pollen_carries_pct"] == [
        cell_text(row.cells[0]) for row in assumed.rows
    ]


def test_the_bags_are_told_with_their_limits(context):
    """Failed of all that were looked at, how, and what bounds it."""
    said = build_contamination(context).parts[0]

    assert isinstance(said, Prose)
    text = said.paragraphs[0].replace("\u00a0", " ")
    assert text.startswith("Of 152 bags of this season that were looked at 3 had failed (2 torn and 1 gone)")
    assert "5.02 % at most (one-sided, 95 %)" in text
    assert "At most 0.502 % of a lot’s seed may carry what foreign pollen brought (RC-26-2 1.02 %)" in text


def test_without_a_look_nothing_is_bounded(seasons, tmp_path):
    """The section says what to record, and the appendix shows no table of lots."""
    lines = seasons.one_line()
    bags = [seasons.without(bag, "checks") for bag in lines["bagging"]]
    seasons.write_season(tmp_path, **{**lines, "bagging": bags})
    context = Context(examine(tmp_path, ON))
    (prose,) = build_contamination(context).parts

    assert "record each check of a bag" in prose.paragraphs[0]
    assert ["What the bound of foreign pollen rests on"] == [
        grid.caption for grid in build_pollen_ground(context).parts
    ]


def test_the_worked_formula_gives_the_tables_figure(context):
    """The numbers put in, multiplied here."""
    (grid,) = build_formulas(context).parts
    (worked,) = [
        cell_text(row.cells[2]) for row in grid.rows if cell_text(row.cells[0]) == "Foreign pollen: the bound"
    ]
    shares = [float(number) / 100 for number in re.findall(r"([\d.]+)\u00a0%", worked)]
    uncovered, covered, failing, fathering, carrying, bound = shares

    assert 1 == uncovered + covered
    assert bound == pytest.approx((uncovered + covered * failing) * fathering * carrying, rel=0.01)
    assert percent(bound_pollen(context.result).lots[0].usual.carrying) == f"{100 * bound:.3g}\u00a0%"
