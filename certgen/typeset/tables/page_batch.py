"""A page batch: pages in their final bytes, which are joined with others without opening their rows.

Each row of a register is some twenty objects (cells, links, their structure). To carry these through a
joining one by one cost 60 kB of memory and a millisecond a row. So whoever draws the pages numbers their
objects for the whole file and packs all but the pages themselves. What the joining still has to touch is a
page, not a row.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from certgen.typeset.tables.objects import Packed


@dataclass(frozen=True, slots=True)
class Numbering:
    """The next numbers that a batch may use, for an object and for a key of the parent tree."""

    next_object: int
    next_key: int


#: Numbers of objects that every batch refers to: the file's one Document element, and its list of pages.
DOCUMENT: Final = 1
PAGES: Final = 2
#: Where a file's first batch begins. The keys of all other parts of a file stay far below.
FIRST: Final = Numbering(next_object=3, next_key=1_000_000)
#: What stands in a page for things that only the finished file has.
BEFORE, AFTER, RUNNING = b"/BatchBefore", b"/BatchAfter", b"/BatchRunning"


@dataclass(frozen=True, slots=True)
class BatchHeading:
    """A heading: its title, its level below the batch's first (0, 1 …), its page and height."""

    title: str
    depth: int
    page: int
    top: float


@dataclass(frozen=True, slots=True)
class PageBatch:
    """Pages in their final bytes, and the numbers from which the next batch may go on.

    `pages` are the pages' numbers and bodies, `tops` the numbers of the elements right under the Document,
    `parents` the number of the batch's node of the parent tree with its first and last key (None: it has
    none). `places` are the rows' anchors with page (from 0) and height.
    """

    packed: Packed
    numbering: Numbering
    pages: tuple[tuple[int, bytes], ...] = ()
    tops: tuple[int, ...] = ()
    parents: tuple[int, int, int] | None = None
    headings: tuple[BatchHeading, ...] = ()
    places: dict[str, tuple[int, float]] = field(default_factory=dict)


def string_of(text: str) -> bytes:
    """A text as a string of the file."""
    if text.isascii() and text.isprintable():
        return b"(" + re.sub(rb"([\\()])", rb"\\\1", text.encode()) + b")"
    return b"<feff" + text.encode("utf-16-be", "replace").hex().encode() + b">"
