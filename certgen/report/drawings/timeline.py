"""A lot's time line: the order of events at a glance, a lane a kind of work."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

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
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def _first_of_months(start: date, end: date) -> list[date]:
    firsts = []
    year, month = start.year, start.month
    while date(year, month, 1) <= end:
        if date(year, month, 1) >= start:
            firsts.append(date(year, month, 1))
        year, month = (year + 1, 1) if month == 12 else (year, month + 1)
    return firsts


def draw_timeline(picture: TimePicture) -> str:
    """Days as strokes on lanes below an axis of months; a day that breaks the order wears a diamond."""
    days = [day for lane in picture.lanes for day in (*lane.days, *lane.faults)]
    height = _AXIS + len(picture.lanes) * _ROW + 2
    body: list[str] = []
    if days:
        start, end = min(days) - timedelta(days=4), max(days) + timedelta(days=4)
        room = picture.width - _NAMES - _WORDS
        scale = room / max((end - start).days, 1)

        def at(day: date) -> float:
            return _NAMES + (day - start).days * scale

        firsts = _first_of_months(start, end)
        every = max(1, -(-len(firsts) * 26 // max(int(room), 1)))
        if firsts and at(firsts[0]) - _NAMES > 30:
            # The month that the drawing opens in has its first day left of it.
            body.append(svg.text(_NAMES + 2, 7, _MONTHS[start.month - 1], size=6.2, fill=COLOURS["quiet"]))
        for number, first in enumerate(firsts):
            x = at(first)
            body.append(svg.line(x, _AXIS - 3, x, height, width=RULE_HAIR, stroke=COLOURS["hair"]))
            if number % every == 0:
                label = _MONTHS[first.month - 1] + (
                    f" {first.year}" if number == 0 or first.month == 1 else ""
                )
                body.append(svg.text(x + 2, 7, label, size=6.2, fill=COLOURS["quiet"]))
    for number, lane in enumerate(picture.lanes):
        y = _AXIS + number * _ROW
        middle = y + _ROW / 2
        body.append(svg.text(0, middle + 2.5, lane.name, size=7.2))
        body.append(svg.text(picture.width, middle + 2.5, lane.words, size=6.8, anchor="end"))
        if days:
            body.append(
                svg.line(
                    _NAMES,
                    middle,
                    picture.width - _WORDS,
                    middle,
                    width=RULE_HAIR,
                    stroke=COLOURS["hair"],
                )
            )
        if lane.days:
            body.append(
                svg.line(
                    at(min(lane.days)), middle, at(max(lane.days)), middle, width=2.2, stroke=COLOURS["rule"]
                )
            )
            body += [
                svg.line(at(day), middle - 3.6, at(day), middle + 3.6, width=0.9)
                for day in sorted(set(lane.days))
            ]
        body += [mark("unproven", at(day), middle, 7) for day in sorted(set(lane.faults))]
    body.append(svg.line(0, _AXIS - 3, picture.width, _AXIS - 3, width=RULE))
    return svg.document(picture.width, height, picture.title, picture.description, body, ident="timeline")
