"""Widths of columns, by one measure for all tables: no word is cut where there is room, long texts share
what is left.

Of a register several ways to share the page out are tried, and that with fewest lines is taken.
"""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING, Final, NamedTuple

from certgen.typeset import faces
from certgen.typeset.addresses import opens_file
from certgen.typeset.design import TYPE

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from certgen.typeset.design import Sheet
    from certgen.typeset.parts import Cell, Grid, Register, RegisterColumn

#: One word may take this part of the measure before it is allowed to break.
WIDEST_WORD: Final = 0.17
#: Room for a mark before a cell's words, and a cell's right inset in the style sheet, in points.
_MARK: Final = 10.0
#: As wide as the shape before a marked stretch of a cell, in the size of a table.
_MARKED: Final = 6 * "\N{NO-BREAK SPACE}"
GRID_INSET: Final = 7.0
FIGURE_INSET: Final = 9.0
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


def grid_columns(grid: Grid, sheet: Sheet) -> list[tuple[float, float]]:
    """The width of each column in points, and how much of it is the inset right of its text."""
    measure = sheet.column if grid.width == "column" else sheet.measure
    wants = [_measure_column(grid, number, measure) for number in range(len(grid.heads))]
    widths = fit([least for least, _ in wants], [natural for _, natural in wants], measure=measure)
    return [(width, _inset(grid, number)) for number, width in enumerate(widths)]


def with_widths(grid: Grid, sheet: Sheet) -> Grid:
    """The grid with the width of each column filled in."""
    heads = tuple(
        # The style sheet's width is that of the text, without the inset.
        replace(head, share=f"{width - inset:.2f}pt")
        for head, (width, inset) in zip(grid.heads, grid_columns(grid, sheet), strict=True)
    )
    return replace(grid, heads=heads)


def _measure_column(grid: Grid, number: int, measure: float) -> tuple[float, float]:
    """The least width of a column, and the one that leaves hardly a text in need of a second line."""
    size, head = TYPE["table"].size, grid.heads[number]
    cells = [row.cells[number] for row in grid.rows]
    texts = [_shown_in(cell) for cell in cells]
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


#: In place of the paper clip before a text that opens an attached file: about as wide, an em.
_CLIP: Final = "\N{EM SPACE}"


def _shown(runs: Iterable[tuple[str, str]]) -> str:
    """What stretches of text, each with its href, take on a line."""
    return "".join(f"{_CLIP}{text}" if opens_file(href) else text for text, href in runs)


def _shown_in(cell: Cell) -> str:
    """What a cell's text takes on a line, with the shapes within."""
    return _shown((_MARKED + run.text if run.mark else run.text, run.href) for run in cell.runs)


#: Right of a register's cell, in points.
INSET: Final = 5.0
#: The space between a figure and its unit: 36.2 g, 14 h, 98.6 °F, 83 %.
UNIT: Final = re.compile(r"(?<=\d) (?=[%°]|[a-zµ]{1,2}\b)")
#: Rows that are set in each way for comparison, spread over the register.
_SAMPLE: Final = 40
#: How strongly longer texts draw room, from hardly to in proportion.
_PULLS: Final = (EVEN, 0.6, 1.0)
_PHRASE: Final = re.compile(r"[^ ,;][^,;]*[,;]?")


class _Wants(NamedTuple):
    """What one column would take: at least, with no phrase broken, with hardly a text broken, with none."""

    least: float
    phrased: float
    natural: float
    whole: float


def register_widths(register: Register, measure: float) -> list[float]:
    """The width of each column in points; together they take the `measure`."""
    wants = [
        _measure_register_column(column, [_shown(cells[number]) for _, cells in register.rows], measure)
        for number, column in enumerate(register.columns)
    ]
    least, phrased, natural, whole = (list(column) for column in zip(*wants, strict=True))
    first = fit(least, natural, whole, measure=measure)
    if sum(whole) <= measure:
        return first
    others = [
        fit(least, *aims, measure=measure, pull=pull)
        for aims in ((natural, whole), (phrased, natural, whole))
        for pull in _PULLS
    ]
    return min(others, key=lambda widths: _count_lines(register, widths))


def _measure_register_column(column: RegisterColumn, texts: Sequence[str], measure: float) -> _Wants:
    size, different = TYPE["register"].size, set(texts)
    cap = measure if column.kind == "digest" else measure * WIDEST_WORD
    heading = widest_word([column.title], TYPE["label"].size, 600)
    word = widest({word for text in different for word in split_words(text)}, size)
    least = max(min(word, cap), heading) + INSET + 0.5
    # What stands between two commas, such as a day and what was seen on it, belongs on one line.
    phrase = widest({phrase for text in different for phrase in _PHRASE.findall(text)}, size)
    return _Wants(
        least,
        max(phrase + INSET + 0.5, least) if phrase <= cap else least,
        max(natural_width(texts, size) + INSET + 1, least),
        max(natural_width(texts, size, 1.0) + INSET + 1, least),
    )


def _count_lines(register: Register, widths: Sequence[float]) -> int:
    """How many lines a sample of the rows takes."""
    step = -(-len(register.rows) // _SAMPLE) or 1
    return sum(
        max(_lines(_shown(cell), width - INSET) for cell, width in zip(cells, widths, strict=True))
        for _, cells in register.rows[::step]
    )


def _lines(text: str, room: float) -> int:
    """How many lines a text fills, word after word."""
    size = TYPE["register"].size
    if faces.text_width(text, size) <= room:
        return 1
    space = faces.text_width(" ", size)
    lines, used = 1, 0.0
    for word in split_words(text):
        width = faces.text_width(word, size)
        if used and used + space + width > room:
            lines += 1
            used = 0.0
        used += width + (space if used else 0.0)
        if used > room:
            lines += int(used / room)
            used %= room
    return lines


def split_words(text: str) -> list[str]:
    """The words that no line ends within, where it has room for them: a figure and its unit are one."""
    return [word for word in re.split(r"[ \t\r\n]+", UNIT.sub("\N{NO-BREAK SPACE}", text)) if word]
