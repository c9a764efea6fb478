"""Two seasons side by side: a pair of bars a figure, each pair to its own scale, beside its words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from certgen.report.drawings.labels import label
from certgen.typeset import svg
from certgen.typeset.design import COLOURS, RULE, RULE_HAIR
from certgen.typeset.faces import text_width


@dataclass(frozen=True, slots=True)
class TwinRow:
    """A figure of two seasons: its bars' lengths from 0 to 1 (None: nothing tells it), and their words."""

    title: str
    after: float | None
    before: float | None
    after_words: str
    before_words: str


@dataclass(frozen=True, slots=True)
class TwinPicture:
    """Rows of figures of the seasons `after` and `before`."""

    title: str
    description: str
    after: str
    before: str
    rows: tuple[TwinRow, ...]
    width: float


_HEAD: Final = 12.0
_ROW: Final = 14.0
_BAR: Final = 3.6
_SIZE: Final = 7.0
#: The most of the width that titles, and each season's words, take.
_TITLES: Final = 0.4
_WORDS: Final = 0.22


def draw_twin(picture: TwinPicture) -> str:
    """Each figure with this season's bar solid above the earlier one's, which is outlined."""
    titles = min(_widest([row.title for row in picture.rows]) + 10, picture.width * _TITLES)
    most = picture.width * _WORDS
    after = min(_widest([picture.after, *(row.after_words for row in picture.rows)]) + 12, most)
    before = min(_widest([picture.before, *(row.before_words for row in picture.rows)]) + 12, most)
    room = picture.width - titles - after - before
    ends = (picture.width - before, picture.width)
    body = [
        label(end, 7, words, width, size=_SIZE, weight=600, anchor="end")
        for end, words, width in zip(ends, (picture.after, picture.before), (after, before), strict=True)
    ]
    for number, row in enumerate(picture.rows):
        top = _HEAD + number * _ROW
        base = top + _ROW / 2 + 2.5
        body.append(
            svg.line(0, top + _ROW, picture.width, top + _ROW, width=RULE_HAIR, stroke=COLOURS["hair"])
        )
        body.append(label(0, base, row.title, titles - 6, size=_SIZE))
        body.append(label(ends[0], base, row.after_words, after - 6, size=_SIZE, weight=600, anchor="end"))
        body.append(label(ends[1], base, row.before_words, before - 6, size=_SIZE, anchor="end"))
        body += _draw_bars(row, titles, top, room)
    height = _HEAD + len(picture.rows) * _ROW
    body.append(svg.line(0, _HEAD - 2, picture.width, _HEAD - 2, width=RULE))
    body.append(svg.line(titles, _HEAD, titles, height, width=RULE))
    return svg.document(picture.width, height, picture.title, picture.description, body, ident="twin")


def _draw_bars(row: TwinRow, left: float, top: float, room: float) -> list[str]:
    middle = top + _ROW / 2
    bars = []
    if row.after is not None:
        bars.append(svg.rect(left, middle - _BAR - 0.6, room * row.after, _BAR, fill=COLOURS["traced"]))
    if row.before is not None:
        bars.append(
            svg.rect(
                left,
                middle + 0.6,
                room * row.before,
                _BAR,
                fill=COLOURS["paper"],
                stroke=COLOURS["ink"],
                stroke_width=RULE,
            )
        )
    return bars


def _widest(texts: list[str]) -> float:
    return max((text_width(text, _SIZE, weight=600) for text in texts), default=0.0)
