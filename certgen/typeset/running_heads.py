"""Running heads and feet: what stands above and below every page, drawn when all pages are known.

Each page's is a form of its own that is drawn over the page as an artifact, which a screen reader passes
over. All of a file's are one batch without pages.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.typeset import faces
from certgen.typeset.design import SANS, TYPE
from certgen.typeset.legibility import set_apart
from certgen.typeset.tables.canvas import colour_operands
from certgen.typeset.tables.font_subset import FontSubsets, stream_of
from certgen.typeset.tables.forms import MARGIN, Form, FormText, set_forms
from certgen.typeset.tables.objects import pack, streams_needed
from certgen.typeset.tables.page_batch import Numbering, PageBatch

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from certgen.typeset.design import Settings
    from certgen.typeset.joining import Bookmark, JoinedFile

#: From the upper edge of the text area up to the capitals of the head, and from the lower edge down to the
#: base line of the foot, in points.
_UP: Final = 20.0
_DOWN: Final = 24.0
#: Room between what stands left and what stands right.
_GUTTER: Final = 12.0
#: A name in another script is cut after so many letters: it has one line.
_LETTERS: Final = 60


def draw_running_heads(joined: JoinedFile, name: str, foot: str, settings: Settings) -> None:
    """Draw over each page its head, which says `name` and the chapter, and its foot.

    No page may be added afterwards.
    """
    sheet = settings.sheet
    heads = _heads(joined.bookmarks, len(joined.pages), sheet.height - 2 * sheet.top)
    batch, forms = _draw_forms(heads, _HeadPainter(name, foot, settings), joined.numbering)
    joined.draw_over(batch, forms)


def _heads(bookmarks: Iterable[Bookmark], pages: int, low: float) -> list[str]:
    """Each page's head: the chapter it opens with. The cover has none."""
    heads = [""] * pages
    for bookmark in bookmarks:
        if bookmark.level == 1:
            # A chapter that begins further down leaves the page's head to the one that the page opens with.
            start = bookmark.page + int(bookmark.top < low)
            heads[start:] = [bookmark.title] * (pages - start)
    heads[0] = ""
    return heads


def _draw_forms(heads: Sequence[str], painter: _HeadPainter, start: Numbering) -> tuple[PageBatch, list[int]]:
    """The batch that holds a form for each page, and the forms' numbers."""
    at = start.next_object

    def new_number() -> int:
        nonlocal at
        at += 1
        return at - 1

    fonts, resources = new_number(), new_number()
    objects = painter.set_name(new_number)
    about = b" /Type /XObject /Subtype /Form /BBox [ 0 0 %g %g ] /Resources %d 0 R" % (
        round(painter.sheet.width, 4), round(painter.sheet.height, 4), resources,
    )  # fmt: skip
    forms = []
    for number, head in enumerate(heads, start=1):
        form = new_number()
        objects[form] = stream_of(painter.draw(head, f"Page {number} of {len(heads)}"), about)
        forms.append(form)
    drawn = b" /XObject << /I%d %d 0 R >>" % (painter.form, painter.form) if painter.form else b""
    objects[resources] = b"<< /Font %d 0 R%b >>" % (fonts, drawn)
    objects |= painter.fonts.objects(fonts, new_number)
    packed = pack(objects, at)
    return PageBatch(packed, Numbering(at + streams_needed(len(objects)), start.next_key)), forms


class _HeadPainter:
    """Draws one page's head and foot."""

    def __init__(self, name: str, foot: str, settings: Settings) -> None:
        self.fonts = FontSubsets()
        self._font = self.fonts.of(SANS)
        self._settings = settings
        self.sheet = settings.sheet
        self._size = TYPE["label"].size
        self._form: Form | None = None
        self._name = name
        self._foot = foot

    @property
    def form(self) -> int:
        """The number of the form that the name is drawn as, or 0."""
        return self._form.number if self._form else 0

    def set_name(self, new_number: Callable[[], int]) -> dict[int, bytes]:
        """Have the name set, if its letters can't be drawn side by side; gives the objects that it needs."""
        if self._font.can_show(self._name):
            return {}
        name = self._name if len(self._name) <= _LETTERS else f"{self._name[:_LETTERS]}…"
        runs = ((set_apart(name), ""),)
        text = FormText(runs, self.sheet.column, SANS, 400, self._size, self._size, "quiet")
        forms, objects = set_forms([text], self._settings, new_number)
        self._form = forms[text]
        return objects

    def draw(self, head: str, right: str) -> bytes:
        """The operators that draw a page's head and foot."""
        sheet = self.sheet
        top = sheet.height - sheet.top + _UP
        parts = [
            b"BT /F0 %g Tf %b rg" % (self._size, colour_operands("quiet")),
            *self._line(sheet.bottom - _DOWN, self._foot, right),
        ]
        after = b"ET"
        if head:
            name = "" if self._form else self._name
            parts += self._line(top - self._font.cap_height * self._size, name, head)
            if self._form:
                left, low = sheet.left - MARGIN, top - self._form.height - MARGIN
                after += b" q 1 0 0 1 %.2f %.2f cm /I%d Do Q" % (left, low, self._form.number)
        return b"\n".join([*parts, after])

    def _line(self, height: float, left: str, right: str) -> list[bytes]:
        """A text at either end of the line; the left one is shortened where both don't fit."""
        sheet, size, font = self.sheet, self._size, self._font
        width, shown = font.show(font.spell_out(right))
        end = sheet.left + sheet.measure - width * size
        room = end - _GUTTER - sheet.left
        left = faces.shorten(font.spell_out(left), room, size)
        parts = [b"1 0 0 1 %.2f %.2f Tm [%b] TJ" % (end, height, shown)]
        if left:
            parts.insert(0, b"1 0 0 1 %.2f %.2f Tm [%b] TJ" % (sheet.left, height, font.show(left)[1]))
        return parts
