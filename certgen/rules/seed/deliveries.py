"""Seed that was handed to others: by which movement, to whom, and what of it has not come back."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Final

from certgen.lineage.custody import fold
from certgen.rules.seed.departures import tell_movement
from certgen.rules.seed.holds import list_handed_out

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from datetime import date

    from certgen.lineage.custody import LotBook
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


class Handed:
    """All seed of some lots that was handed to others, through all years, in the order of each lot's book."""

    def __init__(self, deliveries: Iterable[Delivery]) -> None:
        self.deliveries = tuple(deliveries)
        #: By holder and lot.
        self.by_holder: dict[tuple[str, str], list[Delivery]] = {}
        for one in self.deliveries:
            self.by_holder.setdefault(one.holder, []).append(one)

    @cached_property
    def weighed(self) -> dict[tuple[str, str], tuple[int, int]]:
        """By holder and lot what was handed to them and what of it has not come back, in milligrams."""
        return {
            holder: (sum(one.gross_mg for one in some), sum(one.kept_mg for one in some))
            for holder, some in self.by_holder.items()
        }

    @cached_property
    def keeping(self) -> dict[tuple[str, str], None]:
        """The holders, with the lot, of whose seed not all has come back."""
        return dict.fromkeys(holder for holder, (_, kept) in self.weighed.items() if kept)


def list_handed(case: Case, lots: Sequence[str]) -> Handed:
    """What was handed to others of some lots: looked up once, for there may be many recalls of them."""
    key = tuple(lots)
    if key not in case.handed:
        case.handed[key] = Handed(list_deliveries(case, key))
    return case.handed[key]


def list_deliveries(case: Case, lots: Iterable[str]) -> tuple[Delivery, ...]:
    """All seed of some lots that was handed to others, through all years, in the order of each lot's book."""
    out = list_handed_out(case)
    spelled: dict[str, str] = {}
    found: list[Delivery] = []
    for lot in lots:
        book = case.books.get(lot)
        if book is None:
            continue
        own = []
        for entry in (gone.entry for gone in book.departures):
            if entry.node.table == "movements" and entry.node.id in out:
                named, paper = tell_movement(case, entry.node.id, "party", "document")
                written = named or ""
                party = spelled.setdefault(
                    entry.party, written if fold(written) == entry.party else entry.party
                )
                mass = entry.mass_mg
                own.append(
                    Delivery(entry.node.id, lot, entry.kind, entry.day, party, paper or "", mass, mass)
                )
        found += _take_back(own, book)
    return tuple(found)


def _take_back(deliveries: list[Delivery], book: LotBook) -> list[Delivery]:
    """Without what has come back since: the latest delivery first, as the book has it, in which what came
    back on a day comes before what left on it.

    What the book let leave beyond what there was is in somebody's hands all the same.
    """
    kept = [one.gross_mg for one in deliveries]
    for back in (one for one in book.came if one.kind == "returned"):
        left = back.mass_mg
        for at in reversed(range(len(deliveries))):
            one = deliveries[at]
            if fold(one.party) == back.party and one.day < back.day and one.kind != "sampled":
                taken = min(left, kept[at])
                kept[at] -= taken
                left -= taken
    return [replace(one, kept_mg=mass) for one, mass in zip(deliveries, kept, strict=True)]
