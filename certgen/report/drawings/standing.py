"""Each lot's standing by gram, as bars to one scale: solid traced, hatched unproven, crossed rejected, empty
unaccounted."""

from __future__ import annotations

from dataclasses import dataclass

from certgen.typeset import svg
from certgen.typeset.design import COLOURS, RULE, STANDINGS
from certgen.typeset.faces import shorten
from certgen.typeset.marks import mark


@dataclass(frozen=True, slots=True)
class LotBar:
    """A lot: its milligrams by standing, and the words that say the same."""

    lot: str
    variety: str
    standing: str
    milligrams: tuple[int, ...]
    words: str


@dataclass(frozen=True, slots=True)
class StandingPicture:
    """All lots of a season; `title` and `description` are its words."""

    title: str
    description: str
    bars: tuple[LotBar, ...]
    width: float


_ROW = 15.0
_NAMES = 118.0
_WORDS = 132.0


def draw_standing(picture: StandingPicture) -> str:
    """Bars of milligrams, the longest filling the middle column."""
    longest = max((sum(bar.milligrams) for bar in picture.bars), default=0) or 1
    room = picture.width - _NAMES - _WORDS
    body: list[str] = []
    for number, bar in enumerate(picture.bars):
        y = number * _ROW
        middle = y + _ROW / 2
        body.append(mark(bar.standing, 4, middle, 7))
        body.append(svg.text(12, middle + 2.6, shorten(bar.lot, 56, 7.6, weight=600), size=7.6, weight=600))
        body.append(
            svg.text(70, middle + 2.6, shorten(bar.variety, _NAMES - 74, 7), size=7, fill=COLOURS["quiet"])
        )
        x = _NAMES
        for standing, milligrams in zip(STANDINGS, bar.milligrams, strict=True):
            length = room * milligrams / longest
            if length > 0:
                body.append(standing_fill(standing, x, y + 3, length, _ROW - 6))
                x += length
        body.append(svg.text(x + 5, middle + 2.6, bar.words, size=7))
    height = max(len(picture.bars) * _ROW, 4)
    body.append(svg.line(_NAMES, 0, _NAMES, height, width=RULE))
    return svg.document(picture.width, height, picture.title, picture.description, body, ident="standing")


def standing_fill(standing: str, x: float, y: float, width: float, height: float) -> str:
    """A stretch of a bar in the pattern of its standing."""
    colour = COLOURS[standing]
    if standing == "traced":
        return svg.rect(x, y, width, height, fill=colour, stroke=colour)
    outline = svg.rect(x, y, width, height, fill=COLOURS["paper"], stroke=colour, stroke_width=0.8)
    if standing == "unaccounted":
        return outline
    return outline + svg.hatch(x, y, width, height, cross=standing == "rejected")
