"""Widths of columns: they fill the measure, and short texts are not wrapped for the sake of long ones."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.typeset import faces
from certgen.typeset.column_widths import fit, natural_width, widest, widest_word, with_widths
from certgen.typeset.design import SHEETS
from certgen.typeset.parts import Cell, Grid, Head, Row, Run


@given(st.lists(st.tuples(st.floats(1, 90), st.floats(0, 900)), min_size=1, max_size=14), st.floats(100, 700))
def test_columns_fill_the_measure(pairs, measure):
    """Whatever is wanted, the widths add up to the measure, and none falls below its least where all fit."""
    least = [low for low, _ in pairs]
    natural = [low + more for low, more in pairs]
    widths = fit(least, natural, measure=measure)

    assert sum(widths) == pytest.approx(measure)
    if sum(least) <= measure:
        assert all(width >= low - 1e-6 for width, low in zip(widths, least, strict=True))


def test_short_columns_are_met_first():
    """A column that wants little gets it, though another could take everything."""
    narrow, wide = fit([20, 20], [60, 5000], measure=400)

    assert narrow == pytest.approx(60)
    assert wide == pytest.approx(340)


def test_widths_do_not_depend_on_the_order_of_sets():
    """The widest word is the same however words of one length are met."""
    words = [f"{letter}{number}" for letter in "ABCDEFW" for number in range(100, 140)]

    assert widest_word(words, 7) == widest_word(reversed(words), 7)
    assert natural_width(words, 7) == natural_width(list(reversed(words)), 7)


def test_a_grid_gets_its_widths():
    """Every column of a table is given a width, and figures keep to one line."""
    rows = tuple(
        Row((Cell((Run(f"T{n}"),), "key"), Cell((Run("1 234.567 g"),), "number"), Cell((Run("word " * 60),))))
        for n in range(3)
    )
    grid = with_widths(
        Grid("c", (Head("Tree", "key"), Head("Weight", "number"), Head("Note")), rows), SHEETS["A4"]
    )
    widths = [float(head.share.removesuffix("pt")) for head in grid.heads]

    assert widths[1] > widest_word(["1234.567", "g"], 7.9)
    assert widths[2] > 250


def test_the_widest_of_many_of_one_length():
    """Where texts are of one length, it is the letters that decide, wherever they stand in the order."""
    texts = ["INV-26-001", "INV-26-002", *(f"INV-26-{n:03}" for n in range(3, 40)), "BF-26-0421"]

    assert max(faces.text_width(text, 7) for text in texts) == widest(texts, 7)
