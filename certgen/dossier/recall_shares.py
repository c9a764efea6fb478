"""How much of a lot is seed of what is called back: at least and at most.

In a lot that holds other seed as well nobody can tell the one from the other. No less of it is called back
than what the rest can't make up, no more than what went in.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from certgen.lineage import Node
from certgen.records.rows import plain_rows

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from certgen.examination import Result
    from certgen.lineage.custody import LotBook


@dataclass(frozen=True, slots=True)
class Span:
    """At least and at most so many milligrams."""

    low_mg: int
    high_mg: int


def bound_shares(result: Result, about: Sequence[Node], lots: Sequence[str]) -> dict[str, Span]:
    """At least and at most how much of each lot, as it was packed, is seed of the records."""
    sure = _Wholes(result, about)
    books, sources = result.case.books, result.case.packed
    parts: dict[str, list[tuple[str | None, str | None, int]]] = {}
    for lot, batch, source, weight in plain_rows(sources, "lot", "batch", "source_lot", "weight_mg"):
        parts.setdefault(lot, []).append((batch, source, int(weight or 0)))
    reached = {batch for node in about for batch in sure.batches_of(node)}
    spans: dict[str, Span] = {}
    named = {node.id for node in about if node.table == "lots"}
    for lot in _in_order(lots, parts):
        packed = books[lot].packed_mg
        if lot in named:
            spans[lot] = Span(packed, packed)
        else:
            spans[lot] = _add_parts(parts.get(lot, ()), packed, spans, books, lots, reached, sure)
    return spans


def _in_order(
    lots: Sequence[str], parts: Mapping[str, Sequence[tuple[str | None, str | None, int]]]
) -> list[str]:
    """Each lot after those that it was blended from; those in a circle as they come."""
    inside = {lot: {source for _, source, _ in parts.get(lot, ()) if source != lot} for lot in lots}
    waiting, found = list(lots), []
    while waiting:
        ready = [lot for lot in waiting if inside[lot].isdisjoint(waiting)] or waiting[:1]
        found += ready
        waiting = [lot for lot in waiting if lot not in ready]
    return found


def _add_parts(
    parts: Sequence[tuple[str | None, str | None, int]],
    packed: int,
    spans: Mapping[str, Span],
    books: Mapping[str, LotBook],
    lots: Sequence[str],
    reached: set[str],
    sure: _Wholes,
) -> Span:
    low = high = 0
    for batch, source, weight in parts:
        if batch is not None:
            low += weight if sure.is_whole("batches", batch) else 0
            high += weight if batch in reached else 0
        elif source is not None and source in spans:
            other = books[source].weight_mg - spans[source].low_mg
            low += max(0, weight - other)
            high += min(weight, spans[source].high_mg)
        elif source in lots:
            # Lots that are said to be of one another: anything is possible.
            high += weight
    # What the sources don't account for may be of it as well, or in the place of it.
    unknown = packed - sum(weight for _, _, weight in parts)
    return Span(max(0, low - max(0, -unknown)), min(packed, high + max(0, unknown)))


class _Wholes:
    """Which records are of what is called back as a whole, back from a run to its pickings and bags."""

    def __init__(self, result: Result, about: Sequence[Node]) -> None:
        self.lineage = result.lineage
        self.about = {(node.table, node.id) for node in about}
        self._known: dict[tuple[str, str], bool] = {}

    def batches_of(self, node: Node) -> list[str]:
        """The runs that rest on a record, itself included."""
        rest = (node, *self.lineage.claim_forward(node))
        return [one.id for one in rest if one.table == "batches"]

    def is_whole(self, table: str, name: str) -> bool:
        """Whether all seed of a record is of what is called back."""
        key = (table, name)
        if key not in self._known:
            self._known[key] = key in self.about
            if not self._known[key] and table in {"batches", "harvests", "bagging"}:
                behind = [
                    link.source
                    for link in self.lineage.sources(Node(table, name))
                    if link.kind in {"processed", "picked", "bagged"}
                ]
                self._known[key] = bool(behind) and all(self.is_whole(one.table, one.id) for one in behind)
        return self._known[key]
