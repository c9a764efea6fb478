"""Any document as a file: what its contents list, what its cover tells, and where its parts stand."""

from __future__ import annotations

import io
from dataclasses import replace

import pikepdf
import pypdfium2
import pytest
from pages import SETTINGS

from certgen.typeset import opening
from certgen.typeset.compose import compose
from certgen.typeset.first_page import Band, Cover
from certgen.typeset.html_pages import set_cover
from certgen.typeset.opening import name_pages
from certgen.typeset.parts import (
    Cell,
    Chapter,
    Document,
    Index,
    Prose,
    Register,
    RegisterColumn,
    RegisterSet,
    Run,
    Section,
)

COVERS = (
    "certgen.typeset.first_page",
    "certgen.typeset.parts",
    "certgen.typeset.joining",
    "certgen.typeset.opening",
)
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
    # The number and the title of a line are a link each; what hangs below it is one.
    return [pages[places[lead][0].objgen] for lead in dict.fromkeys(leads)]


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


def words(data: bytes, page: int) -> str:
    """What a page says, one blank between words."""
    return " ".join(pypdfium2.PdfDocument(data)[page].get_textpage().get_text_range().split())


def test_the_summary_stands_before_the_contents():
    """Cover, summary, contents with the glossary below, then all else; each is found where it says."""
    shown = document(
        "One",
        summary=(section("balance", "Balance"),),
        glossary=section("words", "Words", style="follow").sections,
        index=Index("Index", "", (("Parts", (("One", ("part/One", "balance")),)),)),
        cover=replace(
            COVER, claim="Whole.", grounds=(
                Cell((Run("See page ", "part/One", page=True), Run(" and "),
                      Run("page ", "balance", page=True), Run("."))),
            ),
        ),
    )  # fmt: skip
    data = compose(shown, SETTINGS)
    with pikepdf.open(io.BytesIO(data)) as pdf, pdf.open_outline() as outline:
        titles = [item.title for item in outline.root]

    assert ["Cover", "Balance", "Contents", "Words", "One", "Index", "Manifest"] == titles
    assert "See page 4 and page 2." in words(data, 0)
    assert "Of Balance." in words(data, 1)
    assert "Balance 2 One 4 Index 5" in words(data, 2)
    assert "Of Words." in words(data, 2)
    assert "Of One." in words(data, 3)


def section(anchor: str, title: str, style: str = "chapter") -> Chapter:
    """A chapter of one section."""
    return Chapter(anchor, (Section(anchor, title, 1, (Prose((f"Of {title}.",)),), style=style),))


def test_a_run_without_a_place_names_no_page():
    """Its own text is left, or a dash; it leads nowhere."""
    told = name_pages((Run("page ", "gone", page=True), Run("", "gone", page=True), Run("x", "y")), {})

    assert (Run("page "), Run("–"), Run("x", "y")) == told


@pytest.mark.parametrize(("most", "taken"), [(3, "3 lines"), (400, "2 lines")])
def test_the_first_page_is_one_page(most, taken):
    """Of several lengths the longest that fits is set; the contents follow on the second page."""

    def cover(lines: int) -> Cover:
        band = Band("Findings", (Prose(tuple(f"Line {number}." for number in range(lines))),))
        return replace(COVER, claim=f"{lines} lines", bands=(band,))

    data = compose(document("One", cover=cover(most), shorter=(cover(200), cover(2))), SETTINGS)

    assert taken in words(data, 0)
    assert "Contents One 3" in words(data, 1)


def test_what_hangs_below_in_dozens_is_left_to_its_chapter():
    """The contents keep to their page."""
    data = compose(document("One", *(f"Part {number}" for number in range(41))), SETTINGS)

    assert "Contents One 3 Manifest" in words(data, 1)


def test_a_document_spells_out_letters_and_says_so(monkeypatch):
    """A letter that no face has stands as its code point, whoever built the chapter; the cover tells it."""
    covers = []

    def note_cover(cover, settings):
        covers.append(cover)
        return set_cover(cover, settings)

    monkeypatch.setattr(opening, "set_cover", note_cover)
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
