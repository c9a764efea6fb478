"""Seed that was handed to others: by which movement, to whom, and what of it has not come back."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from certgen.lineage.custody import fold
from certgen.records.rows import is_absent
from certgen.rules.seed.holds import list_handed_out

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import date

    from certgen.rules.case import Case

UNNAMED: Final = "a buyer whom the records don't name"


@dataclass(frozen=True, slots=True)
class Delivery:
    """Seed that a movement handed to somebody, in milligrams: what the entry says, and what of it has not
    come back. `party` is as it was first written.
    """

    movement: str
    lot: str
    kind: str
    day: date
    party: str
    document: str
    gross_mg: int
    kept_mg: int

    @property
    def holder(self) -> tuple[str, str]:
        """Who holds it, spelled alike wherever the name stands, and of which lot."""
        return fold(self.party), self.lot


def list_deliveries(case: Case, lots: Iterable[str]) -> tuple[Delivery, ...]:
    """All seed of some lots that was handed to others, through all years."""
    out = list_handed_out(case)
    moves = case.keyed("movements")
    spelled: dict[str, str] = {}
    found = []
    for lot in lots:
        book = case.books.get(lot)
        for gone in book.departures if book is not None else ():
            entry = gone.entry
            if entry.node.table != "movements" or entry.node.id not in out:
                continue
            written = moves["party"].get(entry.node.id)
            party = "" if is_absent(written) else str(written)
            party = spelled.setdefault(entry.party, party if fold(party) == entry.party else entry.party)
            paper = moves["document"].get(entry.node.id)
            found.append(
                Delivery(
                    entry.node.id, lot, entry.kind, entry.day, party,
                    "" if is_absent(paper) else str(paper), entry.mass_mg, sum(gone.parts),
                )
            )  # fmt: skip
    return tuple(found)


def weigh_holders(deliveries: Iterable[Delivery]) -> dict[tuple[str, str], tuple[int, int]]:
    """By holder and lot what was handed to them and what of it has not come back, in milligrams."""
    held: dict[tuple[str, str], tuple[int, int]] = {}
    for one in deliveries:
        gross, kept = held.get(one.holder, (0, 0))
        held[one.holder] = gross + one.gross_mg, kept + one.kept_mg
    return held
