"""Texts and links as a Typst template takes them: fit to be set, and numbered."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import TYPE_CHECKING, Final

from certgen.typeset import faces
from certgen.typeset.addresses import SCHEME
from certgen.typeset.legibility import fit_to_set

if TYPE_CHECKING:
    from collections.abc import Collection

#: Where a word may break that is wider than its cell. The template takes it out again, as it does the next
#: one, so nobody copies it.
_MAY_BREAK: Final = "\N{ZERO WIDTH SPACE}"
#: Around a word that Typst would break, at a hyphen or a stroke, though a line has room for all of it.
_HELD: Final = "\N{WORD JOINER}"
_BREAKS: Final = re.compile(r"\w[-/–—]\w")
_PIECES: Final = re.compile(r"(?<=[-/–—])")
_BLANKS: Final = str.maketrans("\t\r", "  ")


class Links:
    """The anchors that a file leads to, numbered: an address that is a number needs no reading later.

    `known` are the anchors that links may lead to (None: all), `files` the attached files that they may open.
    """

    def __init__(self, known: frozenset[str] | None, files: Collection[str]) -> None:
        self._known = known
        self._files = files
        #: The addresses that open an attached file, for the template's sign before them.
        self.opening: dict[str, bool] = {}
        self.numbers: dict[str, int] = {}

    def address(self, anchor: str) -> str:
        """What the template is given of a link, or an empty text where it leads nowhere."""
        opens = anchor in self._files
        if not anchor or not (opens or self._known is None or anchor in self._known):
            return ""
        address = f"{SCHEME}{self.numbers.setdefault(anchor, len(self.numbers))}"
        if opens:
            self.opening[address] = True
        return address


@lru_cache(maxsize=20_000)
def fit_words(text: str, room: float | None, size: float, *, hold: bool = True) -> str:
    """The text fit to be set, its words marked that may break only where they must.

    `room` is the width in points that its lines have at this `size` of type, if the texts beside it fill
    several lines (None: no line ends in it). Without `hold` other words break as the language lets them.
    """
    held = fit_to_set(text.translate(_BLANKS))
    if room is None:
        return held
    return "".join(_mark(word, room, size, hold=hold) for word in re.split(r"([ \n]+)", held))


def has_marks(text: str) -> bool:
    """Whether the template has anything to do in a text that is fitted."""
    return _MAY_BREAK in text or _HELD in text


def _mark(word: str, room: float, size: float, *, hold: bool) -> str:
    """A word of a text that fills several lines, with marks for the template."""
    if faces.text_width(word, size) > room:
        pieces = _PIECES.split(word)
        fits = all(faces.text_width(piece, size) <= room for piece in pieces)
        return word if fits else _MAY_BREAK.join(word)
    return f"{_HELD}{word}{_HELD}" if hold and _BREAKS.search(word) else word
