"""What a sheet's markup says besides its cells' values: merged cells, and rows and columns that are hidden.

openpyxl tells neither where it reads a sheet as a stream, so the few elements are looked up in the part.
"""

from __future__ import annotations

import re
import zipfile
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Iterator

#: An element has no more attributes than fit into so many signs.
_WITHIN: Final = rb"[^>]{0,400}?"
_MERGED: Final = re.compile(
    rb"<(?:\w{1,9}:)?mergeCell\b" + _WITHIN + rb'\bref="([A-Z]{1,3})([0-9]{1,7}):([A-Z]{1,3})([0-9]{1,7})"'
)
_HIDDEN: Final = rb"(?=" + _WITHIN + rb'\bhidden="(?:1|true)")'
_HIDDEN_ROW: Final = re.compile(rb"<(?:\w{1,9}:)?row\b" + _HIDDEN + _WITHIN + rb'\br="([0-9]{1,7})"')
_HIDDEN_COLUMN: Final = re.compile(
    rb"<(?:\w{1,9}:)?col\b" + _HIDDEN + rb"(?=" + _WITHIN + rb'\bmin="([0-9]{1,5})")'
    rb"(?=" + _WITHIN + rb'\bmax="([0-9]{1,5})")'
)
#: A sheet with more merged places than this is no sheet of records; its cells stay as they are.
_MOST: Final = 20_000


@dataclass(frozen=True, slots=True)
class Markup:
    """`merged`: by column, from 0, the first and last row of each place that is one cell; `rows`: the numbers
    of the hidden rows; `columns`: the hidden columns, from 0."""

    merged: Mapping[int, tuple[tuple[int, int], ...]]
    rows: tuple[int, ...] = ()
    columns: tuple[int, ...] = ()


PLAIN: Final = Markup({})


def read_markup(archive: zipfile.ZipFile, part: str) -> Markup:
    """What a sheet's part says; nothing where there is no such part."""
    try:
        text = archive.read(part)
    except KeyError:
        return PLAIN
    merged: dict[int, list[tuple[int, int]]] = {}
    for column, first, last in _list_upright(text):
        merged.setdefault(column, []).append((first, last))
    rows = tuple(int(found[1]) for found in _HIDDEN_ROW.finditer(text))
    spans = ((int(found[1]), int(found[2])) for found in _HIDDEN_COLUMN.finditer(text))
    # Whoever hides the last column hides all that follow, too.
    columns = tuple(at - 1 for first, last in spans for at in range(first, min(last, first + 50) + 1))
    return Markup({column: _apart(places) for column, places in merged.items()}, rows, columns)


def _list_upright(text: bytes) -> Iterator[tuple[int, int, int]]:
    """The merged places of one column, as column, first and last row."""
    for number, found in enumerate(_MERGED.finditer(text)):
        if number >= _MOST:
            return
        if found[1] == found[3] and int(found[2]) < int(found[4]):
            yield _column_number(found[1].decode()), int(found[2]), int(found[4])


def _apart(places: list[tuple[int, int]]) -> tuple[tuple[int, int], ...]:
    """The places in order, without those that lie over an earlier one, as none in a sound workbook does."""
    kept: list[tuple[int, int]] = []
    for first, last in sorted(places):
        if not kept or first > kept[-1][1]:
            kept.append((first, last))
    return tuple(kept)


def _column_number(letters: str) -> int:
    number = 0
    for letter in letters:
        number = number * 26 + ord(letter) - 64
    return number - 1
