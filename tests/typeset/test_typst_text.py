"""Texts as a Typst template takes them: what breaks, what is held together, and where links lead."""

from __future__ import annotations

import pytest

from certgen.typeset.typst_text import Links, fit_words

HELD, MAY_BREAK = "\u2060", "\u200b"


@pytest.mark.parametrize(
    ("text", "room", "hold", "fitted"),
    [
        ("B26-001 set", None, True, "B26-001 set"),
        ("B26-001 set", 60.0, True, f"{HELD}B26-001{HELD} set"),
        ("B26-001 set", 60.0, False, "B26-001 set"),
        ("wide", 8.0, False, MAY_BREAK.join("wide")),
        ("letters/bf-26.txt", 40.0, True, "letters/bf-26.txt"),
        ("a\tb", None, True, "a b"),
    ],
)
def test_words_break_where_they_must(text, room, hold, fitted):
    """One that a line has room for is held; a wider one breaks at its hyphens, or anywhere."""
    assert fitted == fit_words(text, room, 8.0, hold=hold)


def test_links_are_numbered_once():
    """The same anchor has one number; what leads nowhere has none; what opens a file is known."""
    links = Links(frozenset({"a", "b"}), {"evidence/x.txt"})
    addresses = [links.address(one) for one in ("a", "b", "a", "gone", "", "evidence/x.txt")]

    assert ["packet:0", "packet:1", "packet:0", "", "", "packet:2"] == addresses
    assert {"packet:2": True} == links.opening
