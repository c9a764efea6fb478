"""A quire: pages in their final bytes, so that the packet is bound without opening their rows.

Each row of a register is some twenty objects (cells, links, their structure). To carry these through a
joining one by one cost 60 kB of memory and a millisecond a row. So whoever draws the pages numbers their
objects for the whole file and packs all but the pages themselves. What the packet still has to touch is a
page, not a row.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from certgen.typeset.objects import Packed

#: Numbers that every quire refers to: the packet's one Document element, and its list of pages.
DOCUMENT: Final = 1
PAGES: Final = 2
FIRST_OBJECT: Final = 3
#: Numbers of the parent tree that quires use; all other parts stay far below.
FIRST_KEY: Final = 1_000_000
#: What stands in a page for things that only the finished packet has.
BEFORE, AFTER, RUNNING = b"/QuireBefore", b"/QuireAfter", b"/QuireRunning"


@dataclass(frozen=True, slots=True)
class QuireMark:
    """A heading: its title, its level below the quire's first (0, 1 …), its page and height."""

    title: str
    depth: int
    page: int
    top: float


@dataclass(frozen=True, slots=True)
class Quire:
    """Pages in their final bytes.

    `pages` are the pages' numbers and bodies, `tops` the numbers of the elements that hang under the
    Document, `parents` is the number of the quire's leaf of the
    parent tree with its first and last key (None: it has none).
    `places` are the rows' anchors with page (from 0) and height.
    """

    packed: Packed
    pages: tuple[tuple[int, bytes], ...]
    tops: tuple[int, ...]
    parents: tuple[int, int, int] | None
    marks: tuple[QuireMark, ...]
    places: dict[str, tuple[int, float]]
    next_object: int
    next_key: int


def string_of(text: str) -> bytes:
    """A text as a string of the file."""
    if text.isascii() and text.isprintable():
        return b"(" + re.sub(rb"([\\()])", rb"\\\1", text.encode()) + b")"
    return b"<feff" + text.encode("utf-16-be", "replace").hex().encode() + b">"
