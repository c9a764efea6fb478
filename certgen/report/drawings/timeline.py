"""A lot's time line: the order of events at a glance, a lane a kind of work."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from certgen.report.drawings.labels import Row
from certgen.typeset import svg
from certgen.typeset.design import COLOURS, RULE, RULE_HAIR
from certgen.typeset.marks import mark


@dataclass(frozen=True, slots=True)
class Lane:
    """A kind of work and the days it was done; `faults` are days that break the order, `words` says the
    lane."""

    name: str
    days: tuple[date, ...]
    words: str
    faults: tuple[date, ...] = ()


@dataclass(frozen=True, slots=True)
class TimePicture:
    """Lanes in the order in which the work should happen."""

    title: str
    description: str
    lanes: tuple[Lane, ...]
    width: float


_ROW = 12.0
_NAMES = 76.0
_WORDS = 128.0
_AXIS = 13.0
#: From the middle of a lane down to its text.
_DROP = 2.5
#: The width that a month's name takes on the axis.
_MONTH = 26
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


@dataclass(frozen=True, slots=True)
class _TimeScale:
    """The days from `start` to `end` on `room` points right of the lanes' names."""

    start: date
    end: date
    room: float

    def at(self, day: date) -> float:
        """Where a day stands."""
        return _NAMES + (day - self.start).days * (self.room / max((self.end - self.start).days, 1))

    def first_of_months(self) -> list[date]:
        """The first day of each month that begins on the scale."""
        months = range(self.start.year * 12 + self.start.month - 1, self.end.year * 12 + self.end.month)
        firsts = (date(month // 12, month % 12 + 1, 1) for month in months)
        return [first for first in firsts if first >= self.start]


def draw_timeline(picture: TimePicture) -> str:
    """Days as strokes on lanes below an axis of months; a day that breaks the order wears a diamond."""
    days = [day for lane in picture.lanes for day in (*lane.days, *lane.faults)]
    height = _AXIS + len(picture.lanes) * _ROW + 2
    around = timedelta(days=4)
    room = picture.width - _NAMES - _WORDS
    scale = _TimeScale(min(days) - around, max(days) + around, room) if days else None
    body = _draw_months(scale, height) if scale else []
    for number, lane in enumerate(picture.lanes):
        row = Row(_AXIS + number * _ROW, _ROW, _DROP)
        body.append(svg.text(0, row.baseline, lane.name, size=7.2))
        body.append(svg.text(picture.width, row.baseline, lane.words, size=6.8, anchor="end"))
        if scale:
            body += _draw_lane(lane, row.middle, scale)
    body.append(svg.line(0, _AXIS - 3, picture.width, _AXIS - 3, width=RULE))
    return svg.document(picture.width, height, picture.title, picture.description, body, ident="timeline")


def _draw_months(scale: _TimeScale, height: float) -> list[str]:
    """The months' names on the axis, as many as it takes, and a hair line down from each first day."""
    firsts = scale.first_of_months()
    every = max(1, -(-len(firsts) * _MONTH // max(int(scale.room), 1)))
    body = []
    if firsts and scale.at(firsts[0]) - _NAMES > 30:
        # The month that the drawing opens in has its first day left of it.
        body.append(_draw_month(_NAMES, _MONTHS[scale.start.month - 1]))
    for number, first in enumerate(firsts):
        x = scale.at(first)
        body.append(svg.line(x, _AXIS - 3, x, height, width=RULE_HAIR, stroke=COLOURS["hair"]))
        if number % every == 0:
            year = f" {first.year}" if number == 0 or first.month == 1 else ""
            body.append(_draw_month(x, _MONTHS[first.month - 1] + year))
    return body


def _draw_month(x: float, words: str) -> str:
    return svg.text(x + 2, 7, words, size=6.2, fill=COLOURS["quiet"])


def _draw_lane(lane: Lane, y: float, scale: _TimeScale) -> list[str]:
    """A lane's hair line, the time from its first day to its last, and its days."""
    end = _NAMES + scale.room
    body = [svg.line(_NAMES, y, end, y, width=RULE_HAIR, stroke=COLOURS["hair"])]
    if lane.days:
        first, last = scale.at(min(lane.days)), scale.at(max(lane.days))
        body.append(svg.line(first, y, last, y, width=2.2, stroke=COLOURS["rule"]))
    days = (scale.at(day) for day in sorted(set(lane.days)))
    body += [svg.line(x, y - 3.6, x, y + 3.6, width=0.9) for x in days]
    body += [mark("unproven", scale.at(day), y, 7) for day in sorted(set(lane.faults))]
    return body
