"""Gaps by stage of the job: one shape a gap, so that a glance counts them."""

from __future__ import annotations

from dataclasses import dataclass

from certgen.report.drawings.labels import Row
from certgen.typeset import svg
from certgen.typeset.design import COLOURS, RULE_HAIR, WEIGHT_MARKS, WEIGHTS
from certgen.typeset.marks import mark


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


_ROW = 15.0
_NAMES = 118.0
_WORDS = 150.0
_STEP = 9.0


def draw_stages(picture: StagesPicture) -> str:
    """A row a stage; when the shapes of a stage would not fit, its numbers alone are shown."""
    most = int((picture.width - _NAMES - _WORDS) / _STEP)
    body: list[str] = []
    for number, stage in enumerate(picture.stages):
        row = Row(number * _ROW, _ROW)
        foot = row.top + _ROW
        body.append(svg.text(0, row.baseline, stage.name, size=7.6))
        body.append(svg.line(0, foot, picture.width, foot, width=RULE_HAIR, stroke=COLOURS["hair"]))
        counts = dict(zip(WEIGHTS, stage.counts, strict=True))
        gaps = [weight for weight, count in counts.items() for _ in range(count)]
        x = _NAMES + 4
        if len(gaps) <= most:
            for weight in gaps:
                body.append(mark(WEIGHT_MARKS[weight], x, row.middle, 6.6))
                x += _STEP
        words = ", ".join(f"{count} {weight}" for weight, count in counts.items() if count)
        body.append(svg.text(x + 4, row.baseline, words or "none", size=7, fill=COLOURS["quiet"]))
    height = max(len(picture.stages) * _ROW, 4)
    return svg.document(picture.width, height, picture.title, picture.description, body, ident="stages")
