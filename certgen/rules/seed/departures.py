"""Seed on its way out of the door, and what is known of the lot it came from, in this season or another."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

if TYPE_CHECKING:
    from pandas import DataFrame

    from certgen.records.columns import Array, Columns
    from certgen.rules.case import Case

#: Kinds of movement by which seed leaves the farm for somebody else.
LEAVING: Final = ("sold", "transferred")
#: How each is told.
TOLD: Final = {
    "sold": "sold",
    "transferred": "handed over",
    "sown": "sown",
    "sampled": "given as a sample",
}


def list_moves(case: Case) -> Columns:
    """Movements, row for row, with `left`: it is one by which seed left the farm.

    Adds of the lot, this season's or an earlier one's: `lot_variety`, `lot_status`, `packed`, `storage`.
    """
    moves, lots = case.columns("movements"), case.columns("lots")
    lot = lots.find("lot", moves["lot"])
    return moves.adding(
        left=is_of_kind(moves, *LEAVING),
        lot_variety=lots.at("variety", lot),
        lot_status=lots.at("status", lot),
        packed=lots.at("packed", lot),
        storage=lots.at("storage", lot),
    )


def is_of_kind(moves: Columns, *kinds: str) -> Array:
    """For each movement: is it of one of the kinds?"""
    found: Array = np.logical_or.reduce([moves["kind"] == kind for kind in kinds])
    return found


def tell_movement(case: Case, movement: str, *fields: str) -> tuple[Any, ...]:
    """What the first movement of a number says, as plain values; KeyError where none bears it."""
    row = np.array([case.moves.first("movement")[movement]])
    return tuple(case.moves.values(name, row)[0] for name in fields)


def left_lots(case: Case) -> set[str]:
    """The numbers of the lots of which some seed left the farm."""
    return set(case.moves.values("lot", case.moves["left"]))


def tests_of(case: Case, kind: str) -> DataFrame:
    """Tests of one kind of all years, earliest first."""
    frame = case.season.table("tests")
    return frame[frame["kind"] == kind].sort_values("date", kind="stable")
