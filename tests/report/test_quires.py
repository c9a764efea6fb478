"""Finished quires: numbered for the whole file, with all their rows and nothing twice."""

from __future__ import annotations

import io
from dataclasses import replace

import pikepdf
import pytest

from certgen.report import registers as setter
from certgen.report.building import build_packet
from certgen.report.joining import Binding
from certgen.report.packet import Register, RegisterColumn
from certgen.report.printing import Manner, do_here, known_anchors, set_quires, spoken
from certgen.report.quires import FIRST_KEY, FIRST_OBJECT
from certgen.report.structure import kids, walk

MANNER = Manner("t", "en", "A4", 1_700_000_000)
#: Anchors that look like the syntax of the file that they are written into.
AWKWARD = (
    "bagging/B (1",
    "bagging/B\\2)",
    "bagging/B /StructParent 7 /Subtype /Link",
    "bagging/B 5 0 R",
    "bagging/بذور",
)


def register(count: int, names: tuple[str, ...] = ()) -> Register:
    """A register whose rows lead to themselves."""
    columns = (RegisterColumn("Bag", 1), RegisterColumn("Note", 3))
    anchors = [*names, *(f"bagging/B{n:05}" for n in range(count - len(names)))]
    rows = tuple((one, (((one, one),), ((f"note {n}", ""),))) for n, one in enumerate(anchors))
    return Register("bagging", "Bags", "", columns, rows)


def sewn(*registers: Register) -> pikepdf.Pdf:
    """The registers as a file."""
    binding = Binding()
    for quire in set_quires(registers, None, MANNER, do_here):
        binding.append_quire(quire)
    binding.finish(language="en", spoken=spoken)
    # Every file has a place for its dates; the packet's own are written elsewhere.
    binding.pdf.docinfo["/Title"] = pikepdf.String("t")
    return pikepdf.open(io.BytesIO(binding.save()))


def body_rows(pdf: pikepdf.Pdf) -> list:
    """The rows of all tables, without the heads."""
    return [row for body in walk(pdf.Root.StructTreeRoot) if body.S == "/TBody" for row in kids(body)]


@pytest.mark.parametrize("count", [0, 1, 119, 121, 400])
def test_every_row_is_sewn_in_once(count, monkeypatch):
    """However a register falls into quires, the file is sound and holds each row and its place once."""
    monkeypatch.setattr(setter, "REGISTER_CHUNK", 120)
    with sewn(register(count)) as pdf:
        assert [] == pdf.check_pdf_syntax()
        assert count == len(body_rows(pdf))
        names = [
            str(name) for name in pikepdf.NameTree(pdf.Root.Names.Dests) if str(name).startswith("bagging/")
        ]
        assert sorted(f"bagging/B{n:05}" for n in range(count)) == sorted(names)


def test_numbers_follow_on(monkeypatch):
    """No two quires share a number or a key, and none is left out between the keys."""
    monkeypatch.setattr(setter, "REGISTER_CHUNK", 120)
    quires = set_quires((register(400),), None, MANNER, do_here)

    assert len(quires) > 2
    number, key = FIRST_OBJECT, FIRST_KEY
    for quire in quires:
        used = [*(one for one, _ in quire.packed.streams), *(one for one, _, _ in quire.packed.inside)]
        used += [one for one, _ in quire.pages]
        assert len(used) == len(set(used))
        assert number <= min(used)
        assert max(used) < quire.next_object
        assert key == quire.parents[1]
        number, key = quire.next_object, quire.next_key


def test_awkward_names_stay_names():
    """A name that looks like syntax of the file leads where it should, and is spoken as it stands."""
    with sewn(register(20, AWKWARD)) as pdf:
        links = [link for page in pdf.pages for link in page.Annots]
        places = {str(name) for name in pikepdf.NameTree(pdf.Root.Names.Dests)}

        assert [] == pdf.check_pdf_syntax()
        assert list(AWKWARD) == [str(link.Dest) for link in links[: len(AWKWARD)]]
        assert [spoken(name) for name in AWKWARD] == [str(link.Contents) for link in links[: len(AWKWARD)]]
        assert set(AWKWARD) <= places


def test_every_mark_and_link_has_its_element(monkeypatch):
    """The tree of parents is in order over all quires, and leads from pages and links to rows of the file."""
    monkeypatch.setattr(setter, "REGISTER_CHUNK", 120)
    with sewn(register(400)) as pdf:
        tree = {element.objgen for element in walk(pdf.Root.StructTreeRoot)}
        parents = dict(pikepdf.NumberTree(pdf.Root.StructTreeRoot.ParentTree).items())

        assert sorted(parents) == list(parents)
        for page in pdf.pages:
            assert {one.objgen for one in parents[int(page.StructParents)]} <= tree
            assert all(parents[int(link.StructParent)].objgen in tree for link in page.Annots)


def test_registers_hang_below_one_bookmark(result, monkeypatch):
    """A register that opens a quire is as deep in the bookmarks as those before it."""
    monkeypatch.setattr(setter, "REGISTER_CHUNK", 10)
    quires = set_quires(build_packet(result).registers, None, MANNER, do_here)
    depths = [mark.depth for quire in quires for mark in quire.marks]

    assert [0] == [depth for depth in depths if depth == 0]
    assert {0, 1} == set(depths)


def test_a_link_without_a_place_is_plain_text(packet):
    """A register's link to what the packet does not hold is set as text; what it holds is known before."""
    alone = replace(packet, front=(), back=())
    assert "lots/L1" in known_anchors(packet)
    assert "gap/1" not in known_anchors(alone)
    known = known_anchors(alone)
    places = {
        anchor for quire in set_quires(alone.registers, known, MANNER, do_here) for anchor in quire.places
    }
    leads = {
        href
        for one in alone.registers
        for _, cells in one.rows
        for cell in cells
        for _, href in cell
        if href in known
    }

    assert leads <= places
