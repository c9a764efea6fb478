"""Widths of columns, by one measure for all tables: no word is cut where there is room, long texts share
what is left."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from certgen.typeset import faces
from certgen.typeset.design import TYPE

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from certgen.typeset.design import Sheet
    from certgen.typeset.parts import Grid

#: One word may take this part of the measure before it is allowed to break.
WIDEST_WORD: Final = 0.17
#: Room for a mark before a cell's words, and a cell's right inset in the style sheet, in points.
_MARK: Final = 10.0
GRID_INSET: Final = 7.0
FIGURE_INSET: Final = 14.0
#: The part of the longest text's letters that another must have to be perhaps wider; how many are measured.
_LONG: Final = 0.75
_MEASURED: Final = 100
#: How strongly longer texts draw room: 1 in proportion, 0 not at all. Between, long columns wrap and short
#: ones don't.
EVEN: Final = 0.35


def widest(texts: Iterable[str], size: float, weight: int = 400) -> float:
    """The width of the widest text in points."""
    # The widest is among the longest: letters differ in width far less than texts in length. Of very many
    # texts of one length, such as tags, some stand for all.
    ordered = sorted(texts, key=lambda text: (len(text), text))
    longest = [text for text in ordered if len(text) >= len(ordered[-1]) * _LONG]
    step = -(-len(longest) // _MEASURED) or 1
    return max(
        (faces.text_width(text, size, weight=weight) for text in {*longest[::step], *longest[-10:]}),
        default=0.0,
    )


def widest_word(texts: Iterable[str], size: float, weight: int = 400) -> float:
    """The width in points of the widest stretch that no line may break in; some spaces hold together."""
    return widest({word for text in texts for word in re.split(r"[ \t\n]+", text)}, size, weight)


def natural_width(texts: Sequence[str], size: float, most: float = 0.97) -> float:
    """The width that lets the part `most` of the texts stand on one line."""
    longest = sorted(texts, key=lambda text: (len(text), text))
    at = longest[min(int(most * len(longest)), len(longest) - 1)] if longest else ""
    return faces.text_width(at, size)


def fit(least: Sequence[float], *aims: Sequence[float], measure: float, pull: float = EVEN) -> list[float]:
    """Widths that add up to `measure`: each at least its `least` where that is possible.

    Room beyond that brings all columns towards the first of `aims`, then towards the next; short wants are
    met
    before long ones. What is left over is shared in proportion.
    """
    widths = list(least)
    for aim in aims:
        for _ in range(len(widths)):
            spare = measure - sum(widths)
            wanting = [max(want - width, 0.0) for want, width in zip(aim, widths, strict=True)]
            if spare < 0.01 or sum(wanting) < 0.01:
                break
            pulls = [want**pull if want else 0.0 for want in wanting]
            widths = [
                width + min(want, spare * pull / sum(pulls))
                for width, want, pull in zip(widths, wanting, pulls, strict=True)
            ]
    return [width * measure / sum(widths) for width in widths]


def _inset(grid: Grid, number: int) -> float:
    if number == len(grid.heads) - 1:
        return 0.0
    return FIGURE_INSET if grid.heads[number].kind == "number" else GRID_INSET


def with_widths(grid: Grid, sheet: Sheet) -> Grid:
    """The grid with the width of each column filled in."""
    measure = sheet.column if grid.width == "column" else sheet.measure
    wants = [_measure_column(grid, number, measure) for number in range(len(grid.heads))]
    widths = fit([least for least, _ in wants], [natural for _, natural in wants], measure=measure)
    heads = tuple(
        # The style sheet's width is that of the text, without the inset.
        replace(head, share=f"{width - _inset(grid, number):.2f}pt")
        for number, (head, width) in enumerate(zip(grid.heads, widths, strict=True))
    )
    return replace(grid, heads=heads)


def _measure_column(grid: Grid, number: int, measure: float) -> tuple[float, float]:
    """The least width of a column, and the one that leaves hardly a text in need of a second line."""
    size, head = TYPE["table"].size, grid.heads[number]
    cells = [row.cells[number] for row in grid.rows]
    texts = ["".join(run.text for run in cell.runs) for cell in cells]
    mark = _MARK if any(cell.mark for cell in cells) else 0.0
    weight = 600 if number == 0 or mark else 400
    heading = widest_word([head.text], TYPE["label"].size, 600)
    word = min(widest_word(texts, size, weight) + mark, measure * WIDEST_WORD)
    if head.kind in {"key", "date", "number"}:
        word = max(
            (faces.text_width(text, size, weight=weight) for text in texts if len(text) <= 18),
            default=word,
        )
    least = max(word, heading) + _inset(grid, number) + 1
    bold = 1.06 if weight == 600 else 1
    return least, max(natural_width(texts, size) * bold + mark + _inset(grid, number) + 2, least)
