"""What passed between two operations, for the other of the two: listed facts, and no records."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from certgen.exchange.interchange.layout import grams
from certgen.records.rows import plain_rows

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from certgen.examination import Result

FORMAT: Final = 1
_OF_MOVEMENT: Final = ("date", "lot", "kind", "weight_g", "status", "document")
#: No grams of the lot as a whole: less one's own they would say what others had.
_OF_LOT: Final = ("variety", "standing")
#: The columns of the table, as `tabulate_transactions` fills them.
COLUMNS: Final = (*_OF_MOVEMENT, *_OF_LOT)


def build_transactions(result: Result, party: str, lots: Sequence[str] = ()) -> dict[str, Any]:
    """The object that `schemas/output/transactions.json` describes: each movement of the season's own that
    names the party, with what its lot comes to. `lots` keeps to some lots, empty to none.
    """
    columns = ("date", "lot", "kind", "weight_mg", "status", "document", "party")
    rows = plain_rows(result.season.table("movements"), *columns)
    return {
        "format": FORMAT,
        "on": result.on.isoformat(),
        "operation": result.season.details.operation.name,
        "season": result.season.details.label,
        "party": party,
        "movements": [
            {
                "date": None if day is None else day.isoformat(),
                "lot": lot,
                "kind": kind,
                "weight_g": None if weight is None else grams(weight),
                "status": status,
                "document": document,
                **_describe_lot(result, lot),
            }
            for day, lot, kind, weight, status, document, who in rows
            if _fold(who) == _fold(party) and (not lots or lot in lots)
        ],
    }


def _describe_lot(result: Result, lot: str) -> dict[str, Any]:
    """What a lot is and comes to; nothing of one that the season doesn't tell of."""
    one = result.lots.get(lot)
    if one is None:
        return dict.fromkeys(_OF_LOT)
    return {"variety": one.variety, "standing": one.standing}


def tabulate_transactions(content: Mapping[str, Any]) -> Iterator[list[Any]]:
    """The movements as rows under `COLUMNS`."""
    for movement in content["movements"]:
        yield ["" if movement[name] is None else movement[name] for name in COLUMNS]


def _fold(name: str | None) -> str:
    return " ".join((name or "").split()).casefold()
