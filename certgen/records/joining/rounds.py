"""Rounds and letters: which records each covers, by number, range, tree or block, and what it names.

Names may be written as a list of numbers and ranges: `B26-0001 to B26-0040`.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from functools import cached_property
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from certgen.records.columns import is_in
from certgen.records.tables import load_tables

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from certgen.records.columns import Array, Columns
    from certgen.records.season import Season

#: The kinds of what a round may name, and the tables of what it names.
NAMED: Final = (
    ("blocks", "blocks"),
    ("trees", "trees"),
    ("bags", "bagging"),
    ("samples", "screening"),
    ("harvests", "harvests"),
)
_NAMED_IN: Final = {table: column for column, table in NAMED}


def target_of(kind: str) -> str:
    """The table that a round of a kind speaks of."""
    return {"sampling": "screening", "picking": "harvests"}.get(kind, "bagging")


class RoundMembers:
    """Which records each round of a season covers, by the rows of their tables.

    Trees stand where the season's register says, or those of `others`, the first that knows them.
    """

    def __init__(self, season: Season, others: Sequence[Season] = ()) -> None:
        self._season = season
        self._others = others
        self._ranges: dict[str, NameRanges] = {}
        #: What was asked for last, and its rows.
        self._asked: tuple[str, tuple[str, ...]] = ("", ())
        self._rows: list[int] = []

    def expand(self, table: str, entry: str) -> tuple[str, ...]:
        """The identifiers of a table that a written name or range means."""
        if table not in self._ranges:
            key = load_tables()[table].key
            known = self._standing if table == "trees" else self._season.columns(table).first(key)
            self._ranges[table] = NameRanges(known)
        return self._ranges[table].expand(entry)

    @cached_property
    def outcomes(self) -> list[str | None]:
        """What became of each bag's flower, by its own record."""
        return self._season.columns("bagging").values("outcome")

    @cached_property
    def _standing(self) -> dict[str, str | None]:
        """The block of each tree."""
        blocks: dict[str, str] = {}
        trees: dict[str, str] = {}
        for one in (self._season, *self._others):
            for known, table, name, where in (
                (blocks, "plantings", "planting", "block"), (trees, "trees", "tree", "planting"),
            ):  # fmt: skip
                records = one.columns(table)
                told = records.known(name) & records.known(where)
                for _, key, value in records.rows(name, where, where=told):
                    known.setdefault(key, value)
        return {tree: blocks.get(planting) for tree, planting in trees.items()}

    def rows_of(self, table: str, entries: Iterable[str]) -> list[int]:
        """The rows of a table that written names and ranges mean."""
        asked = (table, tuple(entries))
        if asked != self._asked:
            names = dict.fromkeys(name for entry in asked[1] for name in self.expand(table, entry))
            row_of = self._season.columns(table).first(load_tables()[table].key)
            self._asked, self._rows = asked, [row_of[name] for name in names if name in row_of]
        return list(self._rows)

    def trees(self, entry: Mapping[str, Any]) -> set[str]:
        """The trees that a round names, singly or by their blocks."""
        named = {name for one in entry["trees"] for name in self.expand("trees", one)}
        blocks = set(entry["blocks"])
        return (
            named | {tree for tree, block in self._standing.items() if block in blocks} if blocks else named
        )

    def named(self, table: str, entry: Mapping[str, Any]) -> list[int]:
        """The rows of a table that a round or letter names by number or range."""
        return self.rows_of(table, entry[_NAMED_IN[table]])

    def covered(self, table: str, entry: Mapping[str, Any]) -> tuple[str, tuple[int, ...]]:
        """The table that a round or letter speaks of, and the rows that it covers: those that it names, and
        those of its trees and blocks on which the work was done that day.
        """
        target = "screening" if table == "letters" else target_of(entry["kind"])
        rows = self.named(target, entry)
        trees = set() if table == "letters" or target == "harvests" else self.trees(entry)
        if trees:
            records = self._season.columns(target)
            met = self._are_met(records, entry["kind"], np.datetime64(entry["date"], "s"))
            rows += np.flatnonzero(met & is_in(records["tree"], trees)).tolist()
        return target, tuple(dict.fromkeys(rows))

    @staticmethod
    def _are_met(records: Columns, kind: str, day: np.datetime64) -> Array:
        """Which bags or samples a round of a kind meets if it comes to their trees on a day."""
        if kind == "sampling":
            return np.equal(records["collected"], day)
        covered = records["covered"]
        # A bag that was put on that day hangs; for a bagging round it is the ones of that day.
        hung = np.equal(covered, day) if kind == "bagging" else np.less_equal(covered, day)
        return hung & ~(records["uncovered"] < day)

    def exceptions(
        self, entry: Mapping[str, Any], table: str, rows: Sequence[int]
    ) -> dict[int, dict[str, Any]]:
        """What a round says otherwise of single records, by row; an exception may name their trees."""
        found: dict[int, dict[str, Any]] = {}
        for exception in entry["exceptions"]:
            about = exception["about"]
            meant = dict.fromkeys(self.rows_of(table, about))
            if table in {"bagging", "screening"}:
                trees = {name for one in about for name in self.expand("trees", one)}
                of = self._season.columns(table)["tree"]
                meant |= dict.fromkeys(row for row in rows if of[row] in trees)
            for row in meant:
                found.setdefault(row, {}).update(exception)
        return found


class NamedEntry(NamedTuple):
    """A name or range that a round or letter writes: where, and which rows of which table it means.

    `covers` are the rows that the whole round or letter speaks of, for an exception that means nothing.
    """

    table: str
    row: int
    identifier: str
    steps: tuple[str | int, ...]
    text: str
    meant: int
    target: str = ""
    covers: tuple[int, ...] = ()


def list_named(season: Season) -> Iterator[NamedEntry]:
    """Every name or range that the season's rounds, letters and sheets write, exceptions too."""
    members = RoundMembers(season)
    of_samples = (("samples", "screening"),)
    for table, named in (("rounds", NAMED), ("letters", of_samples), ("submissions", of_samples)):
        records, key = season.columns(table), load_tables()[table].key
        for column, target in named:
            for row, identifier, entries in records.rows(key, column, where=records.known(column)):
                for position, text in enumerate(entries):
                    meant = len(members.expand(target, text))
                    yield NamedEntry(table, row, identifier, (column, position), text, meant)
        if "exceptions" not in records:
            continue
        excepting = np.flatnonzero(records.known("exceptions"))
        for row, entry in zip(excepting.tolist(), records.records(excepting), strict=True):
            for place, exception in enumerate(entry["exceptions"]):
                yield from _list_exception(members, table, row, entry, place, exception)


def _list_exception(
    members: RoundMembers,
    table: str,
    row: int,
    entry: Mapping[str, Any],
    place: int,
    exception: Mapping[str, Any],
) -> Iterator[NamedEntry]:
    field_name = "about" if table == "rounds" else "samples"
    target, covers = members.covered(table, entry)
    also = ("trees",) if target in {"bagging", "screening"} and table == "rounds" else ()
    for position, text in enumerate(exception.get(field_name, ())):
        meant = sum(len(members.expand(one, text)) for one in (target, *also))
        steps = ("exceptions", place, field_name, position)
        identifier = str(entry["round" if table == "rounds" else "letter"])
        yield NamedEntry(table, row, identifier, steps, text, meant, target, covers)


_RANGE: Final = re.compile(r"^\s*(\S+)\s*(?:\bto\b|\.\.)\s*(\S+)\s*$")
_NUMBERED: Final = re.compile(r"^(.*?)([0-9]+)$")


class NameRanges:
    """The identifiers of one table, to find which of them a written name or range means."""

    def __init__(self, known: Iterable[str]) -> None:
        self._known = dict.fromkeys(known)
        self._numbered: dict[str, list[tuple[int, int, str]]] = {}
        for at, name in enumerate(self._known):
            if found := _NUMBERED.match(name):
                self._numbered.setdefault(found[1], []).append((int(found[2]), at, name))
        for numbers in self._numbered.values():
            numbers.sort()
        #: The entry that was looked up last, and what it meant: hundreds of rounds walk all the bags.
        self._last: tuple[str, tuple[str, ...]] = ("", ())

    def expand(self, entry: str) -> tuple[str, ...]:
        """The identifiers that an entry means, in the order of the records; none if nothing bears the name.

        A range runs over the numbers between its ends, where both have the same letters before the number.
        Numbers written with leading noughts are those of the same length only: 01 to 12 holds no 5, and 01 to
        112 means nothing.
        """
        if entry in self._known:
            return (entry,)
        if entry != self._last[0]:
            self._last = entry, self._expand_range(entry)
        return self._last[1]

    def _expand_range(self, entry: str) -> tuple[str, ...]:
        span = _read_range(entry)
        if span is None:
            return ()
        letters, low, high, size = span
        numbers = self._numbered.get(letters, [])
        within = numbers[bisect_left(numbers, (low,)) : bisect_left(numbers, (high + 1,))]
        meant = sorted((at, name) for _, at, name in within if _is_written(name[len(letters) :], size))
        return tuple(name for _, name in meant)


def _read_range(entry: str) -> tuple[str, int, int, int] | None:
    """A range's letters, its first and last number, and how many digits each has (0: no leading noughts)."""
    ends = _RANGE.match(entry)
    first, last = (_NUMBERED.match(ends[1]), _NUMBERED.match(ends[2])) if ends else (None, None)
    if first is None or last is None or first[1] != last[1]:
        return None
    padded = any(len(end[2]) > 1 and end[2].startswith("0") for end in (first, last))
    if padded and len(first[2]) != len(last[2]):
        return None
    return first[1], int(first[2]), int(last[2]), len(first[2]) if padded else 0


def _is_written(digits: str, size: int) -> bool:
    """Whether a number is written as a range's ends are: to so many places, or (0) without leading
    noughts."""
    return len(digits) == size if size else not digits.startswith("0") or digits == "0"
