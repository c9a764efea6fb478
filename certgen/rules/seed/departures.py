"""Seed on its way out of the door, and what is known of the lot it came from, in this season or an "
"earlier one."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.records.rows import look_up

if TYPE_CHECKING:
    from pandas import DataFrame

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


def departures(case: Case, *also: str) -> DataFrame:
    """Movements by which seed left the farm (and those of the kinds `also`), in their own rows.

    Adds of the lot, this season's or an earlier one's: `lot_variety`, `lot_status`, `packed`, `storage`.
    """
    lots = case.keyed("lots")
    frame = case.season.table("movements")
    frame = frame.assign(
        lot_variety=look_up(frame["lot"], lots["variety"]),
        lot_status=look_up(frame["lot"], lots["status"]),
        packed=look_up(frame["lot"], lots["packed"]),
        storage=look_up(frame["lot"], lots["storage"]),
    )
    return frame[frame["kind"].isin([*LEAVING, *also])]


def left_lots(case: Case) -> set[str]:
    """The numbers of the lots of which some seed left the farm."""
    frame = case.season.table("movements")
    return set(frame["lot"][frame["kind"].isin(LEAVING)])


def tests_of(case: Case, kind: str) -> DataFrame:
    """Tests of one kind of all years, earliest first."""
    frame = case.season.table("tests")
    return frame[frame["kind"] == kind].sort_values("date", kind="stable")
