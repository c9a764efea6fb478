"""Each lot's standing by gram, as bars to one scale: solid traced, hatched unproven, crossed rejected, empty
unaccounted."""

from __future__ import annotations

from dataclasses import dataclass

from certgen.report.drawings.labels import Row, label
from certgen.typeset import svg
from certgen.typeset.design import COLOURS, RULE, STANDINGS
from certgen.typeset.faces import text_width
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
    widest = max((text_width(bar.words, 7) for bar in picture.bars), default=0.0) + 8
    room = picture.width - _NAMES - min(max(_WORDS, widest), picture.width / 2)
    body: list[str] = []
    for number, bar in enumerate(picture.bars):
        row = Row(number * _ROW, _ROW)
        body.append(mark(bar.standing, 4, row.middle, 7))
        body.append(label(12, row.baseline, bar.lot, 56, size=7.6, weight=600))
        body.append(label(70, row.baseline, bar.variety, _NAMES - 74, size=7, fill=COLOURS["quiet"]))
        x = _NAMES
        for standing, milligrams in zip(STANDINGS, bar.milligrams, strict=True):
            length = room * milligrams / longest
            if length > 0:
                body.append(_draw_stretch(standing, row, x, length))
                x += length
        body.append(svg.text(x + 5, row.baseline, bar.words, size=7))
    height = max(len(picture.bars) * _ROW, 4)
    body.append(svg.line(_NAMES, 0, _NAMES, height, width=RULE))
    return svg.document(picture.width, height, picture.title, picture.description, body, ident="standing")


def _draw_stretch(standing: str, row: Row, x: float, length: float) -> str:
    """A stretch of a bar in the pattern of its standing."""
    colour = COLOURS[standing]
    if standing == "traced":
        return row.bar(x, length, fill=colour, stroke=colour)
    outline = row.bar(x, length, fill=COLOURS["paper"], stroke=colour, stroke_width=0.8)
    if standing == "unaccounted":
        return outline
    return outline + row.hatching(x, length, cross=standing == "rejected")


@dataclass(frozen=True, slots=True)
class TotalPicture:
    """All grams in one bar: each standing with its milligrams and the weight as printed."""

    title: str
    description: str
    stretches: tuple[tuple[str, int, str], ...]
    width: float


def draw_total(picture: TotalPicture) -> str:
    """One bar across, and below it what each stretch is."""
    total = sum(milligrams for _, milligrams, _ in picture.stretches) or 1
    row = Row(-2, 18)
    body: list[str] = []
    x, below = 0.0, 4.0
    for standing, milligrams, weight in picture.stretches:
        if not milligrams:
            continue
        length = picture.width * milligrams / total
        body.append(_draw_stretch(standing, row, x, length))
        x += length
        words = f"{weight} {standing}"
        body += [mark(standing, below, 22, 7), svg.text(below + 8, 24.5, words, size=7.4, weight=600)]
        below += 26 + text_width(words, 7.4, weight=600)
    return svg.document(picture.width, 28, picture.title, picture.description, body, ident="total")
