"""Rulebooks: what an organic regulation or a seed law asks, clause by clause, and the figures it sets."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

from certgen.standards.reading import FrozenMapping, Section, StandardError, Value, read_data

MARKS = ("read", "partly read", "from memory", "derived")
"""How a clause came into its rulebook: read in a copy, read in part, recalled, or worked out from another."""

DEMAND_MARKS = (*MARKS, "common practice")
"""A figure may also be what certifiers commonly ask although no clause sets it."""


@dataclass(frozen=True, slots=True)
class Clause:
    """One clause: `key` such as `us-nop:205.202(b)`, what it asks in our own words, its source, and how
    it was read.
    """

    key: str
    title: str
    asks: str
    source: str
    mark: str


@dataclass(frozen=True, slots=True)
class DemandKind:
    """A thing that rulebooks can ask for, and which of two answers asks more.

    `stricter` is `higher` or `lower` for figures; `all of` for lists of which everything is asked, so that
    the longer list asks more; `one of` for lists of which one item will do, so that the shorter does; ''
    where there is no order.
    """

    key: str
    title: str
    unit: str
    stricter: str


@dataclass(frozen=True, slots=True)
class Demand:
    """A value that a clause sets: a number in `unit`, true, or a tuple of words.

    `mark` is the clause's own unless the value came another way; `note` bounds its use.
    """

    key: str
    value: Value
    unit: str
    clause: str
    mark: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class Rulebook:
    """A standard that a season can be checked against. A demand that is absent is one that it does not make.

    `benchmark` is true for a yardstick that a grower opts into and that binds no papaya seed by itself.
    """

    key: str
    title: str
    edition: str
    scope: str
    benchmark: bool
    clauses: Mapping[str, Clause]
    demands: Mapping[str, Demand]

    def demand(self, key: str) -> Demand | None:
        """The demand under `key`; None when this rulebook makes none; `StandardError` for a key that
        nobody knows.
        """
        if key not in demand_kinds():
            raise StandardError(f"unknown demand '{key}'; known are {', '.join(demand_kinds())}")
        return self.demands.get(key)

    def clause(self, key: str) -> Clause:
        """The clause with this key; `StandardError` when there is none."""
        try:
            return self.clauses[key]
        except KeyError:
            raise StandardError(f"the rulebook {self.key} has no clause '{key}'") from None


@lru_cache(maxsize=1)
def demand_kinds() -> Mapping[str, DemandKind]:
    """Every demand that a rulebook may make, in the order in which they are compared."""
    kinds = {}
    with read_data("demands") as file:
        for key, entry in file.sections("demands"):
            with entry:
                kinds[key] = DemandKind(
                    key=key,
                    title=entry.text("title"),
                    unit=entry.text("unit", ""),
                    stricter=entry.word("stricter", ("higher", "lower", "all of", "one of", ""), ""),
                )
    return FrozenMapping(kinds)


def parse_rulebook(key: str, file: Section) -> Rulebook:
    """A rulebook out of its data; `StandardError` for an unknown entry, demand or mark, or a demand on
    no clause.
    """
    with file:
        clauses = {}
        for name, entry in file.sections("clauses"):
            with entry:
                clauses[f"{key}:{name}"] = Clause(
                    key=f"{key}:{name}",
                    title=entry.text("title"),
                    asks=entry.text("asks"),
                    source=entry.text("source"),
                    mark=entry.word("mark", MARKS),
                )
        demands = {name: _parse_demand(key, name, entry, clauses) for name, entry in file.sections("demands")}
        return Rulebook(
            key=key,
            title=file.text("title"),
            edition=file.text("edition"),
            scope=file.text("scope"),
            benchmark=file.flag("benchmark", False),
            clauses=FrozenMapping(clauses),
            demands=FrozenMapping(demands),
        )


def _parse_demand(rulebook: str, name: str, entry: Section, clauses: Mapping[str, Clause]) -> Demand:
    kind = demand_kinds().get(name)
    if kind is None:
        raise StandardError(f"{entry.where}: unknown demand; add it to demands.yaml first")
    with entry:
        clause = f"{rulebook}:{entry.text('clause')}"
        if clause not in clauses:
            raise StandardError(f"{entry.where}.clause: the rulebook has no clause '{clause}'")
        value = entry.value("value")
        if value is False:
            raise StandardError(f"{entry.where}.value: leave a demand out instead of saying false")
        if isinstance(value, tuple) != (kind.stricter in ("all of", "one of")):
            raise StandardError(f"{entry.where}.value: a list goes with 'all of' or 'one of' in demands.yaml")
        return Demand(
            key=name,
            value=value,
            unit=kind.unit,
            clause=clause,
            mark=entry.word("mark", DEMAND_MARKS, clauses[clause].mark),
            note=entry.text("note", ""),
        )
