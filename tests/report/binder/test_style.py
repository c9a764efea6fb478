"""The style sheet and its faces: cut down once, and kept."""

from __future__ import annotations

import pytest

from certgen.report.binder import style
from certgen.report.binder.style import write_style
from certgen.typeset.html_pages import environment

LETTERS = set("Callow Bell, 14 g")


def test_a_kept_face_is_the_one_that_is_cut(tmp_path, monkeypatch):
    """With a cache the sheet is the same, and the second time no face is cut for it."""
    cut = write_style(environment(), LETTERS)
    first = write_style(environment(), LETTERS, cache=tmp_path)
    monkeypatch.setattr(style, "_cut", lambda *_: pytest.fail("cut again"))

    assert (cut, cut) == (first, write_style(environment(), LETTERS, cache=tmp_path))


def test_other_letters_have_a_face_of_their_own(tmp_path):
    """What was kept for some letters is not taken for more."""
    write_style(environment(), LETTERS, cache=tmp_path)

    assert write_style(environment(), {*LETTERS, "é"}) == write_style(
        environment(), {*LETTERS, "é"}, cache=tmp_path
    )


def test_a_damaged_entry_is_made_anew(tmp_path):
    """What doesn't bear its own checksum is passed over."""
    whole = write_style(environment(), LETTERS, cache=tmp_path)
    for entry in tmp_path.iterdir():
        entry.write_bytes(entry.read_bytes()[:-9])

    assert whole == write_style(environment(), LETTERS, cache=tmp_path)
