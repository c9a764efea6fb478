"""A lot at a glance: when it was done, and beside it where its grams went."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

from certgen.report.drawings.ledger import list_bars, measure_ledger
from certgen.report.drawings.timeline import list_strokes, measure_timeline
from certgen.typeset import svg

if TYPE_CHECKING:
    from certgen.report.drawings.ledger import LedgerPicture
    from certgen.report.drawings.timeline import TimePicture

#: The time line's part of the width, and the room between the two in points.
_PART: Final = 0.47
_BETWEEN: Final = 16.0


def draw_glance(title: str, timeline: TimePicture, ledger: LedgerPicture, width: float) -> str:
    """Both drawings side by side, each with its own axis, as one."""
    left = replace(timeline, width=width * _PART)
    right = replace(ledger, width=width * (1 - _PART) - _BETWEEN)
    height = max(measure_timeline(left), measure_ledger(right))
    body = [*list_strokes(left), *svg.move(list_bars(right), left.width + _BETWEEN)]
    description = f"{timeline.description} {ledger.description}"
    return svg.document(width, height, title, description, body, ident="glance")
