"""Parts of a page, as they come back from another process."""

from __future__ import annotations

import pickle

from hypothesis import given
from hypothesis import strategies as st

from certgen.typeset.entries import Entry
from certgen.typeset.parts import Cell, Row, Run

WORDS = st.text(max_size=4)
RUNS = st.lists(st.builds(Run, WORDS, WORDS, st.booleans(), st.booleans(), WORDS), max_size=3).map(tuple)
CELLS = st.lists(st.builds(Cell, RUNS, WORDS, WORDS), max_size=3).map(tuple)


@given(st.one_of(st.builds(Row, CELLS, WORDS, WORDS), st.builds(Entry, WORDS, RUNS)))
def test_what_is_sent_comes_back(part):
    """Each field as it was, whatever it holds."""
    again = pickle.loads(pickle.dumps(part))

    assert part == again
    assert repr(part) == repr(again)


def test_what_is_one_stays_one():
    """A cell that stands in many rows is sent once, and is one object there too."""
    cell = Cell((Run("none"),))
    first, second = pickle.loads(pickle.dumps((Row((cell,)), Row((cell, cell)))))

    assert first.cells[0] is second.cells[0] is second.cells[1]
