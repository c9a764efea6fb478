"""When two names or numbers that people wrote are the same, and when they only look like it."""

from __future__ import annotations

import re
import unicodedata
from collections import defaultdict
from typing import Final

#: What divides two runs of digits: 26-1 isn't 261, and there alone a mark between signs tells something.
_BETWEEN_DIGITS: Final = re.compile(r"(?<=\d)[\W_]+(?=\d)")
_IDLE_DOT: Final = re.compile(r"(?<!\d)\.|\.(?!\d)")
_NO_DIGITS: Final = re.compile(r"\D+")
#: Shorter names differ too easily by a letter: Farm A and Farm B.
_SHORTEST: Final = 6


def fold(name: str) -> str:
    """A name without what people write differently: letter case, spaces, hyphens, dots, width of letters.

    Of marks only that they stand between digits is kept: AK-26-1 is ak 26/1, and not AK-261. What consists of
    marks alone stays as it is.
    """
    text = unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", name).casefold())
    signs = "".join(sign for sign in _BETWEEN_DIGITS.sub(".", text) if _belongs(sign))
    # What stood apart may belong together now, like a letter and its accent.
    return unicodedata.normalize("NFKC", _IDLE_DOT.sub("", signs)) or " ".join(text.split())


def _belongs(sign: str) -> bool:
    """Letters and digits, with the marks that belong to a letter, as in Thai or Devanagari."""
    return sign == "." or sign.isalnum() or unicodedata.category(sign).startswith("M")


class Spellings:
    """Names, found again by what only looks like them: one letter too many, too few or another, two that
    changed places, or the first or last words alone ("Bracken Ford" of "Bracken Ford Diagnostics").

    Names that differ in a digit never look alike. Looking one up takes as long however many there are.
    """

    def __init__(self) -> None:
        self._by_sign: dict[str, dict[str, None]] = defaultdict(dict)
        self._by_words: dict[str, dict[str, None]] = defaultdict(dict)

    def add(self, name: str) -> None:
        """Take a name in."""
        for sign in _spell(name):
            self._by_sign[sign][name] = None
        for part in _shorten(name):
            self._by_words[part][name] = None

    def find(self, name: str) -> tuple[str, ...]:
        """The names that look like this one and aren't the same, in the order in which they came."""
        found: dict[str, None] = {}
        for sign in _spell(name):
            found.update(self._by_sign.get(sign, {}))
        found.update(self._by_words.get(fold(name), {}))
        for part in _shorten(name):
            found.update(
                dict.fromkeys(other for other in self._by_words.get(part, {}) if fold(other) == part)
            )
        own, digits = fold(name), _digits(name)
        return tuple(other for other in found if fold(other) != own and _digits(other) == digits)


def _spell(name: str) -> set[str]:
    """The name, and what is left of it without any one of its signs."""
    text = fold(name)
    if len(text) < _SHORTEST:
        return set()
    return {text, *(text[:at] + text[at + 1 :] for at in range(len(text)))}


def _shorten(name: str) -> set[str]:
    """The name, and its first and last words, where these are long enough to mean something."""
    words = [word for part in name.split() if (word := fold(part))]
    parts = {"".join(words)}
    for at in range(1, len(words)):
        parts |= {"".join(words[:at]), "".join(words[at:])}
    return {part for part in parts if len(part) >= _SHORTEST}


def _digits(name: str) -> str:
    return _NO_DIGITS.sub(" ", name).strip()
