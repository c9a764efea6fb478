"""The widths of a register's columns: of several ways to share a page out, that with fewest lines."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final, NamedTuple

from certgen.typeset.column_widths import EVEN, WIDEST_WORD, fit, natural_width, widest, widest_word
from certgen.typeset.design import TYPE
from certgen.typeset.tables.cells import INSET
from certgen.typeset.tables.line_breaks import break_lines, split_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from certgen.typeset.parts import Register, RegisterColumn
    from certgen.typeset.tables.font_subset import FontSubset

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


def register_widths(register: Register, measure: float, font: FontSubset) -> list[float]:
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
    return min(others, key=lambda widths: _count_lines(register, widths, font))


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


def _count_lines(register: Register, widths: Sequence[float], font: FontSubset) -> int:
    """How many lines a sample of the rows takes."""
    size = TYPE["register"].size
    rooms = [(width - INSET) / size for width in widths]
    step = -(-len(register.rows) // _SAMPLE) or 1
    return sum(
        max(
            _lines("".join(text for text, _ in cell), room, font)
            for cell, room in zip(cells, rooms, strict=True)
        )
        for _, cells in register.rows[::step]
    )


def _lines(text: str, room: float, font: FontSubset) -> int:
    shown = font.spell_out(text.replace("\n", " ")) if not text.isascii() or "\n" in text else text
    if not text or font.show(shown)[0] <= room:
        return 1
    return len(break_lines([(shown, "")], room, font))
