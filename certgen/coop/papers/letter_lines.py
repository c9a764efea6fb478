"""A letter as text: headings, numbered matters and paragraphs, wrapped to its width."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.coop.papers.member_letters import Letter

_WIDTH: Final = 78


def write_lines(letter: Letter) -> Iterator[str]:
    """The letter's lines."""
    yield letter.sender
    yield letter.to
    yield letter.day
    yield ""
    yield from _wrap(letter.opening)
    for part in letter.parts:
        yield ""
        yield from _wrap(f"{part.heading}:")
        for matter in part.matters:
            yield from _wrap(matter.text, f"{matter.number:>3}. ", "     ")
    for heading, items in letter.lists:
        yield ""
        yield from _wrap(f"{heading}:")
        for text in items:
            yield from _wrap(text, "  - ", "    ")
    yield ""
    yield from _wrap(letter.closing)
    if letter.signed:
        yield ""
        yield letter.signed


def _wrap(text: str, first: str = "", rest: str = "") -> list[str]:
    """A paragraph's lines, with what stands before the first and before the rest."""
    return textwrap.wrap(
        text,
        _WIDTH,
        initial_indent=first,
        subsequent_indent=rest,
        break_long_words=False,
        break_on_hyphens=False,
    )
