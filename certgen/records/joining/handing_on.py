"""Rounds and letters that speak of another season's records, handed on to the season that holds them.

A bag of December is looked at in January, and a leaf of December has its letter then. What a round or a
letter names is looked for in its own season, then in earlier ones (the latest first), then in later ones;
trees and blocks are those of the whole farm.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from certgen.records.frames import objects
from certgen.records.joining.ranges import NameRanges
from certgen.records.joining.rounds import target_of
from certgen.records.stacked_columns import StackedColumns, TakenColumns
from certgen.records.tables import load_tables

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from certgen.records.columns import Columns
    from certgen.records.season import Season

_NAMED: Final = (("bags", "bagging"), ("samples", "screening"), ("harvests", "harvests"))
#: What of a round or letter says whether it speaks of another season's records.
_OF_ROUNDS: Final = ("kind", "bags", "samples", "harvests", "exceptions", "trees", "blocks")
_OF_LETTERS: Final = ("letter", "report", "samples", "exceptions")
#: A list that names nothing: a letter without a list would speak of all that quote it.
_NOTHING: Final = ("",)


def search_order(count: int, at: int) -> list[int]:
    """Where a season looks for a name: in itself, in earlier seasons, in later ones. The latest is 0."""
    return [*range(at, count), *reversed(range(at))]


def hand_on(seasons: Sequence[Season]) -> list[Season]:
    """Each season, this one first, with the rounds and letters of others that speak of its records."""
    if len(seasons) == 1 or not any(
        len(one.columns(name)) for one in seasons for name in ("rounds", "letters")
    ):
        return list(seasons)
    reach = _Reach(seasons)
    return [
        one.with_tables({
            "rounds": _below(one.columns("rounds"), reach.rounds_for(at)),
            "letters": _below(one.columns("letters"), reach.letters_for(at)),
        })
        for at, one in enumerate(seasons)
    ]  # fmt: skip


def _below(own: Columns, others: Iterable[Columns]) -> Columns:
    """A season's own rounds or letters, and those of others below."""
    parts = [part for part in others if len(part)]
    return StackedColumns([own, *parts]) if parts else own


class _Reach:
    """What the rounds and letters of several seasons name, and in which of them it is."""

    def __init__(self, seasons: Sequence[Season]) -> None:
        self._seasons = seasons
        self._ranges: dict[tuple[int, str], NameRanges] = {}
        self._found: dict[tuple[int, str, str], int | None] = {}

    def _others(self, at: int) -> Iterator[int]:
        return (other for other in range(len(self._seasons)) if other != at)

    def _where(self, of: int, table: str, entry: str) -> int | None:
        """The season whose record a name or range of another's round means."""
        key = (of, table, entry)
        if key not in self._found:
            order = search_order(len(self._seasons), of)
            self._found[key] = next((one for one in order if self._names(one, table).expand(entry)), None)
        return self._found[key]

    def _names(self, at: int, table: str) -> NameRanges:
        if (at, table) not in self._ranges:
            self._ranges[at, table] = NameRanges(
                self._seasons[at].columns(table).first(load_tables()[table].key)
            )
        return self._ranges[at, table]

    def _mine(self, at: int, of: int, table: str, entries: Iterable[str]) -> tuple[str, ...]:
        return tuple(entry for entry in entries if self._where(of, table, entry) == at)

    def _excepted(
        self, at: int, of: int, table: str, field: str, exceptions: Iterable[dict[str, Any]]
    ) -> tuple[dict[str, Any], ...]:
        """The exceptions about records of a season, or about trees."""
        found = []
        for one in exceptions:
            about = tuple(
                entry
                for entry in one.get(field, ())
                if self._where(of, table, entry) == at
                or (self._where(of, table, entry) is None and self._where(of, "trees", entry) is not None)
            )
            if about:
                found.append({**one, field: about})
        return tuple(found)

    def rounds_for(self, at: int) -> Iterator[Columns]:
        """Rounds of other seasons that speak of a season's records, with what they name there."""
        for of in self._others(at):
            kept: dict[int, dict[str, Any]] = {}
            for row, *told_of in self._seasons[of].columns("rounds").rows(*_OF_ROUNDS):
                entry = dict(zip(_OF_ROUNDS, told_of, strict=True))
                if entry["kind"] == "storm":
                    # What a storm did to which bag the checks ask of the whole farm.
                    continue
                named = {column: self._mine(at, of, table, entry[column]) for column, table in _NAMED}
                told = self._excepted(at, of, target_of(entry["kind"]), "about", entry["exceptions"])
                if any(named.values()) or told or entry["trees"] or entry["blocks"]:
                    kept[row] = {**named, "exceptions": told}
            yield self._taken(of, "rounds", "round", kept)

    def letters_for(self, at: int) -> Iterator[Columns]:
        """Letters of other seasons on a season's samples, or that those quote."""
        own = self._seasons[at].columns("letters")
        known = {*own.first("letter"), *own.first("report")}
        quoted = set(self._seasons[at].columns("screening").first("report")) - known
        for of in self._others(at):
            kept: dict[int, dict[str, Any]] = {}
            for row, *told_of in self._seasons[of].columns("letters").rows(*_OF_LETTERS):
                entry = dict(zip(_OF_LETTERS, told_of, strict=True))
                samples = self._mine(at, of, "screening", entry["samples"])
                told = self._excepted(at, of, "screening", "samples", entry["exceptions"])
                if samples or told or {entry["letter"], entry["report"]} & quoted:
                    listed = samples or (_NOTHING if entry["samples"] else ())
                    kept[row] = {"samples": listed, "exceptions": told}
            yield self._taken(of, "letters", "", kept)

    def _taken(self, of: int, table: str, key: str, kept: dict[int, dict[str, Any]]) -> Columns:
        """Some rows of a table with other lists, under a name that says whose they are."""
        season = self._seasons[of]
        records = TakenColumns(season.columns(table), np.array(list(kept), dtype="int64"))
        changes = {
            column: objects([one[column] for one in kept.values()])
            for column in next(iter(kept.values()), {})
        }  # fmt: skip
        if key and kept:
            label = season.details.label
            changes[key] = objects([name and f"{name} of {label}" for name in records[key].tolist()])
        return records.adding(**changes)
