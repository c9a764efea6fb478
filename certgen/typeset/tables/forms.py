"""Inlays: texts that need more than letters side by side, set by Typst and laid into a page like a picture.

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
from certgen.typeset.objects import find_with, numbers_in, read_plain, renumber
from certgen.typeset.parts import SCHEME
from certgen.typeset.typst_pages import compile_typst

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from certgen.typeset.design import Settings
    from certgen.typeset.tables.line_breaks import Run

#: Room around the text, for strokes that reach out of it, in points.
MARGIN: Final = 6.0
#: Letters of one inlay: a longer text is laid in several, so that it can go on on the next page.
LETTERS: Final = 240


@dataclass(frozen=True, slots=True)
class Wanted:
    """A text to be set: its runs, the width it may take, and how it looks (lengths in points)."""

    runs: tuple[Run, ...]
    room: float
    family: str
    weight: int
    size: float
    leading: float
    colour: str = "ink"
    right: bool = False


@dataclass(frozen=True, slots=True)
class Inlay:
    """A text that is set: the number of its form, its height from the top of a capital to the last base line.

    `text` is what it says; `links` are the anchors that its parts lead to, each with a box measured from the
    text's lower left corner. The form reaches `MARGIN` further on all sides.
    """

    form: int
    height: float
    text: str
    links: tuple[tuple[str, tuple[float, float, float, float]], ...]


def parted(runs: Iterable[Run]) -> list[tuple[Run, ...]]:
    """The runs in stretches of at most `LETTERS` letters, parted between words where that is possible."""
    parts: list[list[Run]] = [[]]
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


def set_inlays(
    wanted: Iterable[Wanted], settings: Settings, new_number: Callable[[], int]
) -> tuple[dict[Wanted, Inlay], dict[int, bytes]]:
    """Each text as an inlay, and the objects that they are made of, numbered by `new_number`."""
    listed = list(dict.fromkeys(wanted))
    if not listed:
        return {}, {}
    file = compile_typst("inlays.typ", _told(listed, settings.language), epoch=settings.epoch, tagged=False)
    with pikepdf.open(io.BytesIO(file)) as part:
        sizes = [float(page.MediaBox[3]) - 2 * MARGIN for page in part.pages]
        links = [_links(page) for page in part.pages]
        forms = pikepdf.new()
        forms.Root.InlayForms = Array([forms.copy_foreign(page.as_form_xobject()) for page in part.pages])
        objects, _ = read_plain(forms)
    catalogue = find_with(objects, b"/InlayForms")
    order = numbers_in(objects[catalogue][objects[catalogue].index(b"/InlayForms") :].partition(b"]")[0])
    for number in [catalogue, *(n for n, body in objects.items() if b"/Type /Pages" in body)]:
        del objects[number]
    numbers = {old: new_number() for old in objects}
    done = {numbers[old]: renumber(body, numbers.__getitem__) for old, body in objects.items()}
    inlays = [
        Inlay(numbers[old], height, take_together("".join(text for text, _ in one.runs)), found)
        for one, old, height, found in zip(listed, order, sizes, links, strict=True)
    ]
    return dict(zip(listed, inlays, strict=True)), done


def _told(listed: list[Wanted], language: str) -> dict[str, object]:
    return {
        "language": language,
        "margin": MARGIN,
        "texts": [
            {
                "runs": [
                    (faces.spell_out(text), f"{SCHEME}{href}" if href else "") for text, href in one.runs
                ],
                "room": one.room,
                "fonts": faces.families(one.family),
                "weight": one.weight,
                "size": one.size,
                "leading": one.leading,
                "colour": COLOURS[one.colour],
                "right": one.right,
            }
            for one in listed
        ],
    }


def _links(page: pikepdf.Page) -> tuple[tuple[str, tuple[float, float, float, float]], ...]:
    """A link's anchor and box; what the setter gives in stretches of one line is one link again."""
    found: list[tuple[str, tuple[float, float, float, float]]] = []
    for annotation in page.get("/Annots", ()):
        address = bytes(annotation.A.URI).decode("utf-8", "replace")
        anchor = unquote(address.removeprefix(SCHEME))
        left, low, right, high = (float(side) - MARGIN for side in annotation.Rect)
        if found and found[-1][0] == anchor and found[-1][1][1] < high and low < found[-1][1][3]:
            was = found.pop()[1]
            left, low, right, high = (
                min(left, was[0]), min(low, was[1]), max(right, was[2]), max(high, was[3])
            )  # fmt: skip
        found.append((anchor, (left, low, right, high)))
    return tuple(found)
