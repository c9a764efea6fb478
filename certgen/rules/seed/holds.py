"""Lots that are held back while something about them is in question."""

from __future__ import annotations

from datetime import date
from operator import itemgetter
from typing import TYPE_CHECKING, Final, NamedTuple

from certgen.lineage import Node
from certgen.lineage.custody import fold
from certgen.records.columns import is_in
from certgen.rules.findings import Finding
from certgen.rules.registry import rule
from certgen.rules.seed.departures import LEAVING, TOLD, is_of_kind
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
    incidents, called = case.columns("incidents"), case.columns("recalls")
    # By what is held, which thousands of records share, the holds with their place among all of them.
    of_lots: dict[tuple[str, ...], list[tuple[int, Hold]]] = {}
    number = 0
    for noun, columns, holding, first, last in (
        ("incident", incidents, incidents.known("held_from"), "held_from", "released"),
        ("recall", called, (called["kind"] == "recall") & recalls, "opened", "closed"),
    ):
        if not holding.any():
            continue
        shown = case.filed(columns["evidence"])
        for row, name, about, held, ended in columns.rows(noun, "about", first, last, where=holding):
            by = f"{noun} {name}"
            hold = Hold(by, held, ended, None) if shown[row] else Hold(by, held, None, ended)
            of_lots.setdefault(tuple(about), []).append((number, hold))
            number += 1
    found: dict[str, list[tuple[int, Hold]]] = {}
    for about, holds in of_lots.items():
        for lot in reach_lots(case, about):
            found[lot] = [*found[lot], *holds] if lot in found else holds
    told: dict[int, list[Hold]] = {}
    for holds in found.values():
        if id(holds) not in told:
            told[id(holds)] = [hold for _, hold in sorted(holds, key=itemgetter(0))]
    return {lot: told[id(holds)] for lot, holds in found.items()}


def reach_lots(case: Case, about: Iterable[str]) -> tuple[str, ...]:
    """The lots that hold seed of what is named: lots, trees, bags, pickings or runs, through every blend."""
    nodes = [Node(table, one) for one in about for table in _HELD]
    known = [node for node in nodes if node in case.lineage and node not in case.lineage.missing]
    return tuple(dict.fromkeys(lot for node in known for lot in case.lineage.lots_reached(node)))


def list_sound_tests(case: Case) -> dict[str, date]:
    """By lot the day of its last test that nothing says was void."""
    tests = case.columns("tests")
    sound = ~is_in(tests["controls"], ("failed", "not run"))
    last: dict[str, date] = {}
    for _, lot, when in tests.rows("lot", "date", where=sound & tests.known("date")):
        last[lot] = max(when, last.get(lot, when))
    return last


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
    if not holds:
        return
    moves, handed = case.moves, list_handed_out(case)
    # Lots that are held together share their holds.
    held: dict[tuple[int, date], Hold | None] = {}
    gone = is_of_kind(moves, *LEAVING, "sown", "sampled") & is_in(moves["lot"], holds)
    for row, movement, when, lot, kind in moves.rows("movement", "date", "lot", "kind", where=gone):
        asked = (id(holds[lot]), when)
        if asked not in held:
            held[asked] = next((one for one in holds[lot] if one.holds_on(when)), None)
        hold = held[asked]
        if hold is not None and (kind != "sampled" or movement in handed):
            yield Finding("movements", movement, row, ("date",), _tell(hold, lot, TOLD[kind], when))


def list_handed_out(case: Case) -> frozenset[str]:
    """The movements by which seed came into somebody else's hands: sold, handed over, or given as a sample.

    A sample is given away that goes to somebody who has also bought, or that bears papers of a dispatch. What
    a laboratory that the records name tests, or the operation itself, is none.
    """
    moves = case.moves
    handed = set(moves.values("movement", moves["left"]))
    given = is_of_kind(moves, "sampled") & moves.known("party")
    if given.any():
        names = {case.season.details.operation.name}
        for table in ("tests", "letters", "screening"):
            names |= set(case.columns(table).first("laboratory"))
        known = set(map(fold, names))
        buyers = {fold(party or "") for party in moves.values("party", moves["left"])}
        papers = moves.known("status") | moves.known("last_certified_operation")
        for row, movement, party in moves.rows("movement", "party", where=given):
            if fold(party) not in known and (papers[row] or fold(party) in buyers):
                handed.add(movement)
    return frozenset(handed - {None})


def _tell(hold: Hold, lot: str, left: str, when: date) -> str:
    until = f" to {day(hold.released)}" if hold.released else " on"
    unshown = f"; that it was released on {day(hold.told)} nothing shows" if hold.told else ""
    return (
        f"Seed of lot {lot} was {left} on {day(when)}, and {hold.by} holds the lot from "
        f"{day(hold.first)}{until}{unshown}."
    )
