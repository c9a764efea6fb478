"""Chapters and registers shared out: whoever sets them and whenever, the document is the same to the byte."""

from __future__ import annotations

import os
from dataclasses import replace

import pytest
from pages import SETTINGS

from certgen.process_pool import Pool, ends_with_its_work
from certgen.typeset import registers as register_setting
from certgen.typeset import shared_setting
from certgen.typeset.compose import compose
from certgen.typeset.entries import CompactRegister, Entry, EntryGroup
from certgen.typeset.first_page import Cover
from certgen.typeset.index import compose_index
from certgen.typeset.parts import Cell, Chapter, Document, Grid, Head, Index, RegisterSet, Row, Run, Section
from certgen.typeset.shared_setting import begin_registers, leads_only_to, offer_registers

COVER = Cover("Report", "Larkfold", "2026", (), (), "is", "is not", ())


def chapter(name: str, rows: int) -> Chapter:
    """A chapter of a table of so many rows."""
    told = tuple(Row((Cell((Run(f"{name} {row}", "bags/B-1"),)),), f"{name}/{row}") for row in range(rows))
    return Chapter(name, (Section(name, name, 1, (Grid("", (Head("A"),), told),), style="chapter"),))


def register(table: str, count: int, leads: str) -> CompactRegister:
    """A register of so many records, each of which leads somewhere."""
    entries = tuple(
        Entry(f"{table}/B-{number}", (Run(f"B-{number}"), Run(" of "), Run("it", leads)))
        for number in range(count)
    )
    return CompactRegister(table, table.title(), "", (), (EntryGroup((), entries),))


def document(leads: str = "two/3") -> Document:
    """Three chapters of several lengths and two registers, which lead to a row of a chapter."""
    return Document(
        head="Larkfold",
        foot="the foot",
        producer="certgen 0",
        cover=COVER,
        front=(chapter("one", 3), chapter("two", 40)),
        registers=RegisterSet(
            "Registers", "All.", (register("bags", 30, leads), register("trees", 5, leads))
        ),
        back=(chapter("three", 12),),
        manifest=RegisterSet(),
    )


@pytest.fixture(scope="module")
def alone() -> bytes:
    """The document as one process sets it."""
    return compose(document(), SETTINGS)


def test_long_chapters_set_elsewhere_are_the_same(alone, monkeypatch):
    """In the pool and at the side, in whichever order they are done."""
    monkeypatch.setattr(shared_setting, "_MANY_ROWS", 2)
    with Pool(1) as pool:
        assert alone == compose(document(), SETTINGS, pool=pool)


@pytest.mark.parametrize("breaks", [False, True])
def test_a_long_index_set_elsewhere_is_the_same(breaks, monkeypatch):
    """In a process of its own, or here where that one ended before its work."""
    named = tuple((f"B-{number}", (f"bags/B-{number}",)) for number in range(30))
    indexed = replace(document(), index=Index("Index", "Where each bag stands.", (("Bags", named),)))
    whole = compose(indexed, SETTINGS)
    monkeypatch.setattr("certgen.typeset.compose._MANY_PAGES", 0)
    if breaks:
        monkeypatch.setattr("certgen.typeset.opening._compose_index", _end_elsewhere)
    with Pool(1) as pool:
        assert whole == compose(indexed, SETTINGS, pool=pool)


def _end_elsewhere(*given):
    """The index, or the end of a process that does one piece of work."""
    if ends_with_its_work():
        os._exit(1)
    return compose_index(*given)


@pytest.mark.parametrize("leads", ["two/3", "nowhere"])
def test_registers_begun_early_are_the_same(alone, leads):
    """Where a link of theirs turns out to lead nowhere they are set again, with its text alone."""
    shown = document(leads)
    with Pool(1) as pool:
        begun = begin_registers(shown.registers, (), SETTINGS, pool)
        assert begun
        made = compose(shown, SETTINGS, pool=pool, begun=begun)

    assert made == (alone if leads == "two/3" else compose(shown, SETTINGS))


def test_nothing_is_begun_where_nobody_helps():
    """This process would set it before it goes on."""
    assert [] == begin_registers(document().registers, (), SETTINGS, Pool(0))


def test_the_batch_with_most_links_is_begun_first(monkeypatch):
    """And is set in a process of its own where it has very many; the batches stay in their order."""
    monkeypatch.setattr(register_setting, "BATCH_ROWS", 10)
    monkeypatch.setattr(shared_setting, "_MANY_LINKS", 8)
    all_ = (register("a", 10, ""), register("b", 10, "a/B-1"), register("c", 5, ""))
    registers, noted = RegisterSet("R", "", all_), []

    class Noting(Pool):
        """Notes what is offered."""

        def offer(self, work, *given):
            noted.append((given[0].registers[0].table, given[-1]))
            return super().offer(work, *given)

    offered = offer_registers(registers, SETTINGS, Noting(0), None, ())
    plain = offer_registers(registers, SETTINGS, Pool(0), None, ())

    assert [("b", True), ("a", False), ("c", False)] == noted
    assert [one.obtain() for one in offered] == [one.work() for one in plain]


def test_where_registers_lead_is_known():
    """Any link of any entry counts."""
    shown = document().registers

    assert leads_only_to(frozenset({"two/3"}), shown)
    assert not leads_only_to(frozenset({"two/4"}), shown)
