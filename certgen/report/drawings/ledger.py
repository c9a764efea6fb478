"""Where every gram went: a ledger as steps, what came in, what went out, what is left and what was
counted."""

from __future__ import annotations

from dataclasses import dataclass

from certgen.typeset import svg
from certgen.typeset.design import COLOURS, RULE, RULE_HAIR
from certgen.typeset.faces import shorten


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


def draw_ledger(picture: LedgerPicture) -> str:
    """Steps to one scale, each beginning where the one before ended; in solid, out hatched, left outlined."""
    reached, levels = 0, [0]
    for step in picture.steps:
        reached += step.milligrams
        levels.append(reached)
    ends = [*levels, picture.left.milligrams, *([picture.counted.milligrams] if picture.counted else [])]
    low, high = min(0, *ends), max(0, *ends)
    scale = (picture.width - _NAMES - _WORDS) / ((high - low) or 1)

    def at(milligrams: int) -> float:
        return _NAMES + (milligrams - low) * scale

    body: list[str] = []
    y = 0.0
    for step, before, after in zip(picture.steps, levels, levels[1:], strict=False):
        left, right = sorted((at(before), at(after)))
        if step.milligrams >= 0:
            colour = COLOURS["traced"]
            body.append(svg.rect(left, y + 3, max(right - left, 0.6), _ROW - 6, fill=colour))
        else:
            body.append(
                svg.rect(left, y + 3, max(right - left, 0.6), _ROW - 6, fill="#ffffff", stroke=COLOURS["ink"])
            )
            body.append(svg.hatch(left, y + 3, right - left, _ROW - 6))
        body.append(
            svg.line(
                at(after), y + _ROW - 3, at(after), y + _ROW + 3, width=RULE_HAIR, stroke=COLOURS["quiet"]
            )
        )
        body += _labels(step, y, picture.width)
        y += _ROW
    for step in (picture.left, *([picture.counted] if picture.counted else [])):
        left, right = sorted((at(0), at(step.milligrams)))
        body.append(
            svg.rect(
                left,
                y + 3,
                max(right - left, 0.6),
                _ROW - 6,
                fill=COLOURS["wash"],
                stroke=COLOURS["ink"],
                stroke_width=0.9,
            )
        )
        body += _labels(step, y, picture.width, weight=600)
        y += _ROW
    body.append(svg.line(at(0), 0, at(0), y, width=RULE))
    return svg.document(picture.width, y, picture.title, picture.description, body, ident="ledger")


def _labels(step: LedgerStep, y: float, width: float, weight: int = 400) -> list[str]:
    base = y + _ROW / 2 + 2.6
    return [
        svg.text(0, base, shorten(step.label, _NAMES - 6, 7.4, weight=weight), size=7.4, weight=weight),
        svg.text(width, base, step.words, size=7.4, weight=weight, anchor="end"),
    ]
