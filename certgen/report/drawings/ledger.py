"""Where every gram went: a ledger as steps over an axis of grams, what came in, what went out, what is left,
what was counted, and by how much the two differ."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import accumulate, pairwise
from typing import TYPE_CHECKING, Final

from certgen.report.drawings.labels import Row, label
from certgen.typeset import svg
from certgen.typeset.design import COLOURS, RULE, RULE_HAIR
from certgen.typeset.faces import text_width

if TYPE_CHECKING:
    from collections.abc import Callable


@dataclass(frozen=True, slots=True)
class LedgerStep:
    """A line of the ledger: `milligrams` above zero came in, below went out; `words` is its weight as
    printed."""

    label: str
    milligrams: int
    words: str


@dataclass(frozen=True, slots=True)
class LedgerPicture:
    """Steps in order, what they leave, what was counted (None: nothing was counted), and by how much counts
    differed from the book (None: they met it, or there was none)."""

    title: str
    description: str
    steps: tuple[LedgerStep, ...]
    left: LedgerStep
    counted: LedgerStep | None
    width: float
    difference: LedgerStep | None = None


_ROW: Final = 10.8
#: The most that the names, and the words, take of the width.
_NAMES: Final = 0.46
_WORDS: Final = 0.3
_AXIS: Final = 11.0
_SIZE: Final = 7.2
#: A step too small for the scale is drawn as thin as this.
_LEAST: Final = 0.6
#: About so wide apart the lines of the axis stand.
_APART: Final = 34.0
_GRAM: Final = 1000


def measure_ledger(picture: LedgerPicture) -> float:
    """How high the drawing of a ledger is."""
    totals = [total for total in (picture.left, picture.counted, picture.difference) if total is not None]
    return (len(picture.steps) + len(totals)) * _ROW + _AXIS


def draw_ledger(picture: LedgerPicture) -> str:
    """Steps to one scale, each beginning where the one before ended; in solid, out hatched, left outlined."""
    return svg.document(
        picture.width,
        measure_ledger(picture),
        picture.title,
        picture.description,
        list_bars(picture),
        ident="ledger",
    )


def list_bars(picture: LedgerPicture) -> list[str]:
    """What such a drawing is made of, for one that holds others beside it."""
    levels = list(accumulate((step.milligrams for step in picture.steps), initial=0))
    totals = [total for total in (picture.left, picture.counted) if total is not None]
    off = picture.difference
    ends = [*levels, *(total.milligrams for total in totals)]
    if off is not None and picture.left is not None:
        ends.append(picture.left.milligrams + off.milligrams)
    low, high = min(0, *ends), max(0, *ends)
    names, words = _measure_texts(picture)
    scale = (picture.width - names - words) / ((high - low) or 1)

    def at(milligrams: int) -> float:
        return names + (milligrams - low) * scale

    foot = measure_ledger(picture) - _AXIS
    body = _draw_axis(low, high, at, foot)
    for number, (step, (before, after)) in enumerate(zip(picture.steps, pairwise(levels), strict=True)):
        row = Row(number * _ROW, _ROW)
        body += _draw_step(row, step.milligrams >= 0, at(before), at(after))
        body += _labels(step, row, picture)
    for number, total in enumerate(totals, start=len(picture.steps)):
        row = Row(number * _ROW, _ROW)
        left, right = sorted((at(0), at(total.milligrams)))
        length = max(right - left, _LEAST)
        body.append(row.bar(left, length, fill=COLOURS["wash"], stroke=COLOURS["ink"], stroke_width=0.9))
        body += _labels(total, row, picture, weight=600)
    if off is not None and picture.left is not None:
        row = Row(foot - _ROW, _ROW)
        start = picture.left.milligrams
        left, right = sorted((at(start), at(start + off.milligrams)))
        length = max(right - left, _LEAST)
        body.append(row.bar(left, length, fill=COLOURS["paper"], stroke=COLOURS["rejected"]))
        body.append(row.hatching(left, right - left, cross=True))
        body += _labels(off, row, picture, weight=600)
    body.append(svg.line(at(0), 0, at(0), foot, width=RULE))
    return body


def _measure_texts(picture: LedgerPicture) -> tuple[float, float]:
    """The room that names take left of the bars, and weights right of them."""
    listed = [*picture.steps, picture.left, picture.counted, picture.difference]
    shown = [step for step in listed if step is not None]
    names = max((text_width(step.label, _SIZE, weight=600) for step in shown), default=0.0)
    words = max((text_width(step.words, _SIZE, weight=600) for step in shown), default=0.0)
    return min(names + 6, _NAMES * picture.width), min(words + 6, _WORDS * picture.width)


def _draw_step(row: Row, came: bool, before: float, after: float) -> list[str]:
    """A step's bar, and a stroke down to where the next begins."""
    left, right = sorted((before, after))
    length = max(right - left, _LEAST)
    foot = row.top + _ROW
    if came:
        bar = [row.bar(left, length, fill=COLOURS["traced"])]
    else:
        bar = [row.bar(left, length, fill=COLOURS["paper"], stroke=COLOURS["ink"])]
        bar.append(row.hatching(left, right - left))
    return [*bar, svg.line(after, foot - 3, after, foot + 3, width=RULE, stroke=COLOURS["quiet"])]


def _draw_axis(low: int, high: int, at: Callable[[int], float], foot: float) -> list[str]:
    """Hair lines at round grams, and their figures below."""
    if high == low:
        return []
    step = _round_step((high - low) * _APART / (at(high) - at(low)))
    body = [svg.line(at(low), foot, at(high), foot, width=RULE)]
    for milligrams in range(-(-low // step) * step, high + 1, step):
        x = at(milligrams)
        body.append(svg.line(x, 0, x, foot + 2, width=RULE_HAIR, stroke=COLOURS["rule"]))
        figure = f"{milligrams / _GRAM:g}".replace("-", "−")
        words = f"{figure} g" if milligrams == 0 else figure
        body.append(svg.text(x, foot + 9, words, size=6.5, anchor="middle", fill=COLOURS["quiet"]))
    return body


def _round_step(least: float) -> int:
    """The next of 1, 2, 5, 10, 20 … that is no less, in milligrams."""
    power = 1
    while power * 10 <= least:
        power *= 10
    return next(power * times for times in (1, 2, 5, 10) if power * times >= least or times == 10)


def _labels(step: LedgerStep, row: Row, picture: LedgerPicture, weight: int = 400) -> list[str]:
    names, words = _measure_texts(picture)
    return [
        label(0, row.baseline, step.label, names - 4, size=_SIZE, weight=weight),
        label(picture.width, row.baseline, step.words, words, size=_SIZE, weight=weight, anchor="end"),
    ]
