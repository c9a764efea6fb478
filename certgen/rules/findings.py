"""What a rule yields, and the gap that becomes of it."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal, NamedTuple

from certgen.lineage import Fault, Node

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from certgen.lineage import Lineage
    from certgen.lineage.faults import Touch
    from certgen.records import Place

Weight = Literal["rejects", "unproven", "advice"]
#: Worst first.
WEIGHTS: Final[tuple[Weight, ...]] = ("rejects", "unproven", "advice")


class Finding(NamedTuple):
    """One record that a rule finds fault with. A tuple, which is made four times as fast as a frozen class.

    `row` is the record's row in its table, `field` the steps to the field (`("tag.date",)`; empty for
    the record as a whole). Left at None, what follows comes from the rule or from the lineage:

    - `weight`: given here it stands; otherwise the rule's own, or `advice` if no lot rests on the record.
    - `cause`: findings of one rule with one cause become one gap, told by the first of them.
    - `reaches`: the records that the fault stands at, when that isn't the record itself. What rests on
      them in the lineage is touched. An empty tuple touches nothing.
    - `supply`: the entry that would mend it, in words that complete "supply …": "a screening result for
      tree 17". Gaps with the same words are mended together. Only for what an entry can mend.
    - `take_out`: batches or lots whose removal from a lot would mend a rejection.
    - `touches`: which grams of a lot are meant, where it stands at the lot or at a movement (see
      `lineage.standing.Touch`).
    - `names`: lots that it names though no grams of theirs rest on it.
    - `place`: for what stands in no record.
    - `headline`: the finding in one line, where neither the message nor the table in `headlines` says it.
    """

    table: str
    id: str
    row: int | None
    field: tuple[str | int, ...] = ()
    message: str = ""
    weight: Weight | None = None
    cause: object = None
    reaches: Sequence[Node] | None = None
    supply: str | None = None
    clauses: tuple[str, ...] | None = None
    remedy: str | None = None
    take_out: tuple[Node, ...] = ()
    touches: Touch = "own"
    names: tuple[str, ...] = ()
    place: Place | None = None
    headline: str = ""


@dataclass(frozen=True, slots=True)
class Explanation:
    """A grower's words beside a gap. They change no standing."""

    reason: str
    by: str
    date: date


@dataclass(frozen=True, slots=True)
class Gap:
    """What is missing or speaks against the claim, once a cause.

    `place` is the first place it stands at, `others` are the rest. `ids` names every record it was
    found at, in the table of the first. `starts` are the records it stands at in the lineage, `lots` the lots
    that rest on them. `row` is the first record's row in the farm's table. `headline` is the gap in one line
    that names the thing. `lineage` is the one it was found in.
    """

    rule: str
    weight: Weight
    table: str
    id: str
    field: tuple[str | int, ...]
    place: Place
    message: str
    remedy: str
    clauses: tuple[str, ...]
    lots: Sequence[str]
    others: tuple[Place, ...] = ()
    explanation: Explanation | None = None
    supply: str | None = None
    ids: tuple[str, ...] = ()
    starts: tuple[Node, ...] = ()
    take_out: tuple[Node, ...] = ()
    touches: Touch = "own"
    row: int | None = None
    headline: str = ""
    lineage: Lineage | None = dataclasses.field(default=None, repr=False, compare=False)

    @property
    def reaches(self) -> tuple[Node, ...]:
        """Everything that rests on the records it stands at, found anew each time."""
        return () if self.lineage is None else self.lineage.claim_forward_of(self.starts)

    @property
    def fault(self) -> Fault:
        """The gap as a lot's standing sees it."""
        supply = self.supply or f"what is missing at {self.table} {self.id} ({self.rule})"
        return Fault(self.weight, self.starts, self.touches, supply, self.take_out)


@dataclass(frozen=True, slots=True)
class Crash:
    """A rule that failed on this season: a fault of certgen, not of the records."""

    rule: str
    error: str
    traceback: str
