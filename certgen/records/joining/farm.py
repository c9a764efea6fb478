"""All the seasons in reach joined into one: a farm doesn't end on the last day of a season.

Each record keeps the place where it stands. A number that a later season gave to another record is told
apart by its season: bag `B-12 (2025)`. Blocks, plantings and trees live on from year to year: one number is
one of them, as the latest season tells it, and what the years tell differently is noted.
"""

from __future__ import annotations

import posixpath
from dataclasses import dataclass, field
from datetime import date
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from certgen.records.columns import Columns
from certgen.records.frames import Tables, objects
from certgen.records.joining.completion import complete_season
from certgen.records.joining.contradictions import differ, shown, tells_otherwise, told_besides
from certgen.records.joining.file_names import spell_as_filed
from certgen.records.joining.folders import gather_files
from certgen.records.joining.handing_on import hand_on, search_order
from certgen.records.joining.placeholders import mask_placeholders
from certgen.records.joining.renaming import (
    FILES_IN_PARTS,
    move_entries,
    move_parts,
    moved_files,
    names_file,
    rename_references,
)  # fmt: skip
from certgen.records.places import file_from, way_between
from certgen.records.rows import is_absent, plain_value
from certgen.records.season import Contradiction, Season, SeasonDetails
from certgen.records.stacked_columns import StackedColumns, TakenColumns
from certgen.records.tables import TABLE_NAMES, load_tables

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    import pandas as pd

    from certgen.records.tables import Column


#: Records that live on from season to season.
LASTING: Final = ("blocks", "plantings", "trees")
#: Of any other record its own day: the same number on the same day in two years is one record, told twice.
_DAYS: Final = {
    "screening": "collected", "bagging": "covered", "harvests": "date", "batches": "date",
    "cleaning": "date", "lots": "packed", "tests": "date", "movements": "date", "inputs": "date",
    "incidents": "date", "rounds": "date", "letters": "reported", "submissions": "date",
    "observations": "date", "recalls": "opened", "visits": "from",
    "materials": "from", "compost": "begun", "scouting": "date", "water_tests": "date",
}  # fmt: skip


class Stretch(NamedTuple):
    """One season's part of the farm: its label (empty for the season itself), details, and path seen from
    it."""

    label: str
    details: SeasonDetails
    path: str


@dataclass(frozen=True, eq=False)
class Farm(Season):
    """A season with all earlier ones in reach, as one season whose own records stand first in each table.

    `stretches` are the seasons, this one first; `first_rows` says by table where each one's rows begin.
    `alone` is this season by itself, completed. `first_told` names by table and number, of records that
    several of the operation's seasons tell, the earliest of those seasons.
    """

    stretches: tuple[Stretch, ...] = ()
    first_rows: Mapping[str, tuple[int, ...]] = field(default_factory=dict)
    alone: Season | None = field(default=None, repr=False)
    first_told: Mapping[str, Mapping[str, int]] = field(default_factory=dict, repr=False)

    def own(self, table: str) -> int:
        """How many rows of a table are this season's own; they stand first."""
        rows = self.first_rows[table]
        return rows[1] if len(rows) > 1 else len(self.columns(table))

    def stretch_of(self, table: str, row: int) -> Stretch:
        """The season that a row stands in."""
        return self.stretches[int(np.searchsorted(self.first_rows[table], row, side="right")) - 1]

    def rows_of(self, table: str, number: int) -> slice:
        """The rows of a table that one of the stretches holds."""
        firsts = [*self.first_rows[table], len(self.columns(table))]
        return slice(firsts[number], firsts[number + 1])

    def labels(self, table: str) -> np.ndarray[Any, Any]:
        """For each row of a table the label of its season, empty for this one."""
        sizes = np.diff([*self.first_rows[table], len(self.columns(table))])
        return np.repeat([stretch.label for stretch in self.stretches], sizes)


def seasons_of(season: Season) -> Iterator[tuple[str, Season]]:
    """The season and those before it, each with a label of its own: empty for this one.

    Ends where the chain comes back to a season it has been through. Two seasons with one label are
    kept apart by a number.
    """
    seen: set[int] = set()
    labels = {""}
    label = ""
    at: Season | None = season
    while at is not None and id(at) not in seen:
        yield label, at
        seen.add(id(at))
        at = at.previous
        if at is not None:
            name = at.details.label or "earlier"
            label, number = name, 2
            while label in labels:
                label, number = f"{name} ({number})", number + 1
            labels.add(label)


def join_seasons(season: Season) -> Farm:
    """The farm: this season's records, completed by rounds and letters, and all earlier seasons' behind."""
    chain = list(_complete(season))
    path, stretches = "", []
    for label, one in chain:
        stretches.append(Stretch(label, one.details, path))
        path = posixpath.normpath(posixpath.join(path or ".", one.details.previous or "."))
    if len(chain) == 1:
        return _farm(chain[0][1], chain[0][1].tables, stretches, dict.fromkeys(TABLE_NAMES, (0,)))
    return _Joining(chain, stretches).join()


def _complete(season: Season) -> Iterator[tuple[str, Season]]:
    """Each season with its label, completed by its own rounds and letters and by those of the others."""
    labels, seasons = zip(
        *((label, mask_placeholders(spell_as_filed(one))) for label, one in seasons_of(season)), strict=True
    )
    for at, (label, one, told) in enumerate(zip(labels, seasons, hand_on(seasons), strict=True)):
        others = [seasons[other] for other in search_order(len(seasons), at)[1:]]
        own = {name: one.columns(name) for name in ("rounds", "letters")}
        yield label, complete_season(told, others).with_tables(own)


def _farm(
    own: Season, tables: Mapping[str, Any], stretches: Sequence[Stretch], rows: Mapping[str, Any], **more: Any
) -> Farm:
    fields = {name: getattr(own, name) for name in Season.__dataclass_fields__}
    whole = {**fields, "tables": tables, **more}
    return Farm(**whole, stretches=tuple(stretches), first_rows=rows, alone=own)


class _Joining:
    def __init__(self, chain: Sequence[tuple[str, Season]], stretches: Sequence[Stretch]) -> None:
        self.seasons = [one for _, one in chain]
        self.stretches = stretches
        #: By season and table: what the farm calls the record that the season's own number names.
        self.names: list[dict[str, dict[str, str]]] = [{} for _ in chain]
        self.kept: list[dict[str, np.ndarray[Any, Any]]] = [{} for _ in chain]
        self.contradicted: list[Contradiction] = []
        self.first_told: dict[str, dict[str, int]] = {}
        #: By season and table the frames into which something was written.
        self.filled: dict[tuple[int, str], pd.DataFrame] = {}
        self._told: dict[tuple[int, str, str], list[Any]] = {}

    def join(self) -> Farm:
        for table in TABLE_NAMES:
            self._name(table)
        tables, first_rows = {}, {}
        for table in TABLE_NAMES:
            sizes = [int(self.kept[number][table].sum()) for number in range(1, len(self.seasons))]
            own = self.seasons[0].columns(table)
            first_rows[table] = (0, *np.cumsum([len(own), *sizes[:-1]]).tolist()) if sizes else (0,)
            parts = [
                self._part(number, table)
                for number, size in enumerate((len(own), *sizes))
                if size or number == 0
            ]
            tables[table] = StackedColumns(parts) if len(parts) > 1 else parts[0]
        return _farm(
            self.seasons[0],
            Tables(tables),
            self.stretches,
            first_rows,
            **gather_files(zip(self.seasons, (stretch.path for stretch in self.stretches), strict=True)),
            attested=self._attested(),
            contradicted=(*self._moved_contradictions(first_rows), *self.contradicted),
            first_told=self.first_told,
        )

    # Which records there are, and what each is called

    def _name(self, table: str) -> None:
        """Settles what the farm calls each season's records, and which of them are told already."""
        key = load_tables()[table].key
        taken: dict[str, tuple[int, int]] = {}
        for number, season in enumerate(self.seasons):
            records = season.columns(table)
            if key:
                keep = self._name_records(table, number, records[key].tolist(), taken)
            else:
                # Explanations speak of one season's gaps.
                keep = np.full(len(records), number == 0)
            self.kept[number][table] = keep

    def _name_records(
        self, table: str, number: int, identifiers: Sequence[str | None], taken: dict[str, tuple[int, int]]
    ) -> np.ndarray[Any, Any]:
        """Which of a season's records aren't told already; what bears its own number is added to `taken`."""
        keep = np.ones(len(identifiers), dtype=bool)
        names = self.names[number][table] = {}
        for row, identifier in enumerate(identifiers):
            # Two of one season with one number: a gap of its own, told by the rule on numbers.
            if identifier is None or identifier in names:
                continue
            later = taken.get(identifier)
            if later is None:
                names[identifier] = identifier
            elif self._is_same(table, later, (number, row)):
                names[identifier] = identifier
                keep[row] = False
                if self._are_one_operation(later[0], number):
                    self.first_told.setdefault(table, {})[identifier] = number
                self._compare(table, later, (number, row))
            else:
                names[identifier] = f"{identifier} ({self.stretches[number].label})"
        for row, identifier in enumerate(identifiers):
            if identifier is not None and keep[row] and names[identifier] == identifier:
                taken.setdefault(identifier, (number, row))
        return keep

    def _is_same(self, table: str, later: tuple[int, int], earlier: tuple[int, int]) -> bool:
        """Whether two seasons' records with one number are one and the same."""
        new, old = ((self.seasons[number].columns(table), row) for number, row in (later, earlier))
        if table == "trees":
            # Another planting's tree took the number over, if the earlier one was removed.
            here, there = (records["planting"][row] for records, row in (new, old))
            return not differ(here, there) or bool(np.isnat(old[0]["removed"][old[1]]))
        if table in LASTING:
            return True
        # What is absent is on no day, and so not on the same.
        here, there = (records[_DAYS[table]][row] for records, row in (new, old))
        return bool(here == there)

    def _compare(self, table: str, later: tuple[int, int], earlier: tuple[int, int]) -> None:
        """Notes what two seasons tell differently of one record; what only the earlier tells is taken
        over."""
        if table == "plantings" and self._tell_other_origins(later, earlier):
            return
        for column in load_tables()[table].columns:
            self._compare_field(table, column, later, earlier)

    def _tell_other_origins(self, later: tuple[int, int], earlier: tuple[int, int]) -> bool:
        """Whether a planting is of own seed in one year and of bought seed in another: one isn't so."""
        told = []
        for number, row in (later, earlier):
            cells = {
                name: self._cells(number, "plantings", name)[row]
                for name in ("origin.lot", "origin.supplier")
            }
            told.append({name: value for name, value in cells.items() if not is_absent(value)})
        new, old = told
        if not new or not old or new.keys() & old.keys():
            return False
        field_name, here = next(iter(new.items()))
        self._contradict("plantings", field_name, later, here, earlier, next(iter(old.values())))
        return True

    def _compare_field(
        self, table: str, column: Column, later: tuple[int, int], earlier: tuple[int, int]
    ) -> None:
        name, (number, row) = column.name, later
        there = self._cells(earlier[0], table, name)[earlier[1]]
        if is_absent(there):
            return
        here = self._cells(number, table, name)[row]
        if is_absent(here):
            if self._is_own(earlier[0]):
                self._take_over(table, column, later, earlier, there)
            return
        since = (table == "blocks" and self._cells(number, table, "organic_since")[row]) or date.min
        if not tells_otherwise(table, column, here, there, since, self.stretches[earlier[0]].details):
            return
        self._contradict(table, name, later, here, earlier, there)
        if (table, name) in FILES_IN_PARTS:
            there = move_entries(self._path(number, earlier[0]), table, name, there)
        if more := told_besides(table, name, here, there):
            self._put(number, table, row, name, (*here, *more))

    def _take_over(
        self, table: str, column: Column, later: tuple[int, int], earlier: tuple[int, int], there: Any
    ) -> None:
        """Writes what only the earlier season tells into the later one's record."""
        name, (number, row) = column.name, later
        for filled in filter(None, (name, column.computed)):
            self._put(number, table, row, filled, self._frame(earlier[0], table)[filled].iat[earlier[1]])
        path = self._path(number, earlier[0])
        if names_file(table, column):
            self._put(number, table, row, name, moved_files(path, there))
        elif (table, name) in FILES_IN_PARTS:
            self._put(number, table, row, name, move_entries(path, table, name, there))

    def _path(self, later: int, earlier: int) -> str:
        """The way from one season's folder to that of one before it."""
        return way_between(self.stretches[later].path, self.stretches[earlier].path)

    def _contradict(
        self,
        table: str,
        field_name: str,
        later: tuple[int, int],
        here: object,
        earlier: tuple[int, int],
        there: object,
    ) -> None:
        """Takes down what the later season says of a field, and what the earlier one does."""
        row, season = self._row(table, *later), f"season {self.stretches[earlier[0]].label}"
        self.contradicted.append(Contradiction(table, row, field_name, shown(here), season, shown(there)))

    def _is_own(self, number: int) -> bool:
        """Whether a season is this operation's: another's says nothing in the place of silence here."""
        return self._are_one_operation(0, number)

    def _are_one_operation(self, one: int, other: int) -> bool:
        return self.stretches[one].details.operation.is_same(self.stretches[other].details.operation)

    def _frame(self, number: int, table: str) -> pd.DataFrame:
        """A season's table, with what was written into it."""
        filled = self.filled.get((number, table))
        return self.seasons[number].table(table) if filled is None else filled

    def _cells(self, number: int, table: str, column: str) -> list[Any]:
        """What a column of a season's table says, with what was taken over so far."""
        place = (number, table, column)
        if place not in self._told:
            self._told[place] = self.seasons[number].columns(table).values(column)
        return self._told[place]

    def _put(self, number: int, table: str, row: int, column: str, value: Any) -> None:
        """Writes into a season's table, of which a copy is made once."""
        if (number, table) not in self.filled:
            self.filled[number, table] = self._frame(number, table).copy()
        _put(self.filled[number, table], row, column, value)
        self._cells(number, table, column)[row] = plain_value(value)

    def _row(self, table: str, number: int, row: int) -> int:
        """The row of the farm's table: kept rows of the seasons before it, then its place among its own."""
        before = sum(int(self.kept[one][table].sum()) for one in range(number))
        kept = self.kept[number].get(table)
        return before + (row if kept is None else int(kept[:row].sum()))

    # The tables

    def _part(self, number: int, table: str) -> Columns:
        filled, path = self.filled.get((number, table)), self.stretches[number].path
        records = self.seasons[number].columns(table) if filled is None else Columns.of(filled)
        if number == 0:
            return records
        records = TakenColumns(records, np.flatnonzero(self.kept[number][table]))
        changes = {"file": objects([file_from(path, file) for file in records["file"].tolist()])}
        for column in load_tables()[table].columns:
            if names_file(table, column):
                named = records[column.name].tolist()
                changes[column.name] = objects([one and moved_files(path, one) for one in named])
        changes.update(rename_references(self.seasons[number], self.names[number:], table, records))
        records = records.adding(**changes)
        return records.adding(**move_parts(path, table, records))

    def _attested(self) -> Mapping[tuple[str, str], Sequence[str]]:
        columns = dict.fromkeys(place for season in self.seasons for place in season.attested)
        found = {}
        for table, column in columns:
            told: list[str] = []
            for number, season in enumerate(self.seasons):
                mine = season.attested.get((table, column)) or [""] * len(season.columns(table))
                told += [
                    one for one, keep in zip(mine, self.kept[number][table].tolist(), strict=True) if keep
                ]
            found[table, column] = told
        return found

    def _moved_contradictions(self, first_rows: Mapping[str, Sequence[int]]) -> Iterator[Contradiction]:
        for number, season in enumerate(self.seasons):
            for one in season.contradicted:
                kept = self.kept[number][one.table]
                if kept[one.row]:
                    row = first_rows[one.table][number] + int(kept[: one.row].sum())
                    yield one._replace(row=row)


def _put(frame: pd.DataFrame, row: int, column: str, value: Any) -> None:
    position = frame.columns.get_loc(column)
    if frame[column].dtype == object:
        values = frame[column].tolist()
        values[row] = value
        frame[column] = objects(values)
    else:
        frame.iloc[row, position] = value  # type: ignore[index]
