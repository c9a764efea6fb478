"""The chapter of figures and the worked formulas, checked against the dossier."""

from __future__ import annotations

import re
import unicodedata
from datetime import date

import pytest
from printed import cell_text

from certgen.dossier.odds import list_used
from certgen.dossier.odds_wording import say_chance, tell_lot, tell_passing
from certgen.dossier.shares import share_parents
from certgen.examination import examine
from certgen.report.chapters.figures.chapter import build_figures, build_grounds
from certgen.report.chapters.figures.formulas import build_formulas
from certgen.report.chapters.figures.odds import HOW_TO_READ, build_odds_ground, in_digits, percent
from certgen.report.chapters.figures.odds_appendix import AT_LENGTH, build_odds_appendix
from certgen.report.chapters.lot.dossiers import build_dossiers
from certgen.report.context import Context
from certgen.typeset.parts import Grid, Listing, Prose

COVERS = ("certgen.report.chapters.figures.formulas", "certgen.report.chapters.figures.odds_appendix")
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


def grids(*sections):
    """The tables of some sections by caption."""
    parts = [part for section in sections for part in section.parts]
    return {part.caption: part for part in parts if isinstance(part, Grid)}


def test_the_sections_are_there_in_their_order(context):
    """Odds, foreign pollen and tests under one heading; what they rest on is for the appendix."""
    assert ["figures", "odds", "pollen", "seed-tests"] == [
        section.anchor for section in build_figures(context).sections
    ]
    assert [
        "formulas",
        "odds-at-length",
        "odds-ground",
        "pollen-ground",
        "contributions",
        "seed-ground",
    ] == [section.anchor for section in build_grounds(context)]


def test_odds_are_the_dossiers(context):
    """Each lot's line has the computed chance to pass, and each lot of the season has a line."""
    grid = grids(*build_figures(context).sections)["What may have passed unseen, lot by lot"]

    assert [(name, tell_passing(lot)) for name, lot in context.odds.items()] == [
        (cell_text(row.cells[0]), cell_text(row.cells[2])) for row in grid.rows
    ]
    assert list(context.result.lots) == list(context.odds)


def test_each_lots_pages_have_its_four_lines(context):
    """The same words as everywhere."""
    chapters = build_dossiers(context, 400, ["AK-26-1"])
    parts = [part for chapter in chapters for section in chapter.sections for part in section.parts]
    items = [item for part in parts if isinstance(part, Listing) for item in part.items]
    said = "\n".join("".join(run.text for run in item) for item in items)

    assert {True} == {f"{asked}: {answer}" in said for asked, answer in tell_lot(context.odds["AK-26-1"])}


def test_parents_that_nothing_clears_stand_by_their_part(context):
    """The heaviest first, with both numbers of copies."""
    grid = grids(*build_figures(context).sections)["Parents that no result clears"]

    assert [["T-306", "AK-26-4", "10.0\u00a0%", "13.4\u00a0%"]] == [
        list(map(cell_text, row.cells)) for row in grid.rows
    ]


def test_the_reading_page_stands_beside_the_figures_and_at_length_behind(context):
    """A few lines with the figures; the appendix has the long one and the chances at three priors."""
    odds = build_figures(context).sections[0]
    appendix = build_odds_appendix(context)
    tables = {part.caption: part for part in appendix.parts if isinstance(part, Grid)}
    trees = tables["Trees by their results, and the chance of each event after them"]

    assert HOW_TO_READ == next(part for part in odds.parts if isinstance(part, Prose)).paragraphs
    assert AT_LENGTH == next(part for part in appendix.parts if isinstance(part, Prose)).paragraphs
    assert ["After 1\u00a0%", "After 10\u00a0%", "After 70\u00a0%"] == [head.text for head in trees.heads[4:]]
    rows = {cell_text(row.cells[0]): list(map(cell_text, row.cells[1:])) for row in trees.rows}
    floor = say_chance(0, context.floor)
    assert ["12", "55-1 and 63-1", "0.73\u00a0%", floor, floor, "1.8\u00a0%"] == rows[
        "gus negative, pcr negative in a pool of 12"
    ]
    assert "–" == rows["gus positive, pcr positive"][2]
    lots = tables["Lots: the chance that at least one parent carries an event, after all results"]
    assert list(context.odds) == [cell_text(row.cells[0]) for row in lots.rows]
    assert ["At 1\u00a0%", "At 10\u00a0%", "At 70\u00a0%"] == [head.text for head in lots.heads[2:]]


def test_no_page_of_odds_has_a_figure_below_the_floor(context):
    """Neither the lots' tables nor the appendix: what is less is said to be below it."""
    (odds,) = (one for one in build_figures(context).sections if one.anchor == "odds")
    texts = [
        cell_text(cell)
        for part in (*odds.parts, *build_odds_appendix(context).parts, *build_odds_ground(context).parts[:-1])
        if isinstance(part, Grid)
        for row in part.rows
        for cell in row.cells
    ]
    figures = [float(one) for text in texts for one in re.findall(r"([0-9.]+)\u00a0%", text)]

    assert min(figures) == 100 * context.floor


def test_every_assumption_is_printed_with_the_name_to_change_it_by(context):
    """Key, figure, source and kind, each."""
    grid = grids(*build_grounds(context))["What these figures rest on"]

    assert [(one.key, one.source, one.mark) for one in list_used(context.result, context.evidence)] == [
        (cell_text(row.cells[0]), cell_text(row.cells[3]), cell_text(row.cells[4])) for row in grid.rows
    ]


def test_what_is_planned_is_called_a_plan(context):
    """Planning figures say that they prove nothing."""
    (prose,) = build_figures(context).sections[0].parts

    assert "planning figures, no proof" in prose.paragraphs[-1]


def test_effective_numbers_are_the_dossiers(context):
    """One decimal, as computed."""
    grid = grids(*build_grounds(context))["Parents of each lot by their part of the seed"]
    shares = share_parents(context.result)

    assert [f"{lot.effective:.1f}" for lot in shares.values()] == [
        cell_text(row.cells[2]) for row in grid.rows
    ]


def test_every_recorded_test_is_listed(context):
    """In the order of the records, with a result each."""
    grid = grids(*build_figures(context).sections)["Tests and what they say"]

    assert context.season.table("tests")["test"].tolist() == [cell_text(row.cells[0]) for row in grid.rows]
    assert all(cell_text(row.cells[4]) != "no figure" for row in grid.rows)


def test_formulas_have_their_numbers_put_in(context):
    """Each has a formula, numbers and a source; the balance names the closing stock."""
    (grid,) = build_formulas(context).parts
    rows = {cell_text(row.cells[0]): [cell_text(cell) for cell in row.cells[1:]] for row in grid.rows}

    assert {
        "Mass balance", "What a scale’s steps can explain",
        "Germination: do replicates agree", "Germination: how sure",
        "No positive pool: the bound", "A carrier’s chance to pass", "What a carrier hands on",
        "Power of the whole screening", "Effective number of parents", "Foreign pollen: the bound",
        "A spot check’s chance to miss, at worst",
    } == set(rows)  # fmt: skip
    assert all(all(cells) for cells in rows.values())
    assert "closing stock 331.962" in rows["Mass balance"][1].replace("\u00a0", " ")
    assert "√(7 / 12)" in rows["What a scale’s steps can explain"][1]
    assert "0.05^(1 / (10 · 100))" in rows["No positive pool: the bound"][1]


def test_an_empty_season_has_every_section_and_says_why_it_is_empty(bare):
    """No error, no table of nothing."""
    chapter = build_figures(bare)

    assert 4 == len(chapter.sections)
    assert all(section.parts for section in (*chapter.sections, *build_grounds(bare)))
    assert {} == grids(*chapter.sections)


def test_cells_hold_no_control_characters(context):
    """What is printed is text."""
    signs = {
        sign
        for grid in grids(*build_figures(context).sections, *build_grounds(context)).values()
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
