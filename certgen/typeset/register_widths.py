"""The widths of a register's columns: of several ways to share a page out, that with fewest lines."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final, NamedTuple

from certgen.typeset import faces
from certgen.typeset.column_widths import EVEN, WIDEST_WORD, fit, natural_width, widest, widest_word
from certgen.typeset.design import TYPE

if TYPE_CHECKING:
    from collections.abc import Sequence

    from certgen.typeset.parts import Register, RegisterColumn

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
        _measure_column(
            column, ["".join(text for text, _ in cells[number]) for _, cells in register.rows], measure
        )
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


def _measure_column(column: RegisterColumn, texts: Sequence[str], measure: float) -> _Wants:
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
        max(
            _lines("".join(text for text, _ in cell), width - INSET)
            for cell, width in zip(cells, widths, strict=True)
        )
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
