"""Running heads and feet: what stands above and below every page, drawn when all pages are known.

Typst sets them on pages of their own, and each becomes a form that is drawn over its page as an artifact,
which a screen reader passes over.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Final

from certgen.typeset import faces
from certgen.typeset.design import COLOURS, TYPE
from certgen.typeset.legibility import fit_to_set
from certgen.typeset.svg import qr_code
from certgen.typeset.typst_pages import compile_typst, design_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from certgen.typeset.design import Settings
    from certgen.typeset.joining import Bookmark, JoinedFile

    #: What stands at the left and at the right end of a line.
    Ends = tuple[str, str]

#: From the upper edge of the text area up to the capitals of the head, and from the lower edge down to the
#: base line of the foot, in points.
_UP: Final = 13.0
_DOWN: Final = 17.0
#: The code's width: a third of a millimetre a module, which telephones read; and its distance from the text.
_CODE: Final = 20.0
_CODE_GAP: Final = 9.0
#: Room between what stands left and what stands right.
_GUTTER: Final = 12.0


def draw_running_heads(
    joined: JoinedFile, name: str, foot: str, settings: Settings, *, code: str = ""
) -> None:
    """Draw over each page its head, which says `name` and the chapter, its foot, and the QR code of `code`.

    No page may be added afterwards.
    """
    sheet = settings.sheet
    heads = _heads(joined.bookmarks, len(joined.pages), sheet.height - 2 * sheet.top)
    given = {
        **design_of(settings),
        "up": _UP,
        "down": _DOWN,
        "code": qr_code(code, colour=COLOURS["ink"]) if code else "",
        "code_size": _CODE,
        "code_gap": _CODE_GAP,
        "pages": list(_say_ends(heads, name, foot, sheet.measure)),
    }
    joined.draw_over(compile_typst("running_heads.typ", given, epoch=settings.epoch, tagged=False))


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


def _say_ends(heads: Sequence[str], name: str, foot: str, measure: float) -> Iterator[tuple[Ends, Ends]]:
    """What stands above and below each page, at the left and the right end of the line."""
    for number, head in enumerate(heads, start=1):
        above = _fit_ends(name, head, measure) if head else ("", "")
        yield above, _fit_ends(foot, f"Page {number} of {len(heads)}", measure)


@lru_cache(maxsize=1_000)
def _fit_ends(left: str, right: str, measure: float) -> Ends:
    """Both ends of a line; the left one is shortened where both don't fit."""
    left, right, size = fit_to_set(left), fit_to_set(right), TYPE["label"].size
    room = measure - faces.text_width(right, size) - _GUTTER
    return faces.shorten(left, room, size), right
