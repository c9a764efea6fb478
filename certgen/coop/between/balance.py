"""The mass balance of all members together: what passed between them counts once, and must cancel."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from certgen.figures.balance import COLUMNS_IN, COLUMNS_OUT

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from certgen.coop.between.transfers import Transfer
    from certgen.coop.members.facts import MemberSummary


@dataclass(frozen=True, slots=True)
class CombinedBalance:
    """All members' balance of one variety, or of everything (`variety` None), in whole milligrams.

    An empty variety gathers what books move of lots that they hold no record of.

    `columns` adds up the members' own balances, by the column names of `figures.balance`. `sent_mg` and
    `received_mg` are the part of it that members say went from one to another: seed that all agree on
    stands in both. What came into the co-op is `came_mg`, what left it `went_mg`.
    """

    variety: str | None
    columns: Mapping[str, int]
    sent_mg: int
    received_mg: int

    @property
    def title(self) -> str:
        """What the line is about."""
        return "Everything" if self.variety is None else self.variety or "lots without a record"

    @property
    def came_mg(self) -> int:
        """What came in from outside, was packed, or was there: without what members had from members."""
        return sum(self.columns.get(name, 0) for name in COLUMNS_IN) - self.received_mg

    @property
    def went_mg(self) -> int:
        """What left, was used or was lost: without what went to members."""
        return sum(self.columns.get(name, 0) for name in COLUMNS_OUT) - self.sent_mg

    @property
    def closing_mg(self) -> int:
        """What all books together say is in store."""
        return self.columns.get("closing_mg", 0)

    @property
    def difference_mg(self) -> int:
        """What members booked out to members and nobody booked in (below nought: the other way round)."""
        return self.sent_mg - self.received_mg


def combine(summaries: Iterable[MemberSummary], transfers: Sequence[Transfer]) -> tuple[CombinedBalance, ...]:
    """The balance of each variety, and of everything last."""
    columns: dict[str, Counter[str]] = {}
    variety_of: dict[tuple[str, str], str] = {}
    for summary in summaries:
        for variety, line in summary.balance.items():
            columns.setdefault(variety, Counter()).update(line)
        for lot in summary.lots:
            variety_of[summary.member, lot.lot] = lot.variety
    sent: Counter[str] = Counter()
    received: Counter[str] = Counter()
    for transfer in transfers:
        for moves, member, other, total in (
            (transfer.sent, transfer.sender, transfer.receiver, sent),
            (transfer.received, transfer.receiver, transfer.sender, received),
        ):
            for move in moves:
                # Each book keeps a lot under the variety that it knows it by.
                own = variety_of.get((member, move.lot), "")
                total[own or _unnamed(columns, variety_of.get((other, move.lot), ""))] += move.weight_mg
    balances = [
        CombinedBalance(variety, dict(line), sent[variety], received[variety])
        for variety, line in sorted(columns.items())
    ]
    whole: Counter[str] = Counter()
    for line in columns.values():
        whole.update(line)
    # What a member's lot of one variety took from its lot of another is in both columns, and left nobody.
    within = min(whole["blended_from_mg"], whole["blended_into_mg"])
    whole.subtract({"blended_from_mg": within, "blended_into_mg": within})
    return (*balances, CombinedBalance(None, dict(whole), sent.total(), received.total()))


def _unnamed(columns: Mapping[str, Counter[str]], elsewhere: str) -> str:
    """A lot that a book doesn't know stands there without a variety, if anything does."""
    return "" if "" in columns else elsewhere
