"""A lot as several JSON outputs describe it: what its grams are worth, where they are, what shows it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from certgen.dossier.custody import tell_custody
from certgen.exchange.interchange.layout import grams

if TYPE_CHECKING:
    from collections.abc import Iterable

    from certgen.dossier.custody import Moved
    from certgen.examination import Result
    from certgen.lineage import LotStanding


def describe_standing(lot: LotStanding) -> dict[str, Any]:
    """The lot's standing and its grams by what they are worth."""
    return {
        "standing": lot.standing,
        "traced_g": grams(lot.traced_mg),
        "unproven_g": grams(lot.unproven_mg),
        "rejected_g": grams(lot.rejected_mg),
        "unaccounted_g": grams(lot.unaccounted_mg),
    }


def describe_custody(result: Result, lot: str) -> dict[str, Any]:
    """Where the lot's grams are: on hand, by count or by the book, and what left to whom."""
    custody = tell_custody(result, lot)
    return {
        "on_hand_g": grams(custody.on_hand_mg),
        "counted": custody.counted,
        "left": _list_moved(custody.left),
        "came": _list_moved(custody.came),
    }


def _list_moved(moved: Iterable[Moved]) -> list[dict[str, Any]]:
    return [{"kind": seed.kind, "party": seed.party, "weight_g": grams(seed.weight_mg)} for seed in moved]


def describe_proof(result: Result, lot: str) -> list[dict[str, Any]]:
    """Each obligation of a lot: its records, how many show it, who says so, and for how many grams."""
    return [
        {
            "obligation": shown.obligation.key,
            "table": shown.obligation.table,
            "records": shown.records,
            "shown": shown.shown,
            "by": dict(shown.by),
            "open": list(shown.open),
            "weight_g": grams(shown.weight_mg),
        }
        for shown in result.proof(lot)
    ]
