"""Finished quires: numbered for the whole file, with all their rows and nothing twice."""

from __future__ import annotations

import io
from datetime import date

import pikepdf
import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.typeset.design import SHEETS, Settings
from certgen.typeset.joining import Binding
from certgen.typeset.page_batch import FIRST_KEY, FIRST_OBJECT, string_of
from certgen.typeset.parts import Register, RegisterColumn, RegisterSet
from certgen.typeset.structure import walk
from certgen.typeset.tables import canvas as press_module
from certgen.typeset.tables.layout import set_registers

COVERS = ("certgen.typeset.objects",)
SETTINGS = Settings("t", "en", SHEETS["A4"], date(2026, 11, 25), "Go to")

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


def set_quires(registers, known=None):
    """The registers as quires."""
    return list(
        set_registers(
            RegisterSet("Registers", "", registers),
            SETTINGS,
            first_object=FIRST_OBJECT,
            first_key=FIRST_KEY,
            known=known,
        )
    )


def sewn(*registers: Register) -> pikepdf.Pdf:
    """The registers as a file."""
    binding = Binding()
    for quire in set_quires(registers):
        binding.append_quire(quire)
    binding.finish(SETTINGS)
    # Every file has a place for its dates; the packet's own are written elsewhere.
    binding.pdf.docinfo["/Title"] = pikepdf.String("t")
    return pikepdf.open(io.BytesIO(binding.save()))


def test_numbers_follow_on(monkeypatch):
    """No two quires share a number or a key, and none is left out between the keys."""
    monkeypatch.setattr(press_module, "QUIRE_PAGES", 2)
    quires = set_quires((register(500),))

    assert len(quires) > 2
    number, key = FIRST_OBJECT, FIRST_KEY
    seen: set[int] = set()
    for quire in quires:
        used = [*(one for one, _ in quire.packed.streams), *(one for one, _, _ in quire.packed.inside)]
        used += [one for one, _ in quire.pages]
        assert len(used) == len(set(used))
        assert not seen & set(used)
        assert min(used) >= FIRST_OBJECT
        assert max(used) < quire.next_object
        assert number < quire.next_object
        assert key == quire.parents[1]
        seen |= set(used)
        number, key = quire.next_object, quire.next_key


def test_every_number_that_is_named_is_there(monkeypatch):
    """Quires refer to nothing that no quire holds: a reader of the joined file finds every object."""
    monkeypatch.setattr(press_module, "QUIRE_PAGES", 2)
    with sewn(register(300)) as pdf:
        missing = [
            value
            for item in pdf.objects
            if isinstance(item, pikepdf.Dictionary)
            for key, value in item.items()
            if value is None and key != "/Parent"
        ]

        assert [] == missing
        assert [] == pdf.check_pdf_syntax()


def test_awkward_names_stay_names():
    """A name that looks like syntax of the file leads where it should, and is spoken as it stands."""
    with sewn(register(20, AWKWARD)) as pdf:
        links = [str(link.Dest) for page in pdf.pages for link in page.Annots]
        places = {str(name) for name in pikepdf.NameTree(pdf.Root.Names.Dests)}
        # A name that is broken over two lines has a link on each.
        told = {str(link.Dest): str(link.Contents) for page in pdf.pages for link in page.Annots}

        assert [] == pdf.check_pdf_syntax()
        assert list(AWKWARD) == list(dict.fromkeys(links))[: len(AWKWARD)]
        assert [SETTINGS.say_link(name) for name in AWKWARD] == [told[name] for name in AWKWARD]
        assert set(AWKWARD) <= places


@given(st.text(max_size=30))
def test_a_string_is_read_as_it_was(text):
    """Whatever a text holds, a reader of the file gets it back; only halves of a sign are replaced."""
    text = text.encode("utf-16", "replace").decode("utf-16")

    assert text == str(pikepdf.Object.parse(string_of(text)))


def test_every_mark_and_link_has_its_element(monkeypatch):
    """The tree of parents is in order over all quires, and leads from pages and links to rows of the file."""
    monkeypatch.setattr(press_module, "QUIRE_PAGES", 2)
    with sewn(register(400)) as pdf:
        tree = {element.objgen for element in walk(pdf.Root.StructTreeRoot)}
        parents = dict(pikepdf.NumberTree(pdf.Root.StructTreeRoot.ParentTree).items())

        assert sorted(parents) == list(parents)
        for page in pdf.pages:
            assert {one.objgen for one in parents[int(page.StructParents)]} <= tree
            assert all(parents[int(link.StructParent)].objgen in tree for link in page.Annots)


def test_marks_of_a_page_lead_back_to_it():
    """Each element's mark is the one that the page's list of parents has under that number."""
    with sewn(register(200)) as pdf:
        parents = dict(pikepdf.NumberTree(pdf.Root.StructTreeRoot.ParentTree).items())
        listed = {page.obj.objgen: parents[int(page.StructParents)] for page in pdf.pages}
        checked = 0
        for element in walk(pdf.Root.StructTreeRoot):
            for held in [element.K] if isinstance(element.get("/K"), int) else []:
                assert listed[element.Pg.objgen][held].objgen == element.objgen
                checked += 1

        assert checked > 200


def test_places_stay_within_their_quire(monkeypatch):
    """A place is on one of its quire's own pages, on whichever page a quire ends."""
    monkeypatch.setattr(press_module, "QUIRE_PAGES", 1)
    quires = set_quires((register(300), register(2, ("lots/1", "lots/2"))))

    assert len(quires) > 3
    for quire in quires:
        assert all(0 <= page < len(quire.pages) for page, _ in quire.places.values())
        assert all(0 <= mark.page < len(quire.pages) for mark in quire.marks)
    assert 302 == sum(len(quire.places) for quire in quires)


@pytest.mark.parametrize("count", [1, 300])
def test_the_same_rows_give_the_same_quires(count):
    """Twice the same, down to the numbers."""
    assert set_quires((register(count),)) == set_quires((register(count),))
