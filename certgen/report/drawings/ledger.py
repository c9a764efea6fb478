"""Where every gram went: a ledger as steps, what came in, what went out, what is left and what was
counted."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import accumulate, pairwise

from certgen.report.drawings.labels import Row, label
from certgen.typeset import svg
from certgen.typeset.design import COLOURS, RULE, RULE_HAIR


@dataclass(frozen=True, slots=True)
class LedgerStep:
    """A line of the ledger: `milligrams` above zero came in, below went out; `words` is its weight as
    printed."""

    label: str
    milligrams: int
    words: str


@dataclass(frozen=True, slots=True)
class LedgerPicture:
    """Steps in order, what they leave, and what was counted (None: nothing was counted)."""

    title: str
    description: str
    steps: tuple[LedgerStep, ...]
    left: LedgerStep
    counted: LedgerStep | None
    width: float


_ROW = 12.5
_NAMES = 118.0
_WORDS = 70.0
#: A step too small for the scale is drawn as thin as this.
_LEAST = 0.6


def draw_ledger(picture: LedgerPicture) -> str:
    """Steps to one scale, each beginning where the one before ended; in solid, out hatched, left outlined."""
    levels = list(accumulate((step.milligrams for step in picture.steps), initial=0))
    totals = [total for total in (picture.left, picture.counted) if total is not None]
    ends = [*levels, *(total.milligrams for total in totals)]
    low, high = min(0, *ends), max(0, *ends)
    scale = (picture.width - _NAMES - _WORDS) / ((high - low) or 1)

    def at(milligrams: int) -> float:
        return _NAMES + (milligrams - low) * scale

    body: list[str] = []
    for number, (step, (before, after)) in enumerate(zip(picture.steps, pairwise(levels), strict=True)):
        row = Row(number * _ROW, _ROW)
        left, right = sorted((at(before), at(after)))
        length = max(right - left, _LEAST)
        if step.milligrams >= 0:
            body.append(row.bar(left, length, fill=COLOURS["traced"]))
        else:
            body.append(row.bar(left, length, fill=COLOURS["paper"], stroke=COLOURS["ink"]))
            body.append(row.hatching(left, right - left))
        foot = row.top + _ROW
        stroke = COLOURS["quiet"]
        body.append(svg.line(at(after), foot - 3, at(after), foot + 3, width=RULE_HAIR, stroke=stroke))
        body += _labels(step, row, picture.width)
    for number, total in enumerate(totals, start=len(picture.steps)):
        row = Row(number * _ROW, _ROW)
        left, right = sorted((at(0), at(total.milligrams)))
        length = max(right - left, _LEAST)
        body.append(row.bar(left, length, fill=COLOURS["wash"], stroke=COLOURS["ink"], stroke_width=0.9))
        body += _labels(total, row, picture.width, weight=600)
    height = (len(picture.steps) + len(totals)) * _ROW
    body.append(svg.line(at(0), 0, at(0), height, width=RULE))
    return svg.document(picture.width, height, picture.title, picture.description, body, ident="ledger")


def _labels(step: LedgerStep, row: Row, width: float, weight: int = 400) -> list[str]:
    return [
        label(0, row.baseline, step.label, _NAMES - 6, size=7.4, weight=weight),
        svg.text(width, row.baseline, step.words, size=7.4, weight=weight, anchor="end"),
    ]
