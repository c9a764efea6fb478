"""Running heads and feet: what stands above and below every page, drawn when all pages are known.

Each page's is a form of its own that is drawn over the page as an artifact, which a screen reader passes
over. All of a packet's are one quire without pages.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.typeset import faces
from certgen.typeset.design import SANS, TYPE
from certgen.typeset.legibility import set_apart
from certgen.typeset.objects import pack, streams_needed
from certgen.typeset.page_batch import Quire
from certgen.typeset.tables.canvas import colour_operands
from certgen.typeset.tables.font_subset import Letterings, stream_of
from certgen.typeset.tables.forms import MARGIN, Inlay, Wanted, set_inlays

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from certgen.typeset.design import Settings
    from certgen.typeset.joining import Binding, Mark

#: From the upper edge of the text area up to the capitals of the head, and from the lower edge down to the
#: base line of the foot, in points.
_UP: Final = 20.0
_DOWN: Final = 24.0
#: Room between what stands left and what stands right.
_GUTTER: Final = 12.0
#: A name in another script is cut after so many letters: it has one line.
_LETTERS: Final = 60


def draw_running_heads(body: Binding, name: str, foot: str, settings: Settings) -> None:
    """Draw over each page of `body` its head, which says `name` and the chapter, and its foot.

    No page may be added afterwards.
    """
    sheet = settings.sheet
    heads = _heads(body.marks, body.pages, sheet.height - 2 * sheet.top)
    quire, forms = _set_forms(heads, _Pen(name, foot, settings), body.next_object, body.next_key)
    body.draw_over(quire, forms)


def _heads(marks: Iterable[Mark], pages: int, low: float) -> list[str]:
    """Each page's head: the chapter it opens with. The cover has none."""
    heads = [""] * pages
    for mark in marks:
        if mark.level == 1:
            # A chapter that begins further down leaves the page's head to the one that the page opens with.
            start = mark.page + int(mark.top < low)
            heads[start:] = [mark.title] * (pages - start)
    heads[0] = ""
    return heads


def _set_forms(heads: Sequence[str], pen: _Pen, first_object: int, first_key: int) -> tuple[Quire, list[int]]:
    """The quire that holds a form for each page, and the forms' numbers."""
    at = first_object

    def new_number() -> int:
        nonlocal at
        at += 1
        return at - 1

    fonts, resources = new_number(), new_number()
    objects = pen.set_name(new_number)
    about = b" /Type /XObject /Subtype /Form /BBox [ 0 0 %g %g ] /Resources %d 0 R" % (
        round(pen.sheet.width, 4), round(pen.sheet.height, 4), resources,
    )  # fmt: skip
    forms = []
    for number, head in enumerate(heads, start=1):
        form = new_number()
        objects[form] = stream_of(pen.draw(head, f"Page {number} of {len(heads)}"), about)
        forms.append(form)
    drawn = b" /XObject << /I%d %d 0 R >>" % (pen.form, pen.form) if pen.form else b""
    objects[resources] = b"<< /Font %d 0 R%b >>" % (fonts, drawn)
    objects |= pen.letterings.objects(fonts, new_number)
    packed = pack(objects, at)
    return Quire(packed, (), (), None, (), {}, at + streams_needed(len(objects)), first_key), forms


class _Pen:
    """Draws one page's head and foot."""

    def __init__(self, name: str, foot: str, settings: Settings) -> None:
        self.letterings = Letterings.none_yet()
        self._lettering = self.letterings.of(SANS)
        self._settings = settings
        self.sheet = settings.sheet
        self._size = TYPE["label"].size
        self._inlay: Inlay | None = None
        self._name = name
        self._foot = foot

    @property
    def form(self) -> int:
        """The number of the form that the name is laid in as, or 0."""
        return self._inlay.form if self._inlay else 0

    def set_name(self, new_number: Callable[[], int]) -> dict[int, bytes]:
        """Have the name set, if its letters can't be drawn side by side; gives the objects that it needs."""
        if self._lettering.can_show(self._name):
            return {}
        name = self._name if len(self._name) <= _LETTERS else f"{self._name[:_LETTERS]}…"
        runs = ((set_apart(name), ""),)
        wanted = Wanted(runs, self.sheet.column, SANS, 400, self._size, self._size, "quiet")
        found, objects = set_inlays([wanted], self._settings, new_number)
        self._inlay = found[wanted]
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
            name = "" if self._inlay else self._name
            parts += self._line(top - self._lettering.cap_height * self._size, name, head)
            if self._inlay:
                left, low = sheet.left - MARGIN, top - self._inlay.height - MARGIN
                after += b" q 1 0 0 1 %.2f %.2f cm /I%d Do Q" % (left, low, self._inlay.form)
        return b"\n".join([*parts, after])

    def _line(self, height: float, left: str, right: str) -> list[bytes]:
        """A text at either end of the line; the left one is shortened where both don't fit."""
        sheet, size, lettering = self.sheet, self._size, self._lettering
        width, shown = lettering.show(lettering.spell_out(right))
        end = sheet.left + sheet.measure - width * size
        room = end - _GUTTER - sheet.left
        left = faces.shorten(lettering.spell_out(left), room, size)
        parts = [b"1 0 0 1 %.2f %.2f Tm [%b] TJ" % (end, height, shown)]
        if left:
            parts.insert(0, b"1 0 0 1 %.2f %.2f Tm [%b] TJ" % (sheet.left, height, lettering.show(left)[1]))
        return parts
