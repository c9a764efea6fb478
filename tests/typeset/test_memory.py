"""Memory that comes back: what Typst laid out goes, and the next file is set as well as before."""

from __future__ import annotations

import ctypes

import pytest
from pages import SETTINGS

from certgen.process_pool import work_apart
from certgen.typeset import typst_pages
from certgen.typeset.memory import forget_layouts, return_large_blocks
from certgen.typeset.parts import Cell, Chapter, Grid, Head, Row, Run, Section
from certgen.typeset.typst_chapters import set_chapter

_FIELDS = (
    "arena",
    "ordblks",
    "smblks",
    "hblks",
    "hblkhd",
    "usmblks",
    "fsmblks",
    "uordblks",
    "fordblks",
    "top",
)


class Counted(ctypes.Structure):
    """What glibc says of its heap."""

    _fields_ = tuple((name, ctypes.c_size_t) for name in _FIELDS)


def held() -> int:
    """How many bytes of the heap are in use."""
    ask = ctypes.CDLL(None).mallinfo2
    ask.restype = Counted
    return int(ask().uordblks)


def table(rows: int) -> Chapter:
    """A chapter of one table."""
    told = tuple(Row((Cell((Run(f"row {row}"),)), Cell((Run("12.5 g"),)))) for row in range(rows))
    return Chapter("t", (Section("t", "T", 1, (Grid("", (Head("A"), Head("B")), told),), style="chapter"),))


def find_what_is_kept() -> tuple[int, int]:
    """What a chapter adds to the heap before and after its layout is forgotten; called in a fresh process."""
    return_large_blocks()
    set_chapter(table(1), SETTINGS)
    forget_layouts(typst_pages._fonts())
    before = held()
    typst_pages.forget_layouts = lambda _fonts: None
    set_chapter(table(2_000), SETTINGS)
    kept = held() - before
    forget_layouts(typst_pages._fonts())
    return kept, held() - before


@pytest.mark.skipif(not hasattr(ctypes.CDLL(None), "mallinfo2"), reason="only glibc says what it holds")
def test_what_was_laid_out_is_forgotten():
    """Nearly all of the megabytes that a long chapter leaves behind."""
    kept, left = work_apart(find_what_is_kept)

    assert kept > 10_000_000
    assert left < kept / 3


def test_a_chapter_is_set_alike_once_another_was_forgotten():
    """Byte for byte, with what it shares with the one before."""
    first = set_chapter(table(1_500), SETTINGS)

    assert first == set_chapter(table(1_500), SETTINGS)
    assert first != set_chapter(table(1_499), SETTINGS)
