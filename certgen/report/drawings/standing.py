"""Each lot's standing by gram, as bars to one scale: solid traced, hatched unproven, crossed rejected, empty
unaccounted.

And gaps by stage of the job: one shape a gap, so that a glance counts them.
"""

from __future__ import annotations

from dataclasses import dataclass

from certgen.report.drawings.labels import Row, label
from certgen.typeset import svg
from certgen.typeset.design import COLOURS, RULE, RULE_HAIR, STANDINGS, WEIGHT_MARKS, WEIGHTS
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
class Stage:
    """A stage of the job and how many gaps of each weight (rejects, unproven, advice) stand in it."""

    name: str
    counts: tuple[int, int, int]


@dataclass(frozen=True, slots=True)
class StagesPicture:
    """All stages, in the order of the job."""

    title: str
    description: str
    stages: tuple[Stage, ...]
    width: float


_STAGE_ROW = 15.0
_STAGE_NAMES = 118.0
_STAGE_WORDS = 150.0
_STEP = 9.0


def draw_stages(picture: StagesPicture) -> str:
    """A row a stage; when the shapes of a stage would not fit, its numbers alone are shown."""
    most = int((picture.width - _STAGE_NAMES - _STAGE_WORDS) / _STEP)
    body: list[str] = []
    for number, stage in enumerate(picture.stages):
        row = Row(number * _STAGE_ROW, _STAGE_ROW)
        foot = row.top + _STAGE_ROW
        body.append(svg.text(0, row.baseline, stage.name, size=7.6))
        body.append(svg.line(0, foot, picture.width, foot, width=RULE_HAIR, stroke=COLOURS["hair"]))
        counts = dict(zip(WEIGHTS, stage.counts, strict=True))
        gaps = [weight for weight, count in counts.items() for _ in range(count)]
        x = _STAGE_NAMES + 4
        if len(gaps) <= most:
            for weight in gaps:
                body.append(mark(WEIGHT_MARKS[weight], x, row.middle, 6.6))
                x += _STEP
        words = ", ".join(f"{count} {weight}" for weight, count in counts.items() if count)
        body.append(svg.text(x + 4, row.baseline, words or "none", size=7, fill=COLOURS["quiet"]))
    height = max(len(picture.stages) * _STAGE_ROW, 4)
    return svg.document(picture.width, height, picture.title, picture.description, body, ident="stages")
