"""Lots that are held back while something about them is in question."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Final, NamedTuple

from certgen.lineage import Node
from certgen.lineage.custody import fold
from certgen.records.rows import indexed_rows
from certgen.rules.findings import Finding
from certgen.rules.registry import rule
from certgen.rules.seed.departures import LEAVING, TOLD, departures
from certgen.rules.wording import day

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from certgen.rules.case import Case


#: What a hold may name.
_HELD: Final = ("trees", "bagging", "harvests", "batches", "lots")


class Hold(NamedTuple):
    """What holds a lot from a day (`by`: "incident E1"), to the day before it was released (None: it is held
    still).

    `told` is the day of a release that nothing shows.
    """

    by: str
    first: date
    released: date | None
    told: date | None

    def holds_on(self, when: date) -> bool:
        """Whether the lot was held on a day."""
        return self.first <= when and (self.released is None or when < self.released)


def list_holds(case: Case, *, recalls: bool = True) -> dict[str, list[Hold]]:
    """The holds of each lot. One ends on the day of its release where evidence shows what allowed that.

    An incident that names a tree, a bag, a picking or a run holds the lots that rest on it, and a lot that is
    held holds those it was blended into. A recall holds from the day it was opened to the day it was closed;
    without `recalls` only incidents count.
    """
    incidents, called = case.season.table("incidents"), case.season.table("recalls")
    found: dict[str, list[Hold]] = {}
    for noun, frame, first, last in (
        ("incident", incidents[incidents["held_from"].notna()], "held_from", "released"),
        ("recall", called[recalls & (called["kind"] == "recall")], "opened", "closed"),
    ):
        shown = case.filed(frame["evidence"])
        for row, name, about, held, ended in indexed_rows(frame, noun, "about", first, last):
            by = f"{noun} {name}"
            hold = Hold(by, held, ended, None) if shown[row] else Hold(by, held, None, ended)
            for lot in reach_lots(case, about):
                found.setdefault(lot, []).append(hold)
    return found


def reach_lots(case: Case, about: Iterable[str]) -> tuple[str, ...]:
    """The lots that hold seed of what is named: lots, trees, bags, pickings or runs, through every blend."""
    nodes = [Node(table, one) for one in about for table in _HELD]
    known = [node for node in nodes if node in case.lineage and node not in case.lineage.missing]
    return tuple(dict.fromkeys(lot for node in known for lot in case.lineage.lots_reached(node)))


@rule(
    weight="rejects",
    clauses=("us-nop:205.103(b)(2)", "us-nop:205.201(a)(5)", "eu:2018/848 27"),
    remedy="Tell the buyer and the certifier at once, and ask for the seed back. If the hold had been lifted "
    "before, write the day under `released` (of a recall `closed`) and name what allowed it as evidence.",
)
def sold_while_held(case: Case) -> Iterator[Finding]:
    """Seed left the farm while its lot was held back.

    A hold is the grower's own word that nothing leaves until a question is answered, and a recall is one.
    Seed that left all the same left with the question open.
    """
    holds = list_holds(case)
    frame = departures(case, "sown", "sampled")
    frame = frame[frame["lot"].isin(list(holds))]
    if not len(frame):
        return
    frame = frame[(frame["kind"] != "sampled") | frame["movement"].isin(list(list_handed_out(case)))]
    for row, movement, when, lot, kind in indexed_rows(frame, "movement", "date", "lot", "kind"):
        hold = next((one for one in holds[lot] if one.holds_on(when)), None)
        if hold is not None:
            yield Finding("movements", movement, row, ("date",), _tell(hold, lot, TOLD[kind], when))


def list_handed_out(case: Case) -> frozenset[str]:
    """The movements by which seed came into somebody else's hands: sold, handed over, or given as a sample.

    A sample is given away that goes to somebody who has also bought, or that bears papers of a dispatch. What
    a laboratory that the records name tests, or the operation itself, is none.
    """
    frame = case.season.table("movements")
    left = frame["kind"].isin(LEAVING)
    known = {fold(case.season.details.operation.name)}
    for table in ("tests", "letters", "screening"):
        known |= {fold(one) for one in case.season.table(table)["laboratory"].dropna().unique().tolist()}
    party = frame["party"].fillna("").map(fold)
    papers = frame["status"].notna() | frame["last_certified_operation"].notna()
    given = (frame["kind"] == "sampled") & (papers | party.isin(set(party[left])))
    given &= frame["party"].notna() & ~party.isin(known)
    return frozenset(frame["movement"][left | given].dropna().tolist())


def _tell(hold: Hold, lot: str, left: str, when: date) -> str:
    until = f" to {day(hold.released)}" if hold.released else " on"
    unshown = f"; that it was released on {day(hold.told)} nothing shows" if hold.told else ""
    return (
        f"Seed of lot {lot} was {left} on {day(when)}, and {hold.by} holds the lot from "
        f"{day(hold.first)}{until}{unshown}."
    )
