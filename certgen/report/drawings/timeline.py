"""A lot's time line: the order of events at a glance, a lane a kind of work.

Idle months are cut out, so that the days on which something happened have the room.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise
from typing import TYPE_CHECKING, Final

from certgen.report.drawings.labels import Row, label
from certgen.typeset import svg
from certgen.typeset.design import COLOURS, RULE, RULE_HAIR
from certgen.typeset.faces import text_width
from certgen.typeset.marks import mark

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence


@dataclass(frozen=True, slots=True)
class Lane:
    """A kind of work and the days it was done; `words` names both, `faults` are days that break the order."""

    words: str
    days: tuple[date, ...]
    faults: tuple[date, ...] = ()


@dataclass(frozen=True, slots=True)
class TimePicture:
    """Lanes in the order in which the work should happen."""

    title: str
    description: str
    lanes: tuple[Lane, ...]
    width: float


_ROW: Final = 10.4
#: The most of the width that the words may take.
_PART: Final = 0.62
_AXIS: Final = 13.0
#: From the middle of a lane down to its text.
_DROP: Final = 2.4
_SIZE: Final = 7.0
_MONTHS: Final = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
#: Idle days past this are cut out; kept on either side of a stretch of work.
_IDLE: Final = 60
_AROUND: Final = 4
#: The width of a cut, and the least of a stretch.
_CUT: Final = 9.0
_LEAST: Final = 24.0


@dataclass(frozen=True, slots=True)
class _Stretch:
    """Days from `start` to `end` that are drawn `width` points wide, from `left`."""

    start: date
    end: date
    left: float
    width: float

    def at(self, day: date) -> float:
        """Where a day stands."""
        return self.left + (day - self.start).days * self.width / max((self.end - self.start).days, 1)

    def firsts(self) -> Iterator[date]:
        """The first day of each month that begins in it."""
        for month in range(self.start.year * 12 + self.start.month, self.end.year * 12 + self.end.month):
            yield date(month // 12, month % 12 + 1, 1)


def _lay_out(days: Sequence[date], left: float, room: float) -> list[_Stretch]:
    """The stretches of work, side by side from `left`; the days are in order and one at least."""
    idle = [((other - one).days, at) for at, (one, other) in enumerate(pairwise(days), start=1)]
    # As many cuts as there is room for, the longest idle times first.
    most = max(int((room + _CUT) / (_LEAST + _CUT)) - 1, 0)
    long = sorted((one for one in idle if one[0] > _IDLE), key=lambda one: (-one[0], one[1]))[:most]
    cuts = [0, *sorted(at for _, at in long)]
    spans = [
        (_move(days[start], -_AROUND), _move(days[end - 1], _AROUND))
        for start, end in zip(cuts, [*cuts[1:], len(days)], strict=True)
    ]
    lengths = [(end - start).days or 1 for start, end in spans]
    spare = room - _CUT * (len(spans) - 1) - _LEAST * len(spans)
    stretches = []
    for (start, end), length in zip(spans, lengths, strict=True):
        width = _LEAST + spare * length / sum(lengths)
        stretches.append(_Stretch(start, end, left, width))
        left += width + _CUT
    return stretches


def _move(day: date, days: int) -> date:
    """A day some days off, or the last that there is."""
    try:
        return day + timedelta(days=days)
    except OverflowError:
        return day


def measure_timeline(picture: TimePicture) -> float:
    """How high the drawing of a time line is."""
    return _AXIS + len(picture.lanes) * _ROW + 1


def draw_timeline(picture: TimePicture) -> str:
    """Days as strokes on lanes below an axis of months; a day that breaks the order wears a diamond."""
    return svg.document(
        picture.width,
        measure_timeline(picture),
        picture.title,
        picture.description,
        list_strokes(picture),
        ident="timeline",
    )


def list_strokes(picture: TimePicture) -> list[str]:
    """What such a drawing is made of, for one that holds others beside it."""
    days = sorted({day for lane in picture.lanes for day in (*lane.days, *lane.faults)})
    height = measure_timeline(picture)
    widest = max((text_width(lane.words, _SIZE) for lane in picture.lanes), default=0.0)
    words = min(widest, _PART * picture.width)
    stretches = _lay_out(days, words + 8, picture.width - words - 8) if days else []
    body = [part for stretch in stretches for part in _draw_months(stretch, height)]
    body.append(svg.line(0, _AXIS - 3, picture.width, _AXIS - 3, width=RULE))
    for one in stretches[:-1]:
        body += _draw_cut(one.left + one.width, height)
    for number, lane in enumerate(picture.lanes):
        row = Row(_AXIS + number * _ROW, _ROW, _DROP)
        body.append(label(0, row.baseline, lane.words, words, size=_SIZE))
        body += _draw_lane(lane, row.middle, stretches)
    return body


def _draw_cut(x: float, height: float) -> list[str]:
    """Two strokes across the axis where idle months are left out."""
    middle, axis = x + _CUT / 2, _AXIS - 3
    return [
        svg.rect(x, axis - 1, _CUT, height - axis + 1, fill=COLOURS["paper"]),
        *(
            svg.line(middle + at - 1.5, axis + 3, middle + at + 1.5, axis - 3, width=0.7)
            for at in (-1.6, 1.6)
        ),
    ]


def _draw_months(stretch: _Stretch, height: float) -> list[str]:
    """The months' names on the axis, as many as there is room for, and a hair line down from each first."""
    start = f"{_MONTHS[stretch.start.month - 1]} {stretch.start.year}"
    year = stretch.start.year
    if text_width(start, 6.5) > stretch.width + _CUT:
        start = f"{_MONTHS[stretch.start.month - 1]} ’{year % 100:02}"
    body = [_draw_month(stretch.left, start)]
    taken = stretch.left + text_width(start, 6.5) + 5
    for first in stretch.firsts():
        x = stretch.at(first)
        body.append(svg.line(x, _AXIS - 3, x, height, width=RULE_HAIR, stroke=COLOURS["hair"]))
        words = _MONTHS[first.month - 1]
        if first.year != year:
            words += f" {first.year}"
        if taken <= x <= stretch.left + stretch.width - text_width(words, 6.5):
            body.append(_draw_month(x, words))
            taken = x + text_width(words, 6.5) + 5
            year = first.year
    return body


def _draw_month(x: float, words: str) -> str:
    return svg.text(x + 1.5, 7, words, size=6.5, fill=COLOURS["quiet"])


def _draw_lane(lane: Lane, y: float, stretches: Sequence[_Stretch]) -> list[str]:
    """A lane's hair lines, the time from its first day to its last, and its days."""
    body = []
    for stretch in stretches:
        right = stretch.left + stretch.width
        body.append(svg.line(stretch.left, y, right, y, width=RULE_HAIR, stroke=COLOURS["hair"]))
        days = sorted({day for day in lane.days if stretch.start <= day <= stretch.end})
        if len(days) > 1:
            ends = (stretch.at(days[0]), stretch.at(days[-1]))
            body.append(svg.line(ends[0], y, ends[1], y, width=1.8, stroke=COLOURS["quiet"]))
        body += [svg.line(x, y - 3.2, x, y + 3.2, width=0.9) for x in map(stretch.at, days)]
        faults = sorted({day for day in lane.faults if stretch.start <= day <= stretch.end})
        body += [mark("unproven", stretch.at(day), y, 7) for day in faults]
    return body
