"""One season checked against two standards: what the page says is what the result says."""

from __future__ import annotations

import shutil
from datetime import date

import pytest
from printed import cell_text

from certgen.examination import examine
from certgen.report.chapters.standards_apart import build_standards_apart
from certgen.report.context import Context
from certgen.standards import crossing
from certgen.typeset.parts import Grid

ON = date(2026, 11, 25)


@pytest.fixture(scope="module")
def both(example_season, tmp_path_factory):
    """The example season under the rules of two markets."""
    folder = tmp_path_factory.mktemp("both") / "season"
    shutil.copytree(example_season, folder)
    file = folder / "season.yaml"
    text = file.read_text(encoding="utf-8")
    assert "standards: [us-nop]" in text
    file.write_text(text.replace("standards: [us-nop]", "standards: [us-nop, eu]"), encoding="utf-8")
    return Context(examine(folder, ON))


@pytest.fixture(scope="module")
def grids(both):
    """The page's tables by caption."""
    return {part.caption: part for part in build_standards_apart(both).parts if isinstance(part, Grid)}


def test_one_standard_needs_no_page(example_season):
    """Checked against one standard there is nothing to part on."""
    assert build_standards_apart(Context(examine(example_season, ON))) is None


def test_each_standard_is_counted_by_itself(both, grids):
    """A row a standard, with its own gaps and lots."""
    for book, row in zip(both.result.rulebooks, grids["Under each standard by itself"].rows, strict=True):
        under = both.result.by_standard[book.key]
        counted = [int(cell_text(cell)) for cell in row.cells[1:]]

        assert book.key in cell_text(row.cells[0])
        assert len(under.gaps) == sum(counted[:3])
        assert len(under.lots) == sum(counted[3:])


def test_lots_that_part_are_those_of_the_result(both, grids):
    """The lots of the page are `standards_part_on`, with the standing under each."""
    (grid,) = (one for caption, one in grids.items() if "whose standing is not the same" in caption)

    assert list(both.result.standards_part_on) == [cell_text(row.cells[0]) for row in grid.rows]
    for row in grid.rows:
        standings = [cell_text(cell) for cell in row.cells[1:]]
        assert len(set(standings)) > 1


def test_a_gap_that_only_one_asks_about_says_so(grids):
    """Two growing seasons of the mother plant are asked by one of the two only."""
    rows = [[cell_text(cell) for cell in row.cells] for row in grids["Gaps that do not count alike"].rows]

    assert rows
    assert all("not asked" in row and "unproven" in row for row in rows)


def test_only_what_differs_is_listed(both, grids):
    """No row of what they ask differently says the same twice."""
    titles = [cell_text(row.cells[0]) for row in grids["What they ask differently"].rows]
    same = {one.title for one in crossing(both.result.rulebooks) if one.same}

    assert titles
    assert set() == same & set(titles)
