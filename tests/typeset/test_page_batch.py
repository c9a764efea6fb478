"""Finished batches: numbered for the whole file, with all their rows and nothing twice."""

from __future__ import annotations

import pikepdf
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pages import SETTINGS, joined_file

from certgen.typeset import registers as module
from certgen.typeset.page_batch import FIRST, string_of
from certgen.typeset.parts import Register, RegisterColumn, RegisterSet
from certgen.typeset.registers import set_registers
from certgen.typeset.structure import walk

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


def draw_batches(registers, known=None):
    """The registers as batches."""
    return list(
        set_registers(
            RegisterSet("Registers", "", registers),
            SETTINGS,
            known=known,
        )
    )


def test_numbers_follow_on(monkeypatch):
    """No two batches share a number or a key, and none is left out between the keys."""
    monkeypatch.setattr(module, "BATCH_ROWS", 100)
    batches = draw_batches((register(500),))

    assert len(batches) > 2
    number, key = FIRST.next_object, FIRST.next_key
    seen: set[int] = set()
    for batch in batches:
        used = [*(one for one, _ in batch.packed.streams), *(one for one, _, _ in batch.packed.places())]
        used += [one for one, _ in batch.pages]
        assert len(used) == len(set(used))
        assert not seen & set(used)
        assert min(used) >= FIRST.next_object
        assert max(used) < batch.numbering.next_object
        assert number < batch.numbering.next_object
        assert key == batch.parents[1]
        seen |= set(used)
        number, key = batch.numbering.next_object, batch.numbering.next_key


def test_every_number_that_is_named_is_there(monkeypatch):
    """Page batches refer to nothing that no batch holds: a reader of the joined file finds every object."""
    monkeypatch.setattr(module, "BATCH_ROWS", 100)
    with joined_file(draw_batches((register(300),))) as pdf:
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
    """A name that looks like syntax of the file leads where it should, and is read aloud as it stands."""
    with joined_file(draw_batches((register(20, AWKWARD),))) as pdf:
        links = [str(link.Dest) for page in pdf.pages for link in page.Annots]
        places = {str(name) for name in pikepdf.NameTree(pdf.Root.Names.Dests)}
        # A name that is broken over two lines has a link on each.
        said = {str(link.Dest): str(link.Contents) for page in pdf.pages for link in page.Annots}

        assert [] == pdf.check_pdf_syntax()
        assert list(AWKWARD) == list(dict.fromkeys(links))[: len(AWKWARD)]
        assert [SETTINGS.say_link(name) for name in AWKWARD] == [said[name] for name in AWKWARD]
        assert set(AWKWARD) <= places


@given(st.text(max_size=30))
def test_a_string_is_read_as_it_was(text):
    """Whatever a text holds, a reader of the file gets it back; only lone surrogates are replaced."""
    text = text.encode("utf-16", "replace").decode("utf-16")

    assert text == str(pikepdf.Object.parse(string_of(text)))


def test_every_mark_and_link_has_its_element(monkeypatch):
    """The tree of parents is in order over all batches, and leads from pages and links to rows."""
    monkeypatch.setattr(module, "BATCH_ROWS", 100)
    with joined_file(draw_batches((register(400),))) as pdf:
        tree = {element.objgen for element in walk(pdf.Root.StructTreeRoot)}
        parents = dict(pikepdf.NumberTree(pdf.Root.StructTreeRoot.ParentTree).items())

        assert sorted(parents) == list(parents)
        for page in pdf.pages:
            assert {one.objgen for one in parents[int(page.StructParents)]} <= tree
            assert all(parents[int(link.StructParent)].objgen in tree for link in page.Annots)


def test_marks_of_a_page_lead_back_to_it():
    """Each element's mark is the one that the page's list of parents has under that number."""
    with joined_file(draw_batches((register(200),))) as pdf:
        parents = dict(pikepdf.NumberTree(pdf.Root.StructTreeRoot.ParentTree).items())
        listed = {page.obj.objgen: parents[int(page.StructParents)] for page in pdf.pages}
        checked = 0
        for element in walk(pdf.Root.StructTreeRoot):
            for mark in (kid for kid in element.get("/K", ()) if isinstance(kid, int)):
                assert listed[element.Pg.objgen][mark].objgen == element.objgen
                checked += 1

        assert checked > 200


def test_places_stay_within_their_batch(monkeypatch):
    """A place is on one of its batch's own pages, on whichever page a batch ends."""
    monkeypatch.setattr(module, "BATCH_ROWS", 100)
    batches = draw_batches((register(300), register(2, ("lots/1", "lots/2"))))

    assert len(batches) > 3
    for batch in batches:
        assert all(0 <= page < len(batch.pages) for page, _ in batch.places.values())
        assert all(0 <= mark.page < len(batch.pages) for mark in batch.headings)
    assert 302 == sum(len(batch.places) for batch in batches)


@pytest.mark.parametrize("count", [1, 300])
def test_the_same_rows_give_the_same_batches(count):
    """Twice the same, down to the numbers."""
    assert draw_batches((register(count),)) == draw_batches((register(count),))
