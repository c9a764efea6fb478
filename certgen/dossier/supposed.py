"""What would follow if a parent tree turned out positive: the grams that fall, and whom to call.

The same as `certgen trace --suppose tree:NUMBER=positive` works out by examining the whole season anew,
reached by adding the one fault that such a result is; so every tree can be told at once.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from certgen.lineage import Node
from certgen.lineage.standing import RANKS
from certgen.records.rows import plain_values
from certgen.rules.runner import open_trials, settle_with
from certgen.rules.seed.departures import LEAVING

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from certgen.examination import Result
    from certgen.lineage import LotStanding, Standings


@dataclass(frozen=True, slots=True)
class Supposed:
    """The season's lots whose standing would change, as they would be, and the movements by which seed left
    that would be worse than it is now: this season's and earlier ones'."""

    lots: tuple[LotStanding, ...]
    deliveries: tuple[str, ...]


def suppose_positive(result: Result) -> Mapping[str, Supposed]:
    """For each parent tree of the season what a positive result would change; trees that change nothing are
    left out.

    Empty where records could not be read: what those would speak against isn't known.
    """
    case, lineage = result.case, result.lineage
    if result.errors:
        return {}
    trials = open_trials(case)
    sown = set(plain_values(case.season.table("plantings")["origin.lot"]))
    known: dict[tuple[Node, ...], Supposed] = {}
    found = {}
    for tree in dict.fromkeys(plain_values(result.season.table("trees")["tree"])):
        start = Node("trees", str(tree))
        lots = lineage.lots_reached(start)
        if tree not in case.parents or not lots:
            continue
        # Trees whose seed went through the same runs into the same lots fall alike.
        behind = tuple(node for node in lineage.claim_forward(start) if node.table in {"batches", "lots"})
        if behind not in known:
            standings = settle_with(case, start) if sown & set(lots) else trials.judge_with(start)
            known[behind] = _compare(result, standings)
        if known[behind].lots or known[behind].deliveries:
            found[str(tree)] = known[behind]
    return found


def _compare(result: Result, standings: Standings) -> Supposed:
    judged = standings.judge()
    changed = (
        judged[name] for name, before in result.lots.items() if name in judged and judged[name] != before
    )
    return Supposed(tuple(changed), tuple(_list_worse(result, standings)))


def _list_worse(result: Result, standings: Standings) -> Iterator[str]:
    """The movements by which seed left that would be worse than it is."""
    case = result.case
    now = case.standings
    rows, strange = case.keyed("movements")["row_of"], case.strange("movements")
    for lot in standings.lots:
        for gone in case.books[lot].departures:
            movement = gone.entry.node.id
            if gone.entry.kind not in LEAVING or strange[rows[movement]]:
                continue
            then = RANKS[standings.worst_at(lot, gone.stage)]
            if now is not None and then > RANKS[now.worst_at(lot, gone.stage)]:
                yield movement
