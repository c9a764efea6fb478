"""A season's records as read: typed tables, and where each value stands."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from certgen.records.columns import Columns, list_elements
from certgen.records.places import Place, ReadingError
from certgen.records.record_files.locating import Span, locate_in_span
from certgen.records.rows import is_absent
from certgen.records.tables import load_tables

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from datetime import date
    from pathlib import Path

    import pandas as pd

    from certgen.records.record_files.unread import Unread


class Contradiction(NamedTuple):
    """What is said of one record's field in two places: here, and by a round or letter, or in another year.

    `there` names the other place in words (`round R1`, `season 2025`); `row` is the record's. `more` counts
    places beside it that say something else too, where they are too many to tell one by one.
    """

    table: str
    row: int
    field: str
    here: str
    there: str
    says: str
    more: int = 0


@dataclass(frozen=True, slots=True)
class Source:
    """One record file: its text (without a byte order mark), the bytes' SHA-256 and their number."""

    text: str
    sha256: str
    size: int


@dataclass(frozen=True, slots=True)
class Operation:
    """Who the season belongs to, as the certificate names them."""

    name: str
    certificate: str = ""
    certifier: str = ""
    address: str = ""
    responsible: str = ""

    def is_same(self, other: Operation) -> bool:
        """Whether both are one operation: by certificate, or by name where one has no number."""
        if self.certificate and other.certificate:
            return _plain(self.certificate) == _plain(other.certificate)
        return _plain(self.name) == _plain(other.name)


def _plain(text: str) -> str:
    return " ".join(text.split()).casefold()


@dataclass(frozen=True, slots=True)
class SeasonDetails:
    """The `season` mapping. `start` and `end` are its `from` and `to`; `raw` is the mapping as typed."""

    label: str
    start: date
    end: date
    crop: str
    standards: tuple[str, ...]
    operation: Operation
    events_of_concern: tuple[str, ...] = ()
    previous: str = ""
    review_triggers: Mapping[str, str] = field(default_factory=dict)
    practice: Mapping[str, Any] = field(default_factory=dict)
    raw: Mapping[str, Any] = field(default_factory=dict)
    file: str = ""


@dataclass(frozen=True, eq=False)
class Season:
    """Everything read from one season's folder.

    `tables` holds every table of the contract, empty ones too, with all their columns. `left_out`
    lists the records that couldn't be read. `previous` is the season before, read the same way.
    `evidence_files` are the paths below `evidence/`, POSIX, sorted; their bytes are not read here, and
    `empty_evidence` are those without a byte. `unread` is what stands in the folder and couldn't be read.
    `attested` says by table and column, row for row, who says a value that doesn't stand in the record
    itself (`round R1`, `letter L1`, `routine`); an empty text where the record does. `contradicted` lists
    what a round or letter says otherwise than the record (see `records.joining.completion`). `refused` tells
    which files were left unread as files (a link that leads out, letters that aren't UTF-8), and `lost` why
    the season before that is named couldn't be read at all: what no copy of the read files can tell.
    `partial` holds by table what can be read of the records that were left out: it may speak against, and
    shows nothing. `stock_of` are the lots whose movements are all there, where that isn't all lots.
    """

    folder: Path
    details: SeasonDetails
    tables: Mapping[str, pd.DataFrame]
    sources: Mapping[str, Source]
    left_out: tuple[ReadingError, ...] = ()
    previous: Season | None = None
    evidence_files: tuple[str, ...] = ()
    spans: Mapping[tuple[str, str], Sequence[Span]] = field(default_factory=dict, repr=False)
    empty_evidence: tuple[str, ...] = ()
    unread: tuple[Unread, ...] = ()
    attested: Mapping[tuple[str, str], Sequence[str]] = field(default_factory=dict, repr=False)
    contradicted: tuple[Contradiction, ...] = ()
    refused: tuple[ReadingError, ...] = ()
    lost: tuple[ReadingError, ...] = ()
    partial: Mapping[str, pd.DataFrame] = field(default_factory=dict, repr=False)
    stock_of: frozenset[str] = frozenset()

    def table(self, name: str) -> pd.DataFrame:
        """A table of the contract; KeyError for any other name."""
        return self.tables[name]

    def columns(self, name: str) -> Columns:
        """The columns of a table as plain arrays, each made once; KeyError for any other name."""
        found = self._columns.get(name)
        if found is None:
            lazily = getattr(self.tables, "columns", None)
            made = Columns.of(self.tables[name]) if lazily is None else lazily(name)
            found = self._columns[name] = made
        return found

    @cached_property
    def _columns(self) -> dict[str, Columns]:
        return {}

    def elements(self, table: str, column: str) -> Columns:
        """The elements of a list column, one a row: `row` (of the table), `position` (in the list), `id` (the
        record's key) and `value`."""
        found = self._elements.get((table, column))
        if found is None:
            found = list_elements(self.columns(table), column, load_tables()[table].key)
            self._elements[table, column] = found
        return found

    @cached_property
    def _elements(self) -> dict[tuple[str, str], Columns]:
        return {}

    @cached_property
    def counts(self) -> Mapping[str, int]:
        """How many sound records each table holds."""
        return {name: len(self.columns(name)) for name in self.tables}

    def row(self, table: str, identifier: str) -> int | None:
        """The row of a table that bears the identifier (the first, if two do), or None."""
        declared = load_tables().get(table)
        if declared is None or not declared.key:
            return None
        return self.columns(table).first(declared.key).get(identifier)

    @cached_property
    def _exploded(self) -> dict[tuple[str, str], pd.DataFrame]:
        return {}

    def exploded(self, table: str, column: str) -> pd.DataFrame:
        """A list column with one row an element.

        Columns: `row` (of the table), `position` (in the list), `id` (the record's key), `value`.
        """
        found = self._exploded.get((table, column))
        if found is None:
            found = _explode(self.tables[table], column, load_tables()[table].key)
            self._exploded[table, column] = found
        return found

    def place(self, table: str, row: int, *steps: str | int) -> Place:
        """Where a record's field stands. Steps may be dotted: `place("bagging", 3, "tag.date")`."""
        records = self.columns(table)
        path: list[str | int] = [table, int(records["at"][row])]
        for step in steps:
            path.extend(step.split(".") if isinstance(step, str) else [step])
        return Place(str(records["file"][row]), tuple(path))

    def season_place(self, *steps: str | int) -> Place:
        """Where a field of the `season` mapping stands."""
        return Place(self.details.file, ("season", *steps))

    def locate(self, places: Iterable[Place]) -> dict[Place, tuple[int, int]]:
        """Line and column of each place, from 1. A field that isn't there is shown at its record."""
        wanted: dict[tuple[str, str, int], list[Place]] = {}
        found: dict[Place, tuple[int, int]] = {}
        for place in places:
            file, path = place
            if not path[0]:
                # What couldn't be read is known by its line alone.
                line, column = path[1:3]
                found[place] = (int(line), int(column))
                continue
            at = path[1] if len(path) > 1 and isinstance(path[1], int) else 0
            wanted.setdefault((file, str(path[0]), at), []).append(place)
        for (file, table, at), group in wanted.items():
            spans = self.spans.get((file, table), ())
            if at >= len(spans):
                found.update(dict.fromkeys(group, (1, 1)))
                continue
            skip = 1 if table == "season" else 2
            text = self.sources[file].text
            found.update(locate_in_span(text, spans[at], {place: place.path[skip:] for place in group}))
        return found

    def record(self, table: str, identifier: str) -> dict[str, Any] | None:
        """One record as typed, in field order, without absent fields; None if no record bears the name."""
        row = self.row(table, identifier)
        return None if row is None else self.record_at(table, row)

    def record_at(self, table: str, row: int) -> dict[str, Any]:
        """The record of a row as typed: quantities as text, dates as dates, nested mappings nested."""
        records, at = self.columns(table), np.array([row])
        found: dict[str, Any] = {}
        for column in load_tables()[table].columns:
            [value] = records.values(column.name, at)
            if is_absent(value):
                continue
            item = column.field.item
            if column.kind == "list" and item is not None and item.kind == "mapping":
                # Without what was converted beside it.
                value = tuple(
                    {key: part for key, part in entry.items() if key in item.fields} for entry in value
                )
            target = found
            for step in column.path[:-1]:
                target = target.setdefault(step, {})
            target[column.path[-1]] = value
        return found

    def with_tables(self, changed: Mapping[str, pd.DataFrame | Columns]) -> Season:
        """The same season with some tables replaced, for 'what if' questions. Places stay the rows'."""
        from dataclasses import replace

        from certgen.records.frames import as_tables

        return replace(self, tables=as_tables(self.tables).replacing(changed))


def _explode(frame: pd.DataFrame, column: str, key: str) -> pd.DataFrame:
    import pandas as pd

    lists = frame[column].tolist()
    lengths = np.fromiter((len(part) for part in lists), dtype="int64", count=len(lists))
    row = np.repeat(np.arange(len(lists)), lengths)
    values = [value for part in lists for value in part]
    position = np.arange(len(values)) - np.repeat(np.cumsum(lengths) - lengths, lengths)
    texts = all(isinstance(value, str) for value in values)
    content: Any
    if texts:
        content = pd.Series(values, dtype="str")
    else:
        content = np.empty(len(values), dtype=object)
        content[:] = values
    identifiers = (
        frame[key].iloc[row].reset_index(drop=True) if key else pd.Series([None] * len(values), dtype="str")
    )
    return pd.DataFrame({"row": row, "position": position, "id": identifiers, "value": content})


def digest(data: bytes) -> str:
    """SHA-256 of a file's bytes, in hexadecimal."""
    return hashlib.sha256(data).hexdigest()
