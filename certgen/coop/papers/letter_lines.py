"""The lines of a letter: headings, items and paragraphs, wrapped to its width."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Iterator

_WIDTH: Final = 78


def say_heading(text: str) -> Iterator[str]:
    """A heading below an empty line."""
    yield ""
    yield from wrap(f"{text}:")


def say_item(text: str) -> list[str]:
    """One item of a list."""
    return wrap(text, "  - ", "    ")


def wrap(text: str, first: str = "", rest: str = "") -> list[str]:
    """A paragraph's lines, with what stands before the first and before the rest."""
    return textwrap.wrap(
        text,
        _WIDTH,
        initial_indent=first,
        subsequent_indent=rest,
        break_long_words=False,
        break_on_hyphens=False,
    )
