"""Compact registers: short entries stand below one another, long ones alone, and each has its place."""

from __future__ import annotations

from itertools import pairwise

import pikepdf
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pages import SETTINGS, joined_file

from certgen.typeset import registers as module
from certgen.typeset.design import SHEETS
from certgen.typeset.entries import (
    ENTRY_GAP,
    CompactRegister,
    Entry,
    EntryGroup,
    column_width,
    count_entries,
    cut_register,
    entry_width,
    share_lines,
)
from certgen.typeset.parts import RegisterSet, Run
from certgen.typeset.registers import set_registers
from certgen.typeset.structure import walk

WIDTH = column_width(SHEETS["A4"])


def entry(number: int, words: str = "") -> Entry:
    """An entry whose name leads to its tree."""
    return Entry(f"bagging/B{number:05}", (Run(f"B{number:05}", f"trees/T{number}"), Run(words)))


def register(count: int, *, each: int = 100, words: str = " T-101") -> CompactRegister:
    """A register of `count` bags in groups of `each`, every tenth with a long word to say."""
    entries = [entry(n, words if n % 10 else f"{words}; {'torn along the seam ' * 6}") for n in range(count)]
    groups = tuple(
        EntryGroup((Run(f"covered on day {at}"),), tuple(entries[at : at + each]))
        for at in range(0, count, each)
    )
    return CompactRegister("bagging", "Bags", "One record a bag.", (Run("All: new."),), groups)


def set_all(*registers, **more):
    """The registers as batches."""
    return list(set_registers(RegisterSet("Registers", "Words.", registers), SETTINGS, **more))


@given(st.lists(st.text("ab -", max_size=70), max_size=30))
def test_lines_hold_every_entry_in_its_order(texts):
    """None is lost or moved; what shares a line fits into its place."""
    entries = [entry(number, text) for number, text in enumerate(texts)]
    lines = list(share_lines(entries, WIDTH))

    assert entries == [one for line in lines for one, _ in line]
    for line in lines:
        assert len(line) == 1 or all(width for _, width in line)
        for one, width in line:
            assert not width or (entry_width(one) or WIDTH) <= width <= WIDTH


def test_short_entries_share_lines():
    """A bag and its tree take a third of a column or less."""
    ((*line,),) = share_lines([entry(n, " T-101") for n in range(12)], WIDTH)

    assert {1} == {int(WIDTH / (width + ENTRY_GAP)) // 4 for _, width in line}


@given(st.integers(0, 40), st.integers(0, 45))
def test_a_register_is_cut_between_entries(count, room):
    """Its parts together hold what it held; the second repeats neither title nor words."""
    whole = register(count, each=7)
    first, rest = cut_register(whole, room)

    assert list(whole.anchors) == [*first.anchors, *rest.anchors]
    assert min(count, room) == count_entries(first)
    assert ("", "", ()) == (rest.title, rest.lead, rest.common)


@pytest.mark.parametrize("count", [1, 99, 700])
def test_every_entry_has_its_place(count, monkeypatch):
    """However a register falls into batches, each entry is set once and the file is sound."""
    monkeypatch.setattr(module, "BATCH_ROWS", 100)
    with joined_file(set_all(register(count))) as pdf:
        assert [] == pdf.check_pdf_syntax()
        names = [str(name) for name in pikepdf.NameTree(pdf.Root.Names.Dests)]
        assert sorted(register(count).anchors) == sorted(n for n in names if n.startswith("bagging/"))


def test_entries_run_down_two_columns():
    """A page is filled down its left half and then down its right one, before the next page."""
    (batch,) = set_all(register(600))
    places = [batch.places[anchor] for anchor in register(600).anchors]
    tops = [top for page, top in places if page == 0]

    assert len(batch.pages) < 4
    assert 1 == sum(later > before + 100 for before, later in pairwise(tops))


def test_the_structure_holds_headings_and_paragraphs():
    """A register is a heading with paragraphs, and each link says where it leads."""
    with joined_file(set_all(register(30))) as pdf:
        kinds = [str(element.S) for element in walk(pdf.Root.StructTreeRoot)]
        links = [link for page in pdf.pages for link in page.get("/Annots", ())]

        assert kinds.count("/P") > 4
        assert 2 == sum(kind in {"/H1", "/H2"} for kind in kinds)
        assert 30 == len(links)
        assert all(str(link.Contents).startswith("Go to trees T") for link in links)


def test_a_word_wider_than_a_column_breaks():
    """A path of three hundred letters stays inside its column."""
    long = CompactRegister("files", "Files", "", (), (EntryGroup((), (entry(1, " " + "x" * 300),)),))
    with joined_file(set_all(long)) as pdf:
        assert [] == pdf.check_pdf_syntax()
        assert 1 == len(pdf.pages)


def test_markup_in_an_entry_is_text():
    """What looks like code of the engine is set as it stands."""
    hostile = CompactRegister(
        "x", "#panic(1)", "", (Run("$ *b* #x"),), (EntryGroup((), (entry(1, " #panic(2) @a <b>"),)),)
    )
    with joined_file(set_all(hostile)) as pdf:
        assert [] == pdf.check_pdf_syntax()
