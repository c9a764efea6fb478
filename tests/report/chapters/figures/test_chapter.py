"""The chapter of figures and the worked formulas, checked against the dossier."""

from __future__ import annotations

import unicodedata
from datetime import date

import pytest
from printed import cell_text

from certgen.dossier.odds import list_assumptions, weigh_lots
from certgen.dossier.shares import share_parents
from certgen.dossier.spot_check import DrawKey, draw_check, own_asked, own_text
from certgen.examination import examine
from certgen.report.chapters.figures.chapter import build_figures
from certgen.report.chapters.figures.formulas import build_formulas
from certgen.report.chapters.figures.odds import in_digits, percent
from certgen.report.context import Context
from certgen.typeset.parts import Grid, Prose

COVERS = ("certgen.report.chapters.figures.formulas",)
ON = date(2026, 11, 20)


@pytest.fixture(scope="module")
def context(example_season):
    """The example season, ready to be told."""
    return Context(examine(example_season, ON))


@pytest.fixture(scope="module")
def bare(seasons, tmp_path_factory):
    """A season without a single record."""
    folder = tmp_path_factory.mktemp("bare")
    seasons.write_season(folder)
    return Context(examine(folder, ON))


#: What holds the place of decimals that a figure of a column lacks.
PADDING = "\u2007\u202f"


def grids(chapter):
    """The chapter's tables by caption."""
    parts = [part for section in chapter.sections for part in section.parts]
    return {part.caption: part for part in parts if isinstance(part, Grid)}


def test_the_sections_are_there_in_their_order(context):
    """Odds, foreign pollen, contributions, tests, spot check, under one heading."""
    assert ["figures", "odds", "pollen", "contributions", "seed-tests", "spot-check"] == [
        section.anchor for section in build_figures(context).sections
    ]


def test_odds_are_the_dossiers(context):
    """Each lot's line has the computed shares."""
    grid = grids(build_figures(context))["What may be left in each lot"]
    lots = weigh_lots(context.result)

    shown = [[f"{cell_text(row.cells[at]).rstrip(PADDING)}\u00a0%" for at in (3, 6)] for row in grid.rows]
    assert list(lots) == [cell_text(row.cells[0]) for row in grid.rows]
    assert ["Share to expect,\u00a0%", "If all untested were,\u00a0%"] == [
        grid.heads[3].text,
        grid.heads[6].text,
    ]
    assert [[percent(lot.odds.expected), percent(lot.odds.uncleared)] for lot in lots.values()] == shown


def test_every_assumption_is_printed_with_the_name_to_change_it_by(context):
    """Key, figure, source and kind, each."""
    grid = grids(build_figures(context))["What these figures rest on"]

    assert [(one.key, one.source, one.mark) for one in list_assumptions(context.result)] == [
        (cell_text(row.cells[0]), cell_text(row.cells[3]), cell_text(row.cells[4])) for row in grid.rows
    ]


def test_what_is_planned_is_called_a_plan(context):
    """Planning figures say that they prove nothing."""
    (odds,) = (one for one in build_figures(context).sections if one.anchor == "odds")
    prose = next(part for part in odds.parts if isinstance(part, Prose))

    assert "planning figures, no proof" in prose.paragraphs[0]


def test_effective_numbers_are_the_dossiers(context):
    """One decimal, as computed."""
    grid = grids(build_figures(context))["Parents of each lot by their part of the seed"]
    shares = share_parents(context.result)

    assert [f"{lot.effective:.1f}" for lot in shares.values()] == [
        cell_text(row.cells[2]) for row in grid.rows
    ]


def test_the_sheet_is_the_draw_that_its_text_gives(context):
    """Anyone with the printed text draws the same bags."""
    grid = next(
        part for name, part in grids(build_figures(context)).items() if name.startswith("Bags to look")
    )
    key = DrawKey(own_text(context.result))
    check = draw_check(context.result, own_asked("bags"), key, len(grid.rows))

    assert [one.identifier for one in check.drawn] == [cell_text(row.cells[0]) for row in grid.rows]


def test_the_spot_check_says_whose_it_is(context):
    """The grower's own, with the way to an inspector's; and what each table was drawn from."""
    (section,) = (one for one in build_figures(context).sections if one.anchor == "spot-check")
    told = " ".join(text for part in section.parts if isinstance(part, Prose) for text in part.paragraphs)
    captions = [part.caption for part in section.parts if isinstance(part, Grid)]

    assert "grower’s own draw" in told
    assert "‘certgen sample --freeze’" in told
    assert [
        "Bags to look at: 25 of 152 bags of the season on record",
        "Parent trees to look at: 16 of 31 parent trees that stand on 20 November 2026",
        "Lots to look at: 9 of 9 lots that lie in store on 20 November 2026",
    ] == captions


def test_every_recorded_test_is_listed(context):
    """In the order of the records, with a result each."""
    grid = grids(build_figures(context))["Tests and what they say"]

    assert context.season.table("tests")["test"].tolist() == [cell_text(row.cells[0]) for row in grid.rows]
    assert all(cell_text(row.cells[4]) != "no figure" for row in grid.rows)


def test_formulas_have_their_numbers_put_in(context):
    """Each has a formula, numbers and a source; the balance names the closing stock."""
    (grid,) = build_formulas(context).parts
    rows = {cell_text(row.cells[0]): [cell_text(cell) for cell in row.cells[1:]] for row in grid.rows}

    assert {
        "Mass balance", "What a scale’s steps can explain",
        "Germination: do replicates agree", "Germination: how sure",
        "No positive pool: the bound", "A tree’s chance after a negative", "A lot’s share to expect",
        "Effective number of parents", "Foreign pollen: the bound", "A spot check’s chance to miss, at worst",
    } == set(rows)  # fmt: skip
    assert all(all(cells) for cells in rows.values())
    assert "closing stock 331.962" in rows["Mass balance"][1].replace("\u00a0", " ")
    assert "√(7 / 12)" in rows["What a scale’s steps can explain"][1]
    assert "0.05^(1 / (10 · 100))" in rows["No positive pool: the bound"][1]


def test_an_empty_season_has_every_section_and_says_why_it_is_empty(bare):
    """No error, no table of nothing."""
    chapter = build_figures(bare)

    assert 6 == len(chapter.sections)
    assert all(section.parts for section in chapter.sections)
    assert ["What these figures rest on", "What the bound of foreign pollen rests on"] == list(grids(chapter))


def test_cells_hold_no_control_characters(context):
    """What is printed is text."""
    signs = {
        sign
        for grid in grids(build_figures(context)).values()
        for row in grid.rows
        for one in row.cells
        for sign in cell_text(one)
    }

    assert set() == {sign for sign in signs if unicodedata.category(sign) == "Cc"}


@pytest.mark.parametrize(
    ("share", "said"),
    [
        (0.0, "0 %"), (1.0, "100 %"), (0.00000017, "0.000017 %"), (0.1337, "13.4 %"),
        (1e-9, "under 0.00001 %"),
    ],
)  # fmt: skip
def test_shares_are_printed_without_powers_of_ten(share, said):
    """Three significant figures, as anybody writes them."""
    assert said == percent(share).replace("\u00a0", " ")


def test_small_numbers_are_written_out():
    """A chance of two in a hundred thousand."""
    assert "0.0000227" == in_digits(2.2672e-5)
