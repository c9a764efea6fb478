"""The canvas: draws tagged text, rules and links on pages, object by object, and gives finished batches.

What is drawn is what ISO 32000-1 calls marked content (14.6) with a structure element behind it (14.7), each
element with its number in the file from the start, so that nothing is numbered twice. Lengths are in
points, heights above the page's foot.
"""

from __future__ import annotations

import zlib
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from certgen.typeset.design import COLOURS
from certgen.typeset.tables.font_subset import FontSubsets
from certgen.typeset.tables.objects import pack, streams_needed
from certgen.typeset.tables.page_batch import (
    AFTER,
    BEFORE,
    PAGES,
    RUNNING,
    BatchHeading,
    Numbering,
    PageBatch,
    string_of,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from certgen.typeset.design import Settings
    from certgen.typeset.tables.font_subset import FontSubset

#: Pages in one batch: what a batch holds is kept in memory until it is full.
BATCH_PAGES: Final = 60


@dataclass(frozen=True, slots=True)
class TextStyle:
    """How text is drawn: face, size and colour, and the operators that say so."""

    font: FontSubset
    size: float
    operators: bytes


@dataclass(frozen=True, slots=True)
class LineStyle:
    """How a rule is drawn: the operators that say so."""

    operators: bytes


@dataclass(slots=True)
class _Page:
    """A page being drawn."""

    number: int
    content: list[bytes] = field(default_factory=list)
    #: Numbers of the elements behind its marks, in the order of the marks.
    marked: list[int] = field(default_factory=list)
    links: list[int] = field(default_factory=list)
    rules: dict[bytes, list[bytes]] = field(default_factory=dict)
    forms: set[int] = field(default_factory=set)
    style: bytes = b""
    writing: bool = False


def colour_operands(name: str) -> bytes:
    """A colour of the design as the three numbers that the page's operators take."""
    code = COLOURS[name].lstrip("#")
    return b" ".join(b"%.4g" % (int(code[at : at + 2], 16) / 255) for at in (0, 2, 4))


class Canvas:
    """Pages with these settings, whose objects and keys of the parent tree are numbered from `start` on."""

    def __init__(self, settings: Settings, start: Numbering) -> None:
        self.sheet = settings.sheet
        self.fonts = FontSubsets()
        self._next = start.next_object
        self._font_dictionary = self.new_number()
        self._first_key = self._next_key = start.next_key
        self._say_link = settings.say_link
        self._objects: dict[int, bytes] = {}
        self._pages: list[tuple[int, bytes]] = []
        self._parents: list[bytes] = []
        self._tops: list[int] = []
        self._headings: list[BatchHeading] = []
        self._places: dict[str, tuple[int, float]] = {}
        self._page: _Page | None = None
        self._done: list[PageBatch] = []

    # What is drawn with

    def text_style(self, family: str, weight: int, size: float, colour: str = "ink") -> TextStyle:
        """A face of the design in a size and colour."""
        font = self.fonts.of(family, weight)
        name = self.fonts.name_of(font)
        return TextStyle(font, size, b"%b %g Tf %b rg" % (name, size, colour_operands(colour)))

    def line_style(self, width: float, colour: str = "ink") -> LineStyle:
        """A rule's width and colour."""
        return LineStyle(b"%g w %b RG" % (width, colour_operands(colour)))

    # Pages

    def new_number(self) -> int:
        """A number for one more object."""
        number = self._next
        self._next += 1
        return number

    @property
    def page(self) -> int:
        """The number of the page that is being drawn, as an object."""
        return self._open.number

    @property
    def _open(self) -> _Page:
        if self._page is None:
            if len(self._pages) >= BATCH_PAGES:
                self._finish_batch()
            self._page = _Page(self.new_number())
        return self._page

    @property
    def _page_at(self) -> int:
        """Which of its batch's pages the open one is, from 0. It is opened now, for it may begin a batch."""
        _ = self._open
        return len(self._pages)

    def end_page(self) -> None:
        """End the page; the next thing that is drawn opens another."""
        page = self._open
        self._stop_writing(page)
        rules = [b"q %b %b S Q" % (operators, b" ".join(lines)) for operators, lines in page.rules.items()]
        if rules:
            rules = [b"/Artifact BMC", *rules, b"EMC"]
        content = self.new_number()
        data = zlib.compress(b"\n".join([*rules, *page.content]), 6)
        self._objects[content] = b"<< /Filter /FlateDecode /Length %d >>\nstream\n%b\nendstream" % (
            len(data),
            data,
        )
        drawn = b"".join(b" /I%d %d 0 R" % (form, form) for form in sorted(page.forms))
        key = self._take_key(b"[ %b ]" % b" ".join(b"%d 0 R" % number for number in page.marked))
        links = b" /Annots [ %b ]" % b" ".join(b"%d 0 R" % link for link in page.links) if page.links else b""
        body = (
            b"<< /Type /Page /Parent %d 0 R /MediaBox [ 0 0 %g %g ] /Resources << /Font %d 0 R"
            b" /XObject << /Running %b%b >> >> /Contents [ %b %d 0 R %b ]%b /StructParents %d /Tabs /S >>"
        ) % (
            PAGES, round(self.sheet.width, 4), round(self.sheet.height, 4), self._font_dictionary,
            RUNNING, drawn, BEFORE, content, AFTER, links, key,
        )  # fmt: skip
        self._pages.append((page.number, body))
        self._page = None

    def finish(self) -> list[PageBatch]:
        """The batches that are full by now, when no more is to come: with the fonts of all of them."""
        if self._page is not None or not self._pages:
            self.end_page()
        self._objects |= self.fonts.objects(self._font_dictionary, self.new_number)
        self._finish_batch()
        return self.take()

    @property
    def full(self) -> bool:
        """Whether there are batches to take."""
        return bool(self._done)

    def take(self) -> list[PageBatch]:
        """The batches that became full since they were last taken."""
        done, self._done = self._done, []
        return done

    def _take_key(self, parents: bytes) -> int:
        key = self._next_key
        self._next_key += 1
        self._parents.append(b"%d %b" % (key, parents))
        return key

    def _finish_batch(self) -> None:
        node = self.new_number()
        last_key = self._next_key - 1
        self._objects[node] = b"<< /Limits [ %d %d ] /Nums [ %b ] >>" % (
            self._first_key, last_key, b" ".join(self._parents),
        )  # fmt: skip
        first_stream = self._next
        self._next += streams_needed(len(self._objects))
        self._done.append(
            PageBatch(
                packed=pack(self._objects, first_stream),
                numbering=Numbering(self._next, self._next_key),
                pages=tuple(self._pages),
                tops=tuple(self._tops),
                parents=(node, self._first_key, last_key),
                headings=tuple(self._headings),
                places=self._places,
            )
        )
        self._first_key = self._next_key
        self._objects, self._pages, self._parents, self._tops = {}, [], [], []
        self._headings, self._places = [], {}

    # Structure

    def element(
        self, number: int, kind: bytes, parent: int, kids: Sequence[bytes], more: bytes = b""
    ) -> None:
        """A structure element; one whose parent is the Document is `put_on_top` too."""
        inside = b""
        if kids:
            inside = b" /K " + (kids[0] if len(kids) == 1 else b"[ %b ]" % b" ".join(kids))
        self._objects[number] = b"<< /S /%b /P %d 0 R%b%b >>" % (kind, parent, more, inside)

    def cell_element(self, number: int, parent: int, mark: int) -> None:
        """The commonest element of all: a cell that holds one mark of the open page."""
        self._objects[number] = b"<< /S /TD /P %d 0 R /Pg %d 0 R /K %d >>" % (parent, self.page, mark)

    def put_on_top(self, number: int) -> None:
        """Have an element stand right under the Document, after those that stand there."""
        self._tops.append(number)

    def mark_place(self, anchor: str, top: float) -> None:
        """The anchor's place is here, unless it has one."""
        self._places.setdefault(anchor, (self._page_at, top))

    def bookmark(self, title: str, depth: int, top: float) -> None:
        """A heading that stands among the bookmarks."""
        self._headings.append(BatchHeading(title, depth, self._page_at, top))

    # Drawing

    def rule(self, left: float, right: float, height: float, style: LineStyle) -> None:
        """A rule across the page, which a screen reader passes over."""
        lines = self._open.rules.setdefault(style.operators, [])
        lines.append(b"%.2f %.2f m %.2f %.2f l" % (left, height, right, height))

    def mark(self, kind: bytes, element: int) -> int:
        """Begin a mark that belongs to an element; end it with `end_mark`. Gives the mark's number."""
        page = self._open
        number = len(page.marked)
        page.marked.append(element)
        if not page.writing:
            self._start_writing(page)
        page.content.append(b"/%b << /MCID %d >> BDC" % (kind, number))
        return number

    def end_mark(self) -> None:
        """End the mark, or the artifact."""
        self._open.content.append(b"EMC")

    @contextmanager
    def artifact(self) -> Iterator[None]:
        """What is written meanwhile is repeated matter, and a screen reader passes over it."""
        page = self._open
        if not page.writing:
            self._start_writing(page)
        page.content.append(b"/Artifact << /Type /Pagination >> BDC")
        yield
        self.end_mark()

    def write(self, left: float, height: float, shown: bytes, style: TextStyle) -> None:
        """Write what a font shows of a text, with its base line at a height."""
        page = self._open
        if page.style != style.operators:
            page.content.append(style.operators)
            page.style = style.operators
        page.content.append(b"1 0 0 1 %.2f %.2f Tm [%b] TJ" % (left, height, shown))

    def draw_form(self, form: int, left: float, height: float, parent: int, text: str) -> bytes:
        """Draw a form on the page, its lower left corner there; gives its element, as its parent holds it.

        `text` is what it says: a script's letters may be drawn of several pieces each, which a reader would
        take for as many letters.
        """
        page = self._open
        self._stop_writing(page)
        page.forms.add(form)
        element = self.new_number()
        mark = len(page.marked)
        page.marked.append(element)
        page.content.append(
            b"/Span << /MCID %d >> BDC q 1 0 0 1 %.2f %.2f cm /I%d Do Q EMC" % (mark, left, height, form)
        )
        about = b" /Pg %d 0 R /ActualText %b" % (page.number, string_of(text))
        self.element(element, b"Span", parent, [b"%d" % mark], about)
        return b"%d 0 R" % element

    def link(self, anchor: str, box: tuple[float, float, float, float], element: int) -> bytes:
        """A link from a box of the page; gives what its element holds of it."""
        number = self.new_number()
        key = self._take_key(b"%d 0 R" % element)
        self._objects[number] = (
            b"<< /Type /Annot /Subtype /Link /Rect [ %.2f %.2f %.2f %.2f ] /Border [ 0 0 0 ] /F 4"
            b" /Dest %b /Contents %b /StructParent %d >>"
        ) % (*box, string_of(anchor), string_of(self._say_link(anchor)), key)
        self._open.links.append(number)
        return b"<< /Type /OBJR /Obj %d 0 R >>" % number

    def add_object(self, number: int, body: bytes) -> None:
        """An object of another's making, under a number that was taken for it."""
        self._objects[number] = body

    def _start_writing(self, page: _Page) -> None:
        page.content.append(b"BT")
        page.writing = True

    def _stop_writing(self, page: _Page) -> None:
        if page.writing:
            page.content.append(b"ET")
            page.writing = False
            page.style = b""
