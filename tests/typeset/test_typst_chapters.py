"""Chapters set by Typst: every kind of part says its words, is tagged and leads where it should."""

from __future__ import annotations

import base64
import io
from dataclasses import replace
from typing import TYPE_CHECKING

import pypdfium2
import pytest
from pages import SETTINGS, joined_file
from PIL import Image

from certgen.process_pool import work_apart
from certgen.typeset import typst_chapters
from certgen.typeset.entries import CompactRegister, Entries, Entry, EntryGroup
from certgen.typeset.legibility import make_legible
from certgen.typeset.parts import (
    Caution,
    Cautions,
    Cell,
    Chapter,
    Contents,
    ContentsLine,
    Exhibit,
    Fact,
    Facts,
    Findings,
    GapCard,
    GapEntry,
    Grid,
    Head,
    Listing,
    Note,
    Picture,
    Prose,
    Row,
    Run,
    Section,
    Signature,
)
from certgen.typeset.spots import Spot
from certgen.typeset.structure import walk
from certgen.typeset.typst_chapters import count_rows, number_chapter, set_chapter

if TYPE_CHECKING:
    import pikepdf

COVERS = ("certgen.typeset.compact_entries",)

SVG = "<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 90 30'><path d='M0 0L90 30'/></svg>"


def photo(width: int = 40, height: int = 30) -> str:
    """A picture as a part carries it."""
    out = io.BytesIO()
    Image.new("RGB", (width, height), "white").save(out, "PNG")
    return f"data:image/png;base64,{base64.b64encode(out.getvalue()).decode()}"


def grid(count: int, **more) -> Grid:
    """A table of two columns."""
    rows = tuple(
        Row((Cell((Run(f"row {number}"),)), Cell((Run("leads", "b"),))), anchor=f"t/{number}")
        for number in range(count)
    )
    return Grid(more.pop("caption", ""), (Head("First"), Head("Second", "number")), rows, **more)


def test_a_cell_that_stands_in_many_places_is_set_in_each():
    """Whether it is one object or many alike: in a narrow column it has its own lines, and each leads on."""
    long = Cell((Run("a long word or two that hardly fit a narrow column"), Run("B1", "b")))

    def table(cells: list[Cell]) -> Chapter:
        heads = (Head("First", share="12%"), Head("Second", share="88%"))
        rows = tuple(Row((left, right)) for left, right in zip(cells[::2], cells[1::2], strict=True))
        return Chapter("c", (Section("a", "A", 1, (Grid("", heads, rows),), style="chapter"),))

    shared = set_chapter(table([long] * 12), SETTINGS)

    assert shared == set_chapter(table([replace(long) for _ in range(12)]), SETTINGS)
    assert shared != set_chapter(table([long] * 10), SETTINGS)


def card(entries: int = 1, **more) -> GapCard:
    """A card that tells so many gaps."""
    told = tuple(
        GapEntry(
            f"gap/{at}",
            f"Gap {at}",
            (Run("what is said of "), Run("it", field=True)),
            Run("Bag B1", "b"),
            Run("f"),
        )
        for at in range(entries)
    )
    return GapCard(
        "Gap 0", "gap/0", "rejects", "rejected", "torn", "bag-failed", (), Run(""), "", told,
        (Run("mend it"),), ("the clause",), (Run("lot L1"),), "",
        **({"explanation": "own words", "without": "no paper"} | more),
    )  # fmt: skip


def compact(count: int) -> Entries:
    """Entries of one register, each on a line of its own."""
    entries = tuple(
        Entry(f"e/{number}", (Run(f"E{number}"), Run(" says " + "much " * 15))) for number in range(count)
    )
    group = EntryGroup((Run("of one day"),), entries)
    return Entries((CompactRegister("bags", "Bags", "", (Run("all whole"),), (group,)),))


PARTS = {
    "grid": (
        grid(2, caption="the caption", note="the note"),
        "the caption First Second row 0 leads row 1 leads the note",
    ),
    "prose": (Prose(("one", "two"), "aside"), "one aside two"),
    "note": (Note((Run("in small"),)), "in small"),
    "listing": (Listing(((Run("an item"),),)), "• an item"),
    "facts": (Facts((Fact("label", (Run("value"),), "traced"),)), "label value"),
    "signature": (Signature("I say", ("name", "day")), "I say name day"),
    "findings": (Findings("I say", ("name",), "Found", ("seen",), ("Note",)), "I say name Found seen Note"),
    "cautions": (
        Cautions(((Caution("Latex", "burns"), Caution("Blades", "cut")),)),
        "Latex. burns Blades. cut",
    ),
    "picture": (Picture("p", SVG, "in words", "the caption"), "the caption"),
    "entries": (compact(1), "Bags all whole of one day E0 says much"),
    "contents": (
        Contents((ContentsLine("a", "Chapter", 7, (ContentsLine("b", "Part", 8),)),)),
        "Chapter 7 Part 8",
    ),
    "gap": (
        card(exhibits=(Exhibit(Run("letter.txt"), ("as it says",), (photo(),), "in words", "shown"),)),
        (
            "Gap 0 · torn rejects · bag-failed what is said of it Gap 0 · Bag B1 · f letter.txt (shown)"
            " as it says Paper no paper To mend it mend it Rule the clause Grower’s words own words"
        ),
    ),
}  # fmt: skip


def chapter(*parts, style: str = "part", level: int = 1) -> Chapter:
    """A section of these parts, and one that they lead to."""
    sections = (
        Section("a", "The head", level, parts, style=style),
        Section("b", "The end", level, (), style="minor"),
    )
    return Chapter("c", sections)


def set_file(shown: Chapter) -> pikepdf.Pdf:
    """The chapter as a file of its own."""
    return joined_file([number_chapter(set_chapter(shown, SETTINGS), SETTINGS)])


def words(pdf: pikepdf.Pdf) -> str:
    """What its pages say."""
    out = io.BytesIO()
    pdf.save(out)
    pages = [page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(out.getvalue())]
    return " ".join(" ".join(pages).replace("\u2060", "").split())


@pytest.mark.parametrize("kind", PARTS)
def test_each_kind_of_part_says_its_words(kind):
    """In reading order, between the heading of its section and the next."""
    part, said = PARTS[kind]

    assert said in words(set_file(chapter(part)))


def test_a_short_sections_table_is_named_on_the_line_of_its_heading():
    """Once, and nowhere else."""
    pdf = set_file(chapter(grid(1, caption="1 row"), style="minor"))

    assert 1 == words(pdf).count("1 row")


def test_a_row_has_a_heading():
    """Its first cell; those of the head are the columns'."""
    pdf = set_file(chapter(grid(2)))
    scopes = [
        str(attributes.Scope)
        for element in walk(pdf.Root.StructTreeRoot)
        if element.S == "/TH"
        for attributes in element.A
        if "/Scope" in attributes
    ]

    assert ["/Column", "/Column", "/Row", "/Row"] == scopes


@pytest.mark.parametrize("level", [1, 2])
def test_headings_stand_where_the_document_has_them(level):
    """A chapter may begin below the first level: bookmarks and tags have the document's levels."""
    batch = number_chapter(set_chapter(chapter(card(), level=level), SETTINGS), SETTINGS)
    pdf = joined_file([batch])
    tags = [str(element.S) for element in walk(pdf.Root.StructTreeRoot) if str(element.S).startswith("/H")]

    assert [("The head", level - 1), ("The end", level - 1)] == [
        (it.title, it.depth) for it in batch.headings
    ]
    assert [f"/H{level}", "/H3", f"/H{level}"] == tags


def test_places_are_those_of_rows_cards_entries_and_sections():
    """On their pages, from the top down."""
    shown = chapter(grid(2), card(), compact(1))
    places = number_chapter(set_chapter(shown, SETTINGS), SETTINGS).places
    order = sorted(places, key=lambda anchor: (places[anchor][0], -places[anchor][1]))

    assert ["a", "t/0", "t/1", "gap/0", "e/0", "b"] == [anchor for anchor in order if anchor]


def test_links_lead_only_where_something_stands():
    """A run, or a spot of a drawing, whose anchor is unknown is plain."""
    spots = tuple(Spot.of(anchor, "w", (0, 0, 9, 9), (90, 30)) for anchor in ("b", "gone"))
    part = Picture("p", SVG, "in words", spots=spots)
    shown = chapter(part, Listing(((Run("here", "b"), Run("gone", "gone")),)))
    known = set_chapter(shown, SETTINGS, frozenset({"a", "b"}))
    with joined_file([number_chapter(known, SETTINGS)]) as pdf:
        leads = [str(link.Dest) for page in pdf.pages for link in page.get("/Annots", ())]

    assert ["b", "b"] == leads


def test_a_picture_says_in_words_what_it_shows():
    """Of a drawing and of a photograph alike."""
    pdf = set_file(
        chapter(Picture("p", SVG, "drawn"), card(exhibits=(Exhibit(Run("x"), (), (photo(),), "seen"),)))
    )
    told = [str(element.Alt) for element in walk(pdf.Root.StructTreeRoot) if element.S == "/Figure"]

    assert ["drawn", "seen"] == told


@pytest.mark.parametrize(("entries", "pages"), [(2, 1), (60, 3)])
def test_a_card_breaks_only_if_no_page_holds_it(entries, pages):
    """Below a table of half a page it begins the next one; one of sixty gaps goes on over pages."""
    pdf = set_file(chapter(card(entries)))

    assert pages == len(pdf.pages)


@pytest.mark.parametrize("count", [6, 200])
def test_columns_end_at_one_height(count):
    """On one page, and on the last of several."""
    batch = number_chapter(set_chapter(chapter(compact(count)), SETTINGS), SETTINGS)
    last = max(page for page, _ in batch.places.values())
    feet = [top for anchor, (page, top) in batch.places.items() if page == last and anchor.startswith("e/")]
    lowest = sorted(feet)[:2]

    assert {6: 1, 200: 3}[count] == last + 1
    assert lowest[1] - lowest[0] < 40


def test_a_word_wider_than_its_cell_breaks():
    """Nothing runs into the next column; a path breaks at its strokes first."""
    long = "x" * 200
    cells = tuple(
        Cell((Run(text),)) for text in ("a", long, "evidence/letters/certificate-of-the-supplier-2026.txt")
    )
    shown = Grid("", (Head("A"), Head("B"), Head("C")), (Row(cells),))
    text = words(set_file(chapter(shown)))

    assert long in text.replace(" ", "")
    assert "evidence/letters/" in text


def test_a_row_of_one_line_is_as_high_as_it_would_be(monkeypatch):
    """Whatever stands in it, said beforehand or found out: signs, links, sums, letters of other scripts; and
    one that may need a second line is no such row."""
    runs = (
        (Run("negative", mark="traced"), Run(" · "), Run("A", "b", mark="rejected")),
        (Run("\u05de\u05d8\u05e2 3"), Run("field", field=True), Run("f.pdf", "f.pdf")),
        (Run("wide " * 12),),
        (Run("two\nlines"),),
        (),
    )
    marks = ("", "unproven", "", "", "traced")
    rows = tuple(
        Row(
            (Cell((Run(f"row {at}", "b"),), "key", mark), Cell(told), Cell((Run("12.5 g"),), "number")),
            f"{tone}/{at}",
            tone,
        )
        for tone in ("plain", "faulty", "total")
        for at, (told, mark) in enumerate(zip(runs, marks, strict=True))
    )
    heads = (Head("A"), Head("B"), Head("C", "number"))
    shown = make_legible(chapter(Grid("", heads, rows), Grid("", heads, rows, close=True)))
    is_line, found = typst_chapters._is_line, set()

    def ask(*given):
        found.add(is_line(*given))
        return is_line(*given)

    monkeypatch.setattr(typst_chapters, "_is_line", ask)
    said = set_chapter(shown, SETTINGS, files={"f.pdf"})
    monkeypatch.setattr(typst_chapters, "_is_line", lambda *_: False)

    assert {True, False} == found
    assert said == set_chapter(shown, SETTINGS, files={"f.pdf"})


def test_a_chapter_of_many_rows_is_known_by_their_number():
    """Of tables and of entries."""
    assert 7 == count_rows(chapter(grid(4), compact(3), Prose(("x",))).sections)


def test_the_same_chapter_gives_the_same_bytes():
    """Twice the same, here and in a process of its own."""
    shown = chapter(*(part for part, _ in PARTS.values()))

    assert set_chapter(shown, SETTINGS) == work_apart(set_chapter, shown, SETTINGS)
