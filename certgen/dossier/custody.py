"""Where a lot's grams are, in words people use: traced so much, on hand so much, so much to whom."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from certgen.records.quantities import format_mass
from certgen.rules.seed.departures import TOLD
from certgen.rules.wording import day, join

if TYPE_CHECKING:
    from datetime import date

    from certgen.examination import Result
    from certgen.lineage import LotStanding
    from certgen.lineage.custody import Entry

#: How each kind of departure is told, beside those by which seed leaves the farm.
_TOLD: Final = {
    **TOLD,
    "sampled": "sampled",
    "retained": "kept as a file sample",
    "discarded": "discarded",
    "downgraded": "downgraded",
    "blended into": "blended",
}
#: How seed that came in after packing is told.
_CAME: Final = {"returned": "came back", "received": "was taken in"}


@dataclass(frozen=True, slots=True)
class Moved:
    """Seed that left a lot, or came in: how, to or from whom or what, and how much in all, in milligrams."""

    kind: str
    party: str
    weight_mg: int


@dataclass(frozen=True, slots=True)
class Custody:
    """Where a lot's grams are. `on_hand_mg` was counted on the day `counted`, if nothing has moved since."""

    lot: str
    on_hand_mg: int
    counted: date | None
    left: tuple[Moved, ...]
    came: tuple[Moved, ...]

    def text(self) -> str:
        """ "on hand 40.7 g, counted on 20 November 2026; sold 25 g to Ash Farm"."""
        there = f"on hand {format_mass(self.on_hand_mg)}"
        there += f", counted on {day(self.counted)}" if self.counted else " by the book"
        back = [
            f"{format_mass(seed.weight_mg)} {_CAME[seed.kind]}{f' from {seed.party}' if seed.party else ''}"
            for seed in self.came
        ]
        return "; ".join([there, *(_say(seed) for seed in self.left), *back])


def _say(left: Moved) -> str:
    to = "into" if left.kind == "blended into" else "for" if left.kind == "sown" else "to"
    return f"{_TOLD[left.kind]} {format_mass(left.weight_mg)}{f' {to} {left.party}' if left.party else ''}"


def tell_custody(result: Result, lot: str) -> Custody:
    """Where the lot's grams are; KeyError for a lot without a record."""
    book = result.books[lot]
    moves = result.case.columns("movements")
    rows, parties = moves.first("movement"), moves["party"]

    def named(entry: Entry) -> str:
        row = rows.get(entry.node.id)
        return "" if row is None else parties[row] or ""

    together: dict[tuple[str, str], int] = {}
    for gone in book.departures:
        entry = gone.entry
        party = "" if entry.node.table == "lots" else named(entry)
        if entry.kind == "blended into":
            party = f"lot {entry.node.id}"
        elif entry.kind == "sown":
            party = f"planting {entry.planting}" if entry.planting else ""
        elif entry.kind not in {"sold", "transferred"}:
            party = ""
        key = (entry.kind, party)
        together[key] = together.get(key, 0) + entry.mass_mg
    left = tuple(Moved(kind, party, mass) for (kind, party), mass in together.items())
    back: dict[tuple[str, str], int] = {}
    for entry in book.came:
        key = (entry.kind, named(entry))
        back[key] = back.get(key, 0) + entry.mass_mg
    came = tuple(Moved(kind, party, mass) for (kind, party), mass in back.items())
    return Custody(lot, book.on_hand_mg, book.counted, left, came)


def split_standing(lot: LotStanding) -> tuple[tuple[int, str], ...]:
    """A lot's grams by what they are worth, those that there are, in milligrams."""
    masses = (
        (lot.traced_mg, "traced"),
        (lot.unproven_mg, "unproven"),
        (lot.rejected_mg, "rejected"),
        (lot.unaccounted_mg, "unaccounted"),
    )
    return tuple((mass, word) for mass, word in masses if mass)


def say_standing(lot: LotStanding) -> str:
    """How a lot's grams divide, if they do: "98.4 g traced and 2.5 g unaccounted"."""
    parts = split_standing(lot)
    return join(f"{format_mass(mass)} {word}" for mass, word in parts) if len(parts) > 1 else ""
