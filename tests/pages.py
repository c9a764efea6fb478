"""Pages that tests set: with which settings, drawn batches as a file, and which fonts a file holds."""

from __future__ import annotations

import io
from datetime import date
from typing import TYPE_CHECKING

import pikepdf

from certgen.typeset.design import SHEETS, Settings
from certgen.typeset.joining import JoinedFile

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from certgen.typeset.page_batch import PageBatch

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
