"""A unit that a whole column shares is said once, and no figure changes."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.report.chapters.units import lift
from certgen.report.wording import weigh
from certgen.typeset.parts import Cell, Grid, Head, Row, Run


def grid(texts: list[str]) -> Grid:
    """A table with one column of figures."""
    rows = tuple(Row((Cell((Run(str(n)),)), Cell((Run(text),), "number"))) for n, text in enumerate(texts))
    return Grid("c", (Head("Lot"), Head("Weight", "number")), rows)


def column(table: Grid) -> list[str]:
    """The figures as they stand."""
    return [row.cells[1].runs[0].text for row in table.rows]


def test_a_shared_unit_moves_into_the_heading():
    """Grams are said once, and decimals stand under each other."""
    lifted = lift(grid(["109.9 g", "40 g", "–", "106.311 g"]))

    assert "Weight,\N{NO-BREAK SPACE}g" == lifted.heads[1].text
    assert ["109.9\u2007\u2007", "40\u202f\u202f\u2007\u2007\u2007", "–", "106.311"] == column(lifted)


@pytest.mark.parametrize(
    "texts", [["1 g", "1 kg"], ["1 g", "1.5 oz"], ["1 g", "about 2 g"], ["3", "4"], ["2 g"]]
)
def test_other_columns_stay(texts):
    """Several units, words among figures, no unit, or one row: nothing moves."""
    assert grid(texts) == lift(grid(texts))


@given(st.lists(st.integers(0, 10**9), min_size=2, max_size=6))
def test_no_figure_changes(milligrams):
    """Figure and unit put together again are what was there."""
    texts = [weigh(one) for one in milligrams]
    lifted = lift(grid(texts))
    _, _, unit = lifted.heads[1].text.partition(",\N{NO-BREAK SPACE}")
    again = [text.rstrip("\u2007\u202f") + (f" {unit}" if unit else "") for text in column(lifted)]

    assert [text.replace("\u00a0", " ") for text in texts] == [text.replace("\u00a0", " ") for text in again]
