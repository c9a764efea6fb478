"""Lots that are held back while something about them is in question."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Final, NamedTuple

from certgen.lineage import Node
from certgen.records.rows import indexed_rows
from certgen.rules.findings import Finding
from certgen.rules.registry import rule
from certgen.rules.seed.departures import TOLD, departures
from certgen.rules.wording import day

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.rules.case import Case


#: What a hold may name.
_HELD: Final = ("trees", "bagging", "harvests", "batches", "lots")


class Hold(NamedTuple):
    """An incident that holds a lot from a day, to the day before it was released (None: it is held still).

    `told` is the day of a release that nothing shows.
    """

    incident: str
    first: date
    released: date | None
    told: date | None

    def holds_on(self, when: date) -> bool:
        """Whether the lot was held on a day."""
        return self.first <= when and (self.released is None or when < self.released)


def list_holds(case: Case) -> dict[str, list[Hold]]:
    """The holds of each lot. One ends on the day of its release where evidence shows what allowed that.

    An incident that names a tree, a bag, a picking or a run holds the lots that rest on it, and a lot that is
    held holds those it was blended into.
    """
    incidents = case.season.table("incidents")
    held = incidents[incidents["held_from"].notna()]
    shown = case.filed(held["evidence"])
    found: dict[str, list[Hold]] = {}
    for row, incident, about, first, last in indexed_rows(held, "incident", "about", "held_from", "released"):
        hold = Hold(incident, first, last, None) if shown[row] else Hold(incident, first, None, last)
        nodes = [Node(table, one) for one in about for table in _HELD]
        reached = (lot for node in nodes for lot in case.lineage.lots_reached(node))
        for lot in dict.fromkeys((*about, *reached)):
            found.setdefault(lot, []).append(hold)
    return found


@rule(
    weight="rejects",
    clauses=("us-nop:205.103(b)(2)", "us-nop:205.201(a)(5)", "eu:2018/848 27"),
    remedy="Tell the buyer and the certifier at once, and ask for the seed back. If the hold had been lifted "
    "before, write the day under `released` and name what allowed it as the incident's evidence.",
)
def sold_while_held(case: Case) -> Iterator[Finding]:
    """Seed left the farm while its lot was held back.

    A hold is the grower's own word that nothing leaves until a question is answered. Seed that left all the
    same left with the question open.
    """
    holds = list_holds(case)
    frame = departures(case, "sown")
    frame = frame[frame["lot"].isin(list(holds))]
    for row, movement, when, lot, kind in indexed_rows(frame, "movement", "date", "lot", "kind"):
        for hold in holds[lot]:
            if hold.holds_on(when):
                yield Finding("movements", movement, row, ("date",), _tell(hold, lot, TOLD[kind], when))


def _tell(hold: Hold, lot: str, left: str, when: date) -> str:
    until = f" to {day(hold.released)}" if hold.released else " on"
    unshown = f"; that it was released on {day(hold.told)} nothing shows" if hold.told else ""
    return (
        f"Seed of lot {lot} was {left} on {day(when)}, and incident {hold.incident} holds the lot from "
        f"{day(hold.first)}{until}{unshown}."
    )
