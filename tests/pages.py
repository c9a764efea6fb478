"""Pages that tests set: with which settings, drawn batches as a file, and which fonts a file holds."""

from __future__ import annotations

import io
from datetime import date
from typing import TYPE_CHECKING, NamedTuple

import pikepdf
import pypdfium2

from certgen.typeset.design import SHEETS, Settings
from certgen.typeset.joining import JoinedFile

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from PIL.Image import Image

    from certgen.exchange.field_paper.label_sheets import LabelSheet
    from certgen.typeset.page_batch import PageBatch

#: Of a label printer of 203 dots to the inch.
DOTS_A_MM = 203 / 25.4
SETTINGS = Settings("t", "en", SHEETS["A4"], date(2026, 11, 25), "Go to")


def joined_file(
    batches: Iterable[PageBatch], draw_over: Callable[[JoinedFile], None] = lambda _joined: None
) -> pikepdf.Pdf:
    """Page batches as a file of their own; `draw_over` is given all pages before it is finished."""
    joined = JoinedFile()
    for batch in batches:
        joined.append_batch(batch)
    draw_over(joined)
    joined.finish(SETTINGS)
    # Every file has a place for its dates; a document's own are written elsewhere.
    joined.pdf.docinfo["/Title"] = pikepdf.String("t")
    return pikepdf.open(io.BytesIO(joined.save()))


def fonts_of(pdf: bytes) -> set[str]:
    """The names of the fonts inside a file, without a subset's tag, hyphens and spaces."""
    with pikepdf.open(io.BytesIO(pdf)) as document:
        names = {
            str(font.BaseFont).partition("+")[2]
            for font in document.objects
            if isinstance(font, pikepdf.Dictionary) and font.get("/Type") == "/Font" and "/BaseFont" in font
        }
    return {name.replace("-", "").replace(" ", "") for name in names}


class Letter(NamedTuple):
    """A letter on a page: where it stands in millimetres from the top left, and its size in points."""

    page: int
    sign: str
    left: float
    top: float
    right: float
    bottom: float
    size: float


def label_images(pdf: bytes, sheet: LabelSheet, count: int) -> list[Image]:
    """The first labels of a file, each as a label printer prints it: 203 dots to the inch, black or white."""
    images = []
    with pypdfium2.PdfDocument(pdf) as document:
        pages = [page.render(scale=DOTS_A_MM * 25.4 / 72, grayscale=True).to_pil() for page in document]
    for number in range(count):
        page, index = divmod(number, sheet.labels)
        left, top = sheet.place(index)
        box = [round(length * DOTS_A_MM) for length in (left, top, left + sheet.width, top + sheet.height)]
        images.append(pages[page].crop(tuple(box)).point(lambda shade: 255 if shade > 127 else 0))
    return images


def letters_of(pdf: bytes) -> list[Letter]:
    """Every letter that the pages show, in the order of the file; blanks are left out."""
    found = []
    for number, page in enumerate(pypdfium2.PdfDocument(pdf)):
        height, text = page.get_height(), page.get_textpage()
        for at in range(text.count_chars()):
            sign = chr(pypdfium2.raw.FPDFText_GetUnicode(text, at))
            if sign.isspace() or sign in "\0\u200b":
                continue
            left, low, right, high = text.get_charbox(at)
            matrix = pypdfium2.raw.FS_MATRIX()
            pypdfium2.raw.FPDFText_GetMatrix(text, at, matrix)
            size = pypdfium2.raw.FPDFText_GetFontSize(text, at) * abs(matrix.d)
            edges = (left, height - high, right, height - low)
            found.append(Letter(number, sign, *(25.4 / 72 * edge for edge in edges), size))
    return found


def text_of(pdf: bytes) -> str:
    """What all pages say, one blank between words, so that it is found across the ends of lines."""
    pages = [page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(pdf)]
    return " ".join(" ".join(pages).replace("\ufffe", "-").split())


def overlapping(letters: Iterable[Letter]) -> list[tuple[Letter, Letter]]:
    """Pairs of letters whose boxes share more than a hair of each other's middle.

    Letters that one shape shows together (fi, ff) have one box, and letters that lean towards one another
    (Yo) share a little of their width: they are no such pairs.
    """
    found = []
    # From left to right: whatever begins beyond a letter's end needs no look.
    ordered = sorted(letters, key=lambda one: (one.page, one.left))
    for at, one in enumerate(ordered):
        for other in ordered[at + 1 :]:
            if other.page != one.page or other.left >= one.right - 0.1:
                break
            across = min(one.right, other.right) - other.left
            down = min(one.bottom, other.bottom) - max(one.top, other.top)
            kerned = 0.3 * max(one.right - one.left, other.right - other.left)
            if across > max(0.1, kerned) and down > 0.1 and one[2:6] != other[2:6]:
                found.append((one, other))
    return found
