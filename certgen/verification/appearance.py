"""What a reader sees of a page: its text and its picture, as PDFium gives them."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from certgen.verification.attachments import PacketError

if TYPE_CHECKING:
    from collections.abc import Container, Iterator

#: Dots a point: fine enough that a changed letter changes the picture.
_SCALE: Final = 1.0
#: No sheet of paper is larger, in points.
_LARGEST: Final = 3000.0


@dataclass(frozen=True, slots=True)
class Appearance:
    """The words of a page in reading order, and a digest of its picture with all that lies over it."""

    words: tuple[str, ...]
    picture: bytes


def read_appearances(pdf: bytes, wanted: Container[int] | None = None) -> Iterator[tuple[int, Appearance]]:
    """How each page looks, or each `wanted` one, by its number from 1.

    Raises `PacketError` for a file that can't be shown.
    """
    import pypdfium2

    try:
        document = pypdfium2.PdfDocument(pdf)
    except pypdfium2.PdfiumError as fault:
        raise PacketError("this PDF cannot be shown; it was cut short, damaged or changed") from fault
    try:
        for number in range(1, len(document) + 1):
            if wanted is None or number in wanted:
                page = document[number - 1]
                try:
                    yield number, _read_page(page)
                finally:
                    page.close()
    finally:
        document.close()


def _read_page(page: Any) -> Appearance:
    width, height = page.get_size()
    if not (0 < width <= _LARGEST and 0 < height <= _LARGEST):
        raise PacketError("this PDF has a page of a size that no sheet has")
    text = page.get_textpage()
    try:
        words = tuple(text.get_text_bounded().split())
    finally:
        text.close()
    bitmap = page.render(scale=_SCALE, may_draw_forms=True)
    try:
        return Appearance(words, hashlib.sha256(bytes(bitmap.buffer)).digest())
    finally:
        bitmap.close()


def say_words(given: tuple[str, ...], made: tuple[str, ...]) -> str:
    """The first words that differ, as `it says "9.8 g traced" where the records give "0.2 g traced"`."""
    start = 0
    while start < min(len(given), len(made)) and given[start] == made[start]:
        start += 1
    end = 0
    while end < min(len(given), len(made)) - start and given[-1 - end] == made[-1 - end]:
        end += 1
    here, there = (_quote(words[start : len(words) - end]) for words in (given, made))
    return f"it says {here} where the records give {there}"


def _quote(words: tuple[str, ...]) -> str:
    text = " ".join(words)
    shown = text if len(text) <= 60 else f"{text[:57]}…"
    return f"“{shown}”" if shown else "nothing"
