"""Cells of a register: what is drawn of a text, and how much room it takes."""

from __future__ import annotations

import itertools

import pytest
from pages import SETTINGS

from certgen.typeset.design import SANS, TYPE
from certgen.typeset.parts import Register, RegisterColumn
from certgen.typeset.tables.canvas import Canvas
from certgen.typeset.tables.cells import ABOVE, INSET, Block, CellLayout
from certgen.typeset.tables.forms import Form
from certgen.typeset.tables.page_batch import FIRST

COLUMNS = (RegisterColumn("Bag", 1), RegisterColumn("Note", 1))


def cells(known: frozenset[str] | None = None) -> CellLayout:
    """Cells in the registers' type."""
    canvas = Canvas(SETTINGS, FIRST)
    return CellLayout(canvas.text_style(SANS, 400, TYPE["register"].size), SANS, known)


def test_most_cells_are_one_piece():
    """A short text is one piece with its width and where it leads; an empty one is nothing."""
    bag, note = cells().prepare([[("B1", "bagging/B1")], [("", "")]], [50, 50], COLUMNS)

    assert "bagging/B1" == bag[2]
    assert 5 < bag[1] < 10
    assert note is None


def test_nothing_in_a_cell_is_nothing():
    """A cell without a text at all is as empty as one with an empty text."""
    assert [None, None] == cells().prepare([[], [("", "")]], [50, 50], COLUMNS)


def test_a_link_to_nowhere_is_text():
    """A text leads on only where its anchor has a place."""
    known, unknown = cells(frozenset({"trees/T1"})).prepare(
        [[("T1", "trees/T1")], [("T2", "trees/T2")]], [50, 50], COLUMNS
    )

    assert ["trees/T1", ""] == [known[2], unknown[2]]


def test_a_long_text_has_lines():
    """A text that is wider than its room is broken, and each line is a leading lower than the one before."""
    own = cells()
    (block,) = own.prepare([[("several words that need more than one line", "")]], [60], COLUMNS)
    count = len(block.lines)

    assert count > 1
    assert all(pieces[0][1] <= 60 for _, pieces in block.lines)
    step = TYPE["register"]
    assert own.capital + (count - 1) * step.leading + 2 * ABOVE == pytest.approx(own.height([None, block]))
    assert own.capital + 2 * ABOVE == own.height([None])


def test_text_in_another_script_is_an_form():
    """What was set beforehand is found again, in the room of its column."""
    own = cells()
    name = (("بذور", ""),)
    register = Register("lots", "Lots", "", COLUMNS, (("lots/1", (name, (("x", ""),))),))
    numbers = itertools.count(100)
    objects = own.set_forms([(register, (60.0, 60.0))], SETTINGS, lambda: next(numbers))
    block, _ = own.prepare(register.rows[0][1], [60 - INSET, 60 - INSET], COLUMNS)

    assert isinstance(block, Block)
    ((height, form),) = block.lines
    assert isinstance(form, Form)
    assert height == form.height
    assert form.number in objects


@pytest.mark.parametrize(("room", "count"), [(1, 1), (4.8, 1), (13.8, 1), (13.9, 2), (22.9, 2), (23.0, 3)])
def test_how_many_lines_fit(room, count):
    """As many as the room holds, each a leading lower; one in any case, or nothing would ever be drawn."""
    own = cells()
    (block,) = own.prepare([[("one\ntwo\nthree", "")]], [60], COLUMNS)
    fitting, height = own.count_fitting(block.lines, room)

    assert count == fitting
    assert own.capital + (count - 1) * TYPE["register"].leading == pytest.approx(height)
