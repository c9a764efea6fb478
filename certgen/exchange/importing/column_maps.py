"""What the columns of somebody's sheet mean, written down: the map that serves every later month.

A map grows and doesn't break: what an older one leaves out means what it always meant. `?` stands for what
nobody has answered yet.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from certgen.exchange.spreadsheets.rows import child_fields, is_child

if TYPE_CHECKING:
    from certgen.records.tables import Field, Table

#: What stands where an answer is wanted.
OPEN: Final = "?"
IGNORED: Final = "ignore"


class MapError(ValueError):
    """A column map that cannot be used; the message says what to mend."""


@dataclass(frozen=True, slots=True)
class Target:
    """What a column is: a field of the table by its dotted name, and how its cells become the field's values.

    `unit` is what its numbers are in; `words` gives the records' word for the sheet's, `ignore` for one that
    says nothing. `drop_prefix` is taken off and `add_prefix` put before, a number is filled up to `digits`;
    with `ranges` a cell `1-18` means each of the eighteen. `down`: an empty cell means the one above. `join`:
    several columns make one text, with this between them. `cut`: a cell is cut there, and its pieces are
    `fields`; with `entries` it is first cut there into the entries of the list `field`.
    """

    field: str
    unit: str = ""
    words: Mapping[str, str] = dataclasses.field(default_factory=dict)
    drop_prefix: str = ""
    add_prefix: str = ""
    digits: int = 0
    ranges: bool = False
    down: bool = False
    join: str = ""
    cut: str = ""
    fields: tuple[str, ...] = ()
    entries: str = ""

    @property
    def names(self) -> tuple[str, ...]:
        """The fields that the column fills."""
        if not self.fields:
            return (self.field,)
        return tuple(f"{self.field}.1.{name}" for name in self.fields) if self.entries else self.fields


@dataclass(frozen=True, slots=True)
class SheetMap:
    """One sheet's part of a map: its table, `child` when it holds a list inside records (`bagging.checks`),
    the meaning of each heading (None: not taken over), and how its dates are written.

    `constants` hold for every row. `where` names the column without which a row says nothing of this table.
    With `repeats` several rows may tell of one record. `decimal` says what commas in numbers are: `comma` for
    decimals, `thousands`. A sheet whose table
    is `ignore` isn't taken over. `also` are further tables that the same rows fill.
    """

    sheet: str
    table: str
    columns: Mapping[str, Target | None] = dataclasses.field(default_factory=dict)
    child: str = ""
    dates: str = ""
    constants: Mapping[str, str] = dataclasses.field(default_factory=dict)
    where: str = ""
    repeats: bool = False
    decimal: str = ""
    also: tuple[SheetMap, ...] = ()

    @property
    def parts(self) -> tuple[SheetMap, ...]:
        """The map of each table that the sheet fills, itself first."""
        return (replace(self, also=()), *self.also)

    @property
    def open_columns(self) -> frozenset[str]:
        """The headings of which nobody has said anything yet."""
        return frozenset(name for name, one in self.columns.items() if one is not None and one.field == OPEN)

    @property
    def headings(self) -> frozenset[str]:
        """Every heading that it says something of."""
        return frozenset(heading for part in self.parts for heading in part.columns)


def known_fields(table: Table, child: str = "") -> dict[str, Field]:
    """The fields that a column may fill, by dotted name. Raises KeyError where `child` is no list."""
    if child:
        return dict(child_fields(table, child))
    return {column.name: column.field for column in table.columns if not is_child(column)}


def find_field(table: Table, child: str, name: str) -> Field | None:
    """The field of a dotted name, `sources.2.batch` for one of a list of records; None if there is none."""
    known = known_fields(table, child)
    if name in known:
        return known[name]
    parts = name.split(".")
    if child or len(parts) != 3 or not (parts[1].isascii() and parts[1].isdigit() and len(parts[1]) <= 2):
        return None
    listed = next((column for column in table.columns if column.name == parts[0] and is_child(column)), None)
    return listed.field.item.fields.get(parts[2]) if listed is not None and listed.field.item else None


def with_dates(sheet_map: SheetMap, dates: str) -> SheetMap:
    """The map with another order of dates, when one is given."""
    if not dates:
        return sheet_map
    return replace(sheet_map, dates=dates, also=tuple(replace(one, dates=dates) for one in sheet_map.also))
