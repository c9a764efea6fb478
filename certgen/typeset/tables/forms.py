"""Form XObjects: texts that need more than letters side by side, set by Typst and drawn like a picture.

Arabic joins its letters and runs from right to left, Thai stacks its marks, Chinese takes another face. Such
names are few and come again, so all of a register's are set in one go, each once, and every row that holds
one shows the same form. It is text still: it can be copied, and read aloud.
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final
from urllib.parse import unquote

import pikepdf
from pikepdf import Array

from certgen.typeset import faces
from certgen.typeset.design import COLOURS
from certgen.typeset.legibility import take_together
from certgen.typeset.parts import SCHEME
from certgen.typeset.tables.objects import find_with, numbers_in, read_plain, renumber
from certgen.typeset.typst_pages import compile_typst

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from certgen.typeset.design import Settings
    from certgen.typeset.tables.line_breaks import LinkedText

#: Room around the text, for strokes that reach out of it, in points.
MARGIN: Final = 6.0
#: Letters of one form: a longer text is drawn in several, so that it can go on on the next page.
LETTERS: Final = 240


@dataclass(frozen=True, slots=True)
class FormText:
    """A text to be set: its runs, the width it may take, and how it looks (lengths in points)."""

    runs: tuple[LinkedText, ...]
    room: float
    family: str
    weight: int
    size: float
    leading: float
    colour: str = "ink"
    right: bool = False


@dataclass(frozen=True, slots=True)
class Form:
    """A text that is set: the number of its form, its height from the top of a capital to the last base line.

    `text` is what it says; `links` are the anchors that its parts lead to, each with a box measured from the
    text's lower left corner. The form reaches `MARGIN` further on all sides.
    """

    number: int
    height: float
    text: str
    links: tuple[tuple[str, tuple[float, float, float, float]], ...]


def split_long(runs: Iterable[LinkedText]) -> list[tuple[LinkedText, ...]]:
    """The runs in stretches of at most `LETTERS` letters, split between words where that is possible."""
    parts: list[list[LinkedText]] = [[]]
    size = 0
    for text, href in runs:
        at = 0
        while at < len(text):
            room = LETTERS - size
            end = len(text) if len(text) - at <= room else text.rfind(" ", at + 1, at + room) + 1 or at + room
            if end > at:
                parts[-1].append((text[at:end], href))
            size += end - at
            at = end
            if at < len(text):
                parts.append([])
                size = 0
    return [tuple(part) for part in parts if part]


def set_forms(
    texts: Iterable[FormText], settings: Settings, new_number: Callable[[], int]
) -> tuple[dict[FormText, Form], dict[int, bytes]]:
    """Each text as a form, and the objects that they are made of, numbered by `new_number`."""
    listed = list(dict.fromkeys(texts))
    if not listed:
        return {}, {}
    file = compile_typst("forms.typ", _data_of(listed, settings.language), epoch=settings.epoch, tagged=False)
    with pikepdf.open(io.BytesIO(file)) as part:
        heights = [float(page.MediaBox[3]) - 2 * MARGIN for page in part.pages]
        links = [_links(page) for page in part.pages]
        holder = pikepdf.new()
        holder.Root.FormObjects = Array([holder.copy_foreign(page.as_form_xobject()) for page in part.pages])
        objects, _ = read_plain(holder)
    catalogue = find_with(objects, b"/FormObjects")
    order = numbers_in(objects[catalogue][objects[catalogue].index(b"/FormObjects") :].partition(b"]")[0])
    for number in [catalogue, *(n for n, body in objects.items() if b"/Type /Pages" in body)]:
        del objects[number]
    numbers = {old: new_number() for old in objects}
    renumbered = {numbers[old]: renumber(body, numbers.__getitem__) for old, body in objects.items()}
    forms = {
        text: Form(numbers[old], height, take_together("".join(words for words, _ in text.runs)), boxes)
        for text, old, height, boxes in zip(listed, order, heights, links, strict=True)
    }
    return forms, renumbered


def _data_of(texts: list[FormText], language: str) -> dict[str, object]:
    return {
        "language": language,
        "margin": MARGIN,
        "texts": [
            {
                "runs": [
                    (faces.spell_out(words), f"{SCHEME}{href}" if href else "") for words, href in text.runs
                ],
                "room": text.room,
                "fonts": faces.families(text.family),
                "weight": text.weight,
                "size": text.size,
                "leading": text.leading,
                "colour": COLOURS[text.colour],
                "right": text.right,
            }
            for text in texts
        ],
    }


def _links(page: pikepdf.Page) -> tuple[tuple[str, tuple[float, float, float, float]], ...]:
    """A link's anchor and box; what Typst gives in stretches of one line is one link again."""
    links: list[tuple[str, tuple[float, float, float, float]]] = []
    for annotation in page.get("/Annots", ()):
        address = bytes(annotation.A.URI).decode("utf-8", "replace")
        anchor = unquote(address.removeprefix(SCHEME))
        left, low, right, high = (float(side) - MARGIN for side in annotation.Rect)
        if links and links[-1][0] == anchor and links[-1][1][1] < high and low < links[-1][1][3]:
            before = links.pop()[1]
            left, low = min(left, before[0]), min(low, before[1])
            right, high = max(right, before[2]), max(high, before[3])
        links.append((anchor, (left, low, right, high)))
    return tuple(links)
