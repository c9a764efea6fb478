"""A column is declared once; a unit that all of it shares is said once, and no figure changes."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.report.tables import Amount, Column, as_amount, grams, mass, say_shown, table
from certgen.report.wording import cell, weigh
from certgen.typeset.parts import Cell, Row, Run


def weights(texts: list[str]):
    """A table with a column of quantities as they were written."""
    return table("c", (Column("Weight", "number", as_amount),), texts)


def figures(grid) -> list[str]:
    """The figures of the first column as they stand."""
    return [row.cells[0].runs[0].text for row in grid.rows]


def test_heading_and_cells_stand_together():
    """Each column shows its part of every row, in the way of its kind."""
    columns = (
        Column("Lot", "key", lambda row: row[0]),
        Column("Standing", "standing", lambda row: row[1]),
        Column("Packed", "date", lambda _row: date(2026, 8, 1)),
        Column("Bags", "number", lambda row: row[2], "12%"),
        Column("Note", "text", lambda _row: None),
    )
    grid = table("Lots", columns, [("L1", "traced", 1200)])

    assert ["Lot", "Standing", "Packed", "Bags", "Note"] == [head.text for head in grid.heads]
    assert ["key", "text", "date", "number", "text"] == [head.kind for head in grid.heads]
    assert "12%" == grid.heads[3].share
    assert grid.rows == (
        Row(
            (
                Cell((Run("L1"),), "key"),
                Cell((Run("traced"),), mark="traced"),
                Cell((Run("2026-08-01"),), "date"),
                Cell((Run("1\u202f200"),), "number"),
                Cell((Run("–"),)),
            )
        ),
    )


def test_a_cell_of_ones_own_stays_as_it_is():
    """What links or is marked is made by the column itself."""
    own = cell("T1", "trees/T1", mark="unproven")

    assert own is table("c", (Column("Tree", "text", lambda _row: own),), [1]).rows[0].cells[0]


def test_cells_that_say_the_same_are_one():
    """A long table holds, sends and goes through one object for all of them, and another for another kind."""
    columns = (
        Column("Note", "text", lambda _row: ""),
        Column("Other", "text", lambda row: "" if row else None),
        Column("Bags", "number", lambda _row: ""),
    )
    first, second = table("c", columns, [0, 1]).rows

    assert first.cells[0] is second.cells[0] is second.cells[1]
    assert first.cells[1] != second.cells[1]
    assert first.cells[0] != first.cells[2]


def test_the_last_row_adds_up():
    """A column with a total gets a last row; the others leave it empty."""
    columns = (
        Column("Lot", "key", lambda row: row[0], total=lambda _rows: "All"),
        Column("Variety", "text", lambda _row: "Solo"),
        grams("Weight", lambda row: row[1], summed=True),
    )
    grid = table("c", columns, [("L1", 1500), ("L2", 2000)], tone=lambda _row: "faulty")

    assert ["faulty", "faulty", "total"] == [row.tone for row in grid.rows]
    assert ["All", "", "3.5"] == [one.runs[0].text for one in grid.rows[-1].cells]
    assert ["text", "text", "number"] == [one.kind for one in grid.rows[-1].cells]


def test_a_shared_unit_moves_into_the_heading():
    """Grams are said once, and decimals stand under each other."""
    grid = weights(["109.9 g", "40 g", "–", "106.311 g"])

    assert "Weight,\N{NO-BREAK SPACE}g" == grid.heads[0].text
    assert ["109.9\u2007\u2007", "40\u202f\u202f\u2007\u2007\u2007", "–", "106.311"] == figures(grid)


@pytest.mark.parametrize(
    "texts", [["1 g", "1 kg"], ["1 g", "1.5 oz"], ["1 g", "about 2 g"], ["3", "4"], ["2 g"]]
)
def test_other_columns_stay(texts):
    """Several units, words among figures, no unit, or one row: nothing moves."""
    assert "Weight" == weights(texts).heads[0].text
    assert texts == figures(weights(texts))


@given(st.lists(st.integers(0, 10**9), min_size=2, max_size=6))
def test_no_figure_changes(milligrams):
    """Figure and unit put together again are what was there."""
    grid = table("c", (grams("Weight", lambda value: value),), milligrams)
    _, _, unit = grid.heads[0].text.partition(",")
    again = [text.rstrip("\u2007\u202f") + unit for text in figures(grid)]

    assert [weigh(value) for value in milligrams] == again


@pytest.mark.parametrize(
    ("text", "amount"),
    [
        ("9.7 lb", Amount("9.7", "lb", " ")),
        ("1\u202f250.5\u00a0g", Amount("1\u202f250.5", "g")),
        ("− 2.5\u00a0g", Amount("− 2.5", "g")),
        ("about 2 g", "about 2 g"),
        ("12", "12"),
        ("", ""),
    ],
)
def test_a_quantity_is_read_as_it_was_written(text, amount):
    """Figure and unit apart, and the same text when they are put together."""
    assert amount == as_amount(text)
    assert text == say_shown(amount)


def test_what_was_not_weighed_is_no_mass():
    """Nothing weighed is a dash, and never 0 g."""
    assert None is mass(None)
    assert "–" == say_shown(mass(None))
    assert Amount("0", "g") == mass(0)
