"""Texts broken into lines: nothing is lost, nothing is wider than the room."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from certgen.typeset.design import SANS
from certgen.typeset.tables.font_subset import FontSubset, face_of
from certgen.typeset.tables.line_breaks import break_lines

FONT = FontSubset(face_of(SANS, 400))
RUNS = st.lists(
    st.tuples(st.text("abiW -/\n,", max_size=30), st.sampled_from(["", "trees/T1", "lots/L1"])), max_size=5
)


def words(lines) -> list[str]:
    """Each line's text."""
    return ["".join(text for text, _ in line) for line in lines]


@given(RUNS, st.floats(1.5, 40))
def test_no_letter_is_lost_and_no_line_too_wide(runs, room):
    """Lines hold every letter in order, each leading where it led, and fit the room."""
    lines = break_lines(runs, room, FONT)

    def letters(pieces):
        return [(letter, href) for text, href in pieces for letter in text if not letter.isspace()]

    assert letters(runs) == letters(piece for line in lines for piece in line)
    assert all(sum(FONT.show(text)[0] for text, _ in line) <= room + 0.2 for line in lines)


def test_words_part_at_spaces():
    """A line is filled as far as whole words go."""
    room = FONT.show("one two")[0] + 0.01

    assert ["one two", "three"] == words(break_lines([("one two three", "")], room, FONT))


def test_a_new_line_is_kept():
    """Where a note begins a new line, so does the page."""
    assert ["one", "two", "", "three"] == words(break_lines([("one\ntwo\n\nthree", "")], 99, FONT))


def test_a_long_word_parts_after_a_stroke():
    """A long reference is rather broken where it has a seam than between two letters."""
    room = FONT.show("certificates/non-g")[0]

    assert ["certificates/non-", "gm"] == words(break_lines([("certificates/non-gm", "")], room, FONT))


def test_a_link_spans_the_space_between_its_words():
    """A link of two words is one; the space before it is not part of it."""
    lines = break_lines([("see ", ""), ("Lot 5", "lots/5"), (", kept", "")], 99, FONT)

    assert [[("see ", ""), ("Lot 5", "lots/5"), (", kept", "")]] == lines


def test_a_figure_keeps_its_unit():
    """A unit never begins a line, where the figure has room beside it."""
    room = FONT.show("X26-04 73.6")[0] + 0.1

    assert ["X26-04", "73.6 g,", "83 %"] == words(break_lines([("X26-04 73.6 g, 83 %", "")], room, FONT))
    assert ["98.6 ", "°F"] == words(break_lines([("98.6 °F", "")], FONT.show("98.6 ")[0], FONT))


def test_a_word_of_any_length_is_broken():
    """A word that is longer than is worth measuring is broken like any other, to its last letter."""
    word = "abc" * 1_000
    lines = words(break_lines([("see ", ""), (word, "")], 30, FONT))

    assert f"see{word}" == "".join(lines).replace(" ", "")
    assert max(FONT.show(line)[0] for line in lines) <= 30


def test_nothing_gives_one_empty_line():
    """An empty text is one line with nothing on it."""
    assert [[]] == break_lines([], 10, FONT)
    assert [[]] == break_lines([("   ", "")], 10, FONT)
