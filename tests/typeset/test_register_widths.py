"""Widths of a register's columns: they fill the page, cut no word, and are the thriftiest of those tried."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.typeset.column_widths import INSET, register_widths
from certgen.typeset.design import TYPE
from certgen.typeset.faces import text_width
from certgen.typeset.parts import Register, RegisterColumn

COVERS = ("certgen.typeset.design",)
TEXTS = st.text("abc ,;1\n", max_size=60)


def register(rows, kinds=("text", "text", "text")) -> Register:
    """A register of these texts."""
    columns = tuple(RegisterColumn(f"Head {number}", 1, kind) for number, kind in enumerate(kinds))
    return Register(
        "bagging",
        "Bags",
        "",
        columns,
        tuple((f"bagging/{n}", tuple(((text, ""),) for text in row)) for n, row in enumerate(rows)),
    )


@given(st.lists(st.tuples(TEXTS, TEXTS, TEXTS), max_size=6))
def test_columns_fill_the_measure(rows):
    """Widths add up to what the paper offers, and each is wide enough for its heading's words."""
    widths = register_widths(register(rows), 500)

    assert 500 == pytest.approx(sum(widths))
    heading = text_width("Head", TYPE["label"].size, weight=600)
    assert all(width > heading + INSET for width in widths)


def test_a_day_and_what_was_seen_stay_together():
    """Where the page has room, what stands between two commas is not split."""
    rows = [("B1", "2026-01-26 intact, 2026-02-03 intact", "a note " * (n % 4)) for n in range(30)]
    widths = register_widths(register(rows), 260)

    assert widths[1] - INSET >= text_width("2026-01-26 intact,", TYPE["register"].size)


def test_a_long_note_gets_the_room_it_needs():
    """The longest texts decide how many lines a row has, so their column is the widest."""
    rows = [("L1", "6 foil bags, new", "storage temperature and much more besides " * 5) for _ in range(5)]
    widths = register_widths(register(rows), 400)

    assert widths[2] > widths[0] + widths[1]


def test_a_digest_is_never_cut():
    """A file's digest has its whole length, however long."""
    digest = "0123456789abcdef" * 4
    widths = register_widths(register([("records.yaml", digest, "x")], ("text", "digest", "text")), 500)

    assert widths[1] - INSET >= text_width(digest, TYPE["register"].size)


def test_short_tables_need_no_choice():
    """Where every text has its line, the room left over is shared in proportion."""
    widths = register_widths(register([("a", "b", "c")]), 300)

    assert widths[0] == pytest.approx(widths[1], rel=0.1)
