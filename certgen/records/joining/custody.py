"""Submission sheets: what they say of the leaf samples that went with them, from the tree to the bench.

A sheet speaks against a sample that arrived with its seal broken, under another seal, or damaged, whatever
the sample's own record says. It never speaks for one: that leaves arrived in order proves nothing of them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from certgen.records.frames import fill_column
from certgen.records.joining.rounds import RoundMembers
from certgen.records.tables import load_tables

if TYPE_CHECKING:
    from collections.abc import Mapping

    from certgen.records.season import Season

#: What the laboratory may find on receipt that lets a sample prove nothing.
NOT_IN_ORDER: Final = ("seal broken", "damaged")


def is_other_seal(bag: Mapping[str, Any]) -> bool:
    """Whether a bag arrived under another seal than the one that was put on it."""
    left, came = bag.get("seal"), bag.get("seal_on_receipt")
    return bool(came) and _plain(left) != _plain(came)


def _plain(seal: str | None) -> str:
    return "".join((seal or "").split()).casefold()


def condition_of(bag: Mapping[str, Any], whole: str | None) -> str | None:
    """In what condition a bag arrived: its own word goes before that of the sheet, its seal before both."""
    if is_other_seal(bag):
        return "seal broken"
    told: str | None = bag.get("condition")
    return told or whole


def list_broken(season: Season) -> dict[int, str]:
    """The samples that a sheet says weren't in order on receipt, by row, and what was wrong."""
    members, size = RoundMembers(season), len(season.columns("screening"))
    # What was wrong, by its number among `NOT_IN_ORDER` from 1: thousands of sheets may name all samples.
    found = np.zeros(size, dtype="int8")
    for sheet in season.columns("submissions").records():
        whole = sheet["condition"]
        conditions = [condition_of(bag, whole) for bag in sheet["bags"]]
        if not any(one in NOT_IN_ORDER for one in (whole, *conditions)):
            continue
        told, meant = np.zeros(size, dtype="int8"), np.zeros(size, dtype=bool)
        rows = members.rows_of("screening", sheet["samples"])
        told[rows], meant[rows] = _number(whole), True
        for bag, condition in zip(sheet["bags"], conditions, strict=True):
            within = members.rows_of("screening", bag.get("samples") or ())
            # A bag that names no samples holds any of the sheet's.
            if not len(within) and condition in NOT_IN_ORDER and not bag.get("samples"):
                told[meant] = _number(condition)
            told[within], meant[within] = _number(condition), True
        found = np.where(told > 0, told, found)
    return {int(row): NOT_IN_ORDER[found[row] - 1] for row in np.flatnonzero(found)}


def _number(condition: str | None) -> int:
    return NOT_IN_ORDER.index(condition) + 1 if condition in NOT_IN_ORDER else 0


def list_sheets(season: Season) -> tuple[dict[str, str], dict[str, str]]:
    """The sheet on which each leaf sample stands, and the seal of the bag that it went in."""
    members, names = RoundMembers(season), season.columns("screening")["sample"]
    sheets: dict[str, str] = {}
    seals: dict[str, str] = {}
    for sheet in season.columns("submissions").records():
        sent = names[members.rows_of("screening", sheet["samples"])].tolist()
        sheets.update(dict.fromkeys(sent, sheet["submission"]))
        for bag in sheet["bags"]:
            # One bag that names no samples holds the whole sheet.
            alone = sent if len(sheet["bags"]) == 1 else ()
            within = names[members.rows_of("screening", bag.get("samples") or ())].tolist() or alone
            told = ", ".join(part for part in (bag.get("bag"), bag["seal"]) if part)
            seals.update(dict.fromkeys(within, told))
    return sheets, seals


def lay_custody(season: Season) -> Season:
    """The season with what its sheets say against samples written into them."""
    broken = list_broken(season)
    if not broken:
        return season
    samples = season.columns("screening")
    own = samples["condition"].tolist()
    values = [own[row] if own[row] in NOT_IN_ORDER else broken.get(row, own[row]) for row in range(len(own))]
    column = load_tables()["screening"].column("condition")
    return season.with_tables({"screening": fill_column(samples, column, values)})
