"""Any document as a file: what its contents list, what its cover tells, and where its parts stand."""

from __future__ import annotations

import io

import pikepdf
from pages import SETTINGS

from certgen.typeset import compose as module
from certgen.typeset.compose import compose
from certgen.typeset.html_pages import set_opening
from certgen.typeset.parts import (
    Chapter,
    Cover,
    Document,
    Index,
    Prose,
    Register,
    RegisterColumn,
    RegisterSet,
    Section,
)

COVERS = ("certgen.typeset.parts", "certgen.typeset.joining")
COVER = Cover("Report", "Larkfold", "2026", (), (), "is", "is not", ())


def document(*titles: str, **more) -> Document:
    """A chapter with a section for each title, and a manifest of one file."""
    sections = tuple(
        Section(f"part/{title}", title, 1 + (number > 0), (Prose((f"Of {title}.",)),), style="chapter")
        for number, title in enumerate(titles)
    )
    file = Register("files", "Files", "", (RegisterColumn("File", 1),), (("file/a", ((("a", ""),),)),))
    given = {
        "head": "Larkfold",
        "foot": "the foot",
        "producer": "certgen 0",
        "cover": COVER,
        "front": (Chapter("one", sections),),
        "manifest": RegisterSet("Manifest", "What it rests on.", (file,)),
    }
    return Document(**(given | more))


def contents_of(pdf: pikepdf.Pdf) -> list[int]:
    """The pages, from 0, that the lines of the contents lead to."""
    pages = {page.obj.objgen: number for number, page in enumerate(pdf.pages)}
    places = {str(name): target for name, target in pikepdf.NameTree(pdf.Root.Names.Dests).items()}
    leads = [str(link.Dest) for link in pdf.pages[1].Annots]
    # The number and the title of a line are a link each.
    return [pages[places[lead][0].objgen] for lead in leads[::2]]


def test_contents_list_every_part():
    """Chapters, the index and the manifest with its registers, on the pages where they stand."""
    index = Index("Index", "Where things stand.", (("Parts", (("One", ("part/One",)),)),))
    with pikepdf.open(io.BytesIO(compose(document("One", "Two", index=index), SETTINGS))) as pdf:
        with pdf.open_outline() as outline:
            titles = [item.title for item in outline.root]
        pages = contents_of(pdf)

    assert ["Cover", "Contents", "One", "Index", "Manifest"] == titles
    assert [2, 3, 4, 5, 5] == pages


def test_contents_leave_out_what_they_are_told_to():
    """A section that the contents leave out stays among the bookmarks."""
    shown = document("One", "Two", "מטע, 3", unlisted=frozenset({"Two", "מטע, 3"}))
    with pikepdf.open(io.BytesIO(compose(shown, SETTINGS))) as pdf:
        with pdf.open_outline() as outline:
            inside = [item.title for item in outline.root[2].children]
        pages = contents_of(pdf)

    assert ["Two", "\u2068מטע\u2069, 3"] == inside
    assert [2, 5, 5] == pages


def test_a_document_spells_out_letters_and_says_so(monkeypatch):
    """A letter that no face has stands as its code point, whoever built the chapter; the cover tells it."""
    covers = []

    def note_cover(cover, contents, settings):
        covers.append(cover)
        return set_opening(cover, contents, settings)

    monkeypatch.setattr(module, "set_opening", note_cover)
    data = compose(document("One", "ምርት"), SETTINGS)
    with pikepdf.open(io.BytesIO(data)) as pdf, pdf.open_outline() as outline:
        inside = [item.title for item in outline.root[2].children]

    assert ["[U+121D][U+122D][U+1275]"] == inside
    assert ["Letters"] == [fact.label for fact in covers[-1].facts]


def test_progress_ends_when_the_file_does():
    """Each piece is named once it is done, and the last one makes it all of them."""
    steps = []
    rows = Register("bags", "Bags", "", (RegisterColumn("Bag", 1),), ())
    for registers in (RegisterSet(), RegisterSet("Registers", "", (rows,))):
        compose(document("One", registers=registers), SETTINGS, progress=lambda *step: steps.append(step))

    assert [
        ("one", 1, 3), ("index and contents", 2, 3), ("file", 3, 3),
        ("one", 1, 4), ("registers", 2, 4), ("index and contents", 3, 4), ("file", 4, 4),
    ] == steps  # fmt: skip
