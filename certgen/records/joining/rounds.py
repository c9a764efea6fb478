"""Rounds and letters: which records each covers, by number, range, tree or block, and what it names.

What they cover are arrays of rows: the same array for those that name the same one after the other, and parts
of one where rows follow one another. Thousands of rounds may each name thousands of bags.
"""

from __future__ import annotations

from functools import cached_property
from itertools import chain
from typing import TYPE_CHECKING, Any, Final, NamedTuple, TypeVar

import numpy as np

from certgen.records.joining.ranges import NameRanges
from certgen.records.tables import load_tables

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
    from datetime import date

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
#: So many answers are kept, for rounds that say the same of the same records.
_KEPT: Final = 32
_Key = TypeVar("_Key")
_Found = TypeVar("_Found")


class Excepted(NamedTuple):
    """Rows, and what a round or letter says of all of them otherwise than of most."""

    rows: Array
    says: Mapping[str, Any]


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
        self._row_at: dict[str, Array] = {}
        self._every = np.zeros(0, dtype="int64")
        #: What was asked for lately, and what it is.
        self._rows: dict[tuple[str, tuple[str, ...]], Array] = {}
        self._trees: dict[tuple[tuple[str, ...], tuple[str, ...]], Array] = {}
        self._tree_of: dict[str, Array] = {}
        self._covered: dict[tuple[object, ...], Array] = {}

    def expand(self, table: str, entry: str) -> tuple[str, ...]:
        """The identifiers of a table that a written name or range means."""
        return self._names(table).expand(entry)

    def count(self, table: str, entry: str) -> int:
        """How many records of a table a written name or range means."""
        return len(self._names(table).find(entry))

    def _names(self, table: str) -> NameRanges:
        if table not in self._ranges:
            row_of = self._season.columns(table).first(load_tables()[table].key)
            known: Mapping[str, object] = self._standing if table == "trees" else row_of
            self._ranges[table] = NameRanges(known)
            self._row_at[table] = np.fromiter((row_of.get(name, -1) for name in known), "int64", len(known))
        return self._ranges[table]

    @cached_property
    def outcomes(self) -> Array:
        """What became of each bag's flower, by its own record."""
        return self._season.columns("bagging")["outcome"]

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

    def rows_of(self, table: str, entries: Iterable[str]) -> Array:
        """The rows of a table that written names and ranges mean, each once."""
        asked = (table, tuple(entries))
        return _keep(self._rows, asked, lambda: self._find_rows(*asked))

    def _find_rows(self, table: str, entries: tuple[str, ...]) -> Array:
        names = self._names(table)
        found = [names.find(entry) for entry in entries]
        rows = self._row_at[table][found[0] if len(found) == 1 else _each_once(found)]
        return self._share(rows[rows >= 0])

    def _share(self, rows: Array) -> Array:
        """The same rows, as a part of one array of all where they follow one another: thousands of rounds,
        each over another range of thousands of bags, then hold no list of their own."""
        if not len(rows) or rows[-1] - rows[0] != len(rows) - 1 or not (np.diff(rows) == 1).all():
            return rows
        if len(self._every) <= rows[-1]:
            self._every = np.arange(max(int(rows[-1]) + 1, 2 * len(self._every)))
        return self._every[rows[0] : rows[-1] + 1]

    def _mark_trees(self, entry: Mapping[str, Any]) -> Array:
        """By place of the trees whether a round names them, singly or by their blocks (`NameRanges.mark`)."""
        named, blocks = tuple(entry["trees"]), tuple(entry["blocks"])
        return _keep(self._trees, (named, blocks), lambda: self._find_trees(named, blocks))

    def _find_trees(self, entries: Iterable[str], blocks: Iterable[str]) -> Array:
        marks = self._names("trees").mark(entries)
        for block in blocks:
            marks[self._trees_by_block.get(block, [])] = True
        return marks

    @cached_property
    def _trees_by_block(self) -> dict[str | None, list[int]]:
        found: dict[str | None, list[int]] = {}
        for place, block in enumerate(self._standing.values()):
            found.setdefault(block, []).append(place)
        return found

    def _tree_places(self, table: str) -> Array:
        """Of each bag or sample where its tree stands among the trees; -1 for one that isn't known."""
        if table not in self._tree_of:
            named = self._season.columns(table)["tree"].tolist()
            self._tree_of[table] = self._names("trees").places(named)
        return self._tree_of[table]

    def named(self, table: str, entry: Mapping[str, Any]) -> Array:
        """The rows of a table that a round or letter names by number or range."""
        return self.rows_of(table, entry[_NAMED_IN[table]])

    def covered(self, table: str, entry: Mapping[str, Any]) -> tuple[str, Array]:
        """The table that a round or letter speaks of, and the rows that it covers: those that it names, and
        those of its trees and blocks on which the work was done that day.
        """
        target = "screening" if table == "letters" else target_of(entry["kind"])
        rows = self.named(target, entry)
        if table == "letters" or target == "harvests" or not (entry["trees"] or entry["blocks"]):
            return target, rows
        trees = self._mark_trees(entry)
        kind, day = entry["kind"], entry["date"]
        asked = (target, kind, day, *(tuple(entry[name]) for name in (_NAMED_IN[target], "trees", "blocks")))
        return target, _keep(
            self._covered,
            asked,
            lambda: self._share(_each_once([rows, self._find_met(target, kind, day, trees)])),
        )

    def _find_met(self, target: str, kind: str, day: date, trees: Array) -> Array:
        """The rows of bags or samples of some trees that a round of a kind meets on a day."""
        met = self._are_met(self._season.columns(target), kind, np.datetime64(day, "s"))
        return np.flatnonzero(met & trees[self._tree_places(target)])

    @staticmethod
    def _are_met(records: Columns, kind: str, day: np.datetime64) -> Array:
        """Which bags or samples a round of a kind meets if it comes to their trees on a day."""
        if kind == "sampling":
            return np.equal(records["collected"], day)
        covered = records["covered"]
        # A bag that was put on that day hangs; for a bagging round it is the ones of that day.
        hung = np.equal(covered, day) if kind == "bagging" else np.less_equal(covered, day)
        return hung & ~(records["uncovered"] < day)

    def exceptions(self, entry: Mapping[str, Any], table: str, rows: Array) -> list[Excepted]:
        """What a round says otherwise of single records; an exception may name their trees."""
        written = entry["exceptions"]
        if len(written) == 1:
            meant = self._find_excepted(written[0]["about"], table, rows)
            return [Excepted(meant, written[0])] if len(meant) else []
        # By field the last exception that tells it of each row: of two the later counts.
        size = len(self._season.columns(table))
        last = {name: np.full(size, -1) for name in dict.fromkeys(chain.from_iterable(written))}
        first = np.full(size, len(written))
        for at, one in enumerate(written):
            meant = self._find_excepted(one["about"], table, rows)
            first[meant] = np.minimum(first[meant], at)
            for name in one:
                last[name][meant] = at
        spoken = np.flatnonzero(first < len(written))
        spoken = spoken[np.argsort(first[spoken], kind="stable")]
        told_by = zip(*(of_row[spoken].tolist() for of_row in last.values()), strict=True)
        together: dict[tuple[int, ...], list[int]] = {}
        for row, by in zip(spoken.tolist(), told_by, strict=True):
            together.setdefault(by, []).append(row)
        return [
            Excepted(
                np.array(told),
                {name: written[at][name] for name, at in zip(last, by, strict=True) if at >= 0},
            )
            for by, told in together.items()
        ]

    def _find_excepted(self, about: Sequence[str], table: str, rows: Array) -> Array:
        """The rows that an exception names, and those of the round's own that are of trees that it names."""
        named = self.rows_of(table, about)
        if table not in {"bagging", "screening"}:
            return named
        trees = self._names("trees").mark(about)
        of_trees = rows[trees[self._tree_places(table)[rows]]] if trees.any() else rows[:0]
        return _each_once([named, of_trees]) if len(of_trees) else named


def _keep(kept: dict[_Key, _Found], asked: _Key, find: Callable[[], _Found]) -> _Found:
    if asked not in kept:
        if len(kept) >= _KEPT:
            kept.clear()
        kept[asked] = find()
    return kept[asked]


def _each_once(lists: Sequence[Array]) -> Array:
    """The rows of several lists, each where it stands first."""
    every = np.concatenate([np.zeros(0, dtype="int64"), *lists])
    rows, first = np.unique(every, return_index=True)
    return rows[np.argsort(first)]


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
    covers: Array | None = None


def list_named(season: Season) -> Iterator[NamedEntry]:
    """Every name or range that the season's rounds, letters and sheets write, exceptions too."""
    members = RoundMembers(season)
    of_samples = (("samples", "screening"),)
    for table, named in (("rounds", NAMED), ("letters", of_samples), ("submissions", of_samples)):
        records, key = season.columns(table), load_tables()[table].key
        for column, target in named:
            for row, identifier, entries in records.rows(key, column, where=records.known(column)):
                for position, text in enumerate(entries):
                    meant = members.count(target, text)
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
        meant = sum(members.count(one, text) for one in (target, *also))
        steps = ("exceptions", place, field_name, position)
        identifier = str(entry["round" if table == "rounds" else "letter"])
        yield NamedEntry(table, row, identifier, steps, text, meant, target, covers)
