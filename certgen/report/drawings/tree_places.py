"""Where trees stand to one another: rows and positions in natural order, and who is whose neighbour."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Iterable

    from certgen.report.drawings.orchard import OrchardTree

#: A number in a name. Of thousands of digits, which a record may hold, Python makes no number.
_NUMBER: Final = re.compile(r"(\d{1,18})")


def natural(text: str) -> tuple[tuple[int, int, str], ...]:
    """A key that sorts `2` before `10` and `A2` before `A10`."""
    return tuple(
        (0, int(piece), "") if piece.isdecimal() else (1, 0, piece) for piece in _NUMBER.split(text) if piece
    )


def in_order(names: Iterable[str]) -> list[str]:
    """Each name once, in natural order; `1` and `01` stay as the records have them."""
    return sorted(dict.fromkeys(names), key=natural)


def neighbours_of_positive(trees: tuple[OrchardTree, ...]) -> frozenset[str]:
    """Trees that stand next to a positive tree: one place away along the row, or the same place one row
    away."""
    places = _places(trees)
    at = {place: tree for tree, place in places.items()}
    positive = {tree.tree for tree in trees if tree.screening == "positive"}
    beside = {
        (row + down, position + along)
        for row, position in (places[tree] for tree in positive & places.keys())
        for down, along in ((0, 1), (0, -1), (1, 0), (-1, 0))
    }
    return frozenset(at[place] for place in beside & at.keys()) - positive


def _places(trees: tuple[OrchardTree, ...]) -> dict[str, tuple[int, int]]:
    """Row and position of each tree that has both, as numbers in which neighbours are one apart."""
    placed = [tree for tree in trees if tree.row and tree.position]
    rows = in_order(tree.row for tree in trees if tree.row)
    positions = in_order(tree.position for tree in placed)
    row_number = {row: number for number, row in enumerate(rows)}
    position_number = {
        position: int(position) if _NUMBER.fullmatch(position) else number
        for number, position in enumerate(positions)
    }
    return {tree.tree: (row_number[tree.row], position_number[tree.position]) for tree in placed}
