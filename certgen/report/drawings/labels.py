"""What stands beside the shapes of a drawing: text cut to its room, and the rows of text and bars."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from certgen.typeset import svg
from certgen.typeset.design import COLOURS, RULE
from certgen.typeset.faces import shorten

INK: Final = COLOURS["ink"]
#: A bar keeps this from either edge of its row.
_INSET: Final = 3.0


def label(
    x: float,
    y: float,
    words: str,
    room: float,
    *,
    size: float,
    weight: int = 400,
    fill: str = INK,
    anchor: str = "start",
) -> str:
    """A line of text on its baseline, cut where it is wider than `room` points."""
    shown = shorten(words, room, size, weight=weight)
    return svg.text(x, y, shown, size=size, weight=weight, fill=fill, anchor=anchor)


@dataclass(frozen=True, slots=True)
class Row:
    """A row of a drawing: its upper edge, its height, and how far below its middle text stands."""

    top: float
    height: float
    drop: float = 2.6

    @property
    def middle(self) -> float:
        """The line that marks are centred on."""
        return self.top + self.height / 2

    @property
    def baseline(self) -> float:
        """The line that text stands on."""
        return self.middle + self.drop

    def bar(
        self, x: float, width: float, *, fill: str, stroke: str = "none", stroke_width: float = RULE
    ) -> str:
        """A bar from `x` to the right."""
        height = self.height - 2 * _INSET
        return svg.rect(
            x, self.top + _INSET, width, height, fill=fill, stroke=stroke, stroke_width=stroke_width
        )

    def hatching(self, x: float, width: float, *, cross: bool = False) -> str:
        """The strokes that fill such a bar."""
        return svg.hatch(x, self.top + _INSET, width, self.height - 2 * _INSET, cross=cross)
