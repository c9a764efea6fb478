"""Texts broken into lines of a given width, for what is drawn on a canvas."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from certgen.typeset.tables.font_subset import FontSubset

#: A stretch of text and the anchor that it leads to, or an empty one.
LinkedText = tuple[str, str]
Line = list[LinkedText]
#: A figure and its unit are one word: 36.2 g, 14 h, 98.6 °F, 83 %.
_PARTS: Final = re.compile(r"\n|[ \t]+|[^ \t\n]+(?:(?<=\d) (?=[%°]|[a-zµ]{1,2}\b)[^ \t\n]+)*")
#: A word of more letters is wider than any column, and need not be measured as a whole.
_LONGEST: Final = 1_000
#: Characters after which a long word may rather be broken than between any two letters.
_SEAMS: Final = frozenset(" -–—/\\,;:._@&=?+")


def break_lines(runs: Sequence[LinkedText], room: float, font: FontSubset) -> list[Line]:
    """The runs in lines no wider than `room` (for type of size 1), each filled as far as it goes.

    A line ends between words, and a word that is wider than the room ends where it must, after a hyphen or
    slash if one is near. No letter is lost; several spaces are one.
    """
    lines: list[Line] = [[]]
    width = 0.0
    space = font.show(" ")[0]
    for word in _words(runs):
        if word is None:
            lines.append([])
            width = 0.0
            continue
        wide = _width(word, font)
        gap = space if lines[-1] else 0.0
        if lines[-1] and width + gap + wide > room:
            lines.append([])
            gap = width = 0.0
        if wide > room:
            *whole, word = _pieces(word, room, font)  # noqa: PLW2901 - what is left of it goes on
            for piece in whole:
                lines[-1] += piece
                lines.append([])
            wide = _width(word, font)
        _join(lines[-1], word, spaced=gap > 0)
        width += gap + wide
    return lines


def split_words(text: str) -> list[str]:
    """The words that a line never ends within, where it has room for them."""
    return [part for part in _PARTS.findall(text) if not part.isspace()]


def _words(runs: Iterable[LinkedText]) -> Iterator[Line | None]:
    """The words, each of one run or more, and None where a new line was asked for."""
    word: Line = []
    for text, href in runs:
        for part in _PARTS.findall(text):
            if not part.isspace() or part[0] not in " \t\n":
                word.append((part, href))
                continue
            if word:
                yield word
                word = []
            if part == "\n":
                yield None
    if word:
        yield word


def _width(word: Line, font: FontSubset) -> float:
    if sum(len(text) for text, _ in word) > _LONGEST:
        return float("inf")
    return sum(font.show(text)[0] for text, _ in word)


def _join(line: Line, word: Line, *, spaced: bool) -> None:
    """Put a word at the end of a line; a link goes on over the space before it."""
    first, href = word[0]
    if spaced:
        before, lead = line[-1]
        if lead == href:
            line[-1] = (f"{before} {first}", href)
            line += word[1:]
            return
        if lead:
            line += [(f" {first}", "")] if not href else [(" ", ""), (first, href)]
        else:
            line[-1] = (f"{before} ", "")
            line.append((first, href))
        line += word[1:]
        return
    line += word


def _pieces(word: Line, room: float, font: FontSubset) -> list[Line]:
    """A word that is wider than the room, in pieces that aren't."""
    pieces: list[Line] = [[]]
    width = 0.0
    for text, href in word:
        at = 0
        while at < len(text):
            end = _fitting(text, at, room - width, font, whole=not pieces[-1])
            if end > at:
                pieces[-1].append((text[at:end], href))
                width += font.show(text[at:end])[0]
            if end < len(text):
                pieces.append([])
                width = 0.0
            at = end
    return pieces


def _fitting(text: str, start: int, room: float, font: FontSubset, *, whole: bool) -> int:
    """Where the letters that fit in end: after one if the line is empty, and at a seam if one is near."""
    width = 0.0
    for end in range(start, len(text)):
        width += font.show(text[end])[0]
        if width > room:
            break
    else:
        return len(text)
    for at in range(end, start + (end - start) // 2, -1):
        if text[at - 1] in _SEAMS:
            return at
    return max(end, start + int(whole))
