"""Rows of mapped sheets to records, with the cell behind every value known."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from certgen.exchange.importing.cells import CellError, read_cell
from certgen.exchange.importing.dates import DateError, Order, decide_order
from certgen.exchange.spreadsheets.rows import child_fields, owner_heading, season_field, unflatten
from certgen.records.tables import Field, load_tables

if TYPE_CHECKING:
    from certgen.exchange.importing.grids import Cell, Sheet
    from certgen.exchange.importing.headings import SheetMap, Target

Words = Mapping[str, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class CellFault:
    """Something wrong at a cell of a sheet, with the record it would have been."""

    sheet: str
    cell: str
    reason: str
    record: str = ""

    def text(self) -> str:
        """The fault on one line, its place first."""
        place = f"sheet '{self.sheet}', cell {self.cell}" if self.cell else f"sheet '{self.sheet}'"
        return f"{place}: {self.reason}"


@dataclass(slots=True)
class Incoming:
    """A record as it comes in: its table, values nested as in YAML, its first cell, and the cell behind
    each field.
    """

    table: str
    values: dict[str, Any]
    sheet: str
    home: str
    cells: dict[tuple[str | int, ...], tuple[str, str]] = field(default_factory=dict)
    covers: frozenset[str] = frozenset()
    sound: bool = True

    @property
    def key(self) -> str:
        """The record's identifier, or an empty string."""
        name = load_tables()[self.table].key if self.table != "season" else ""
        return str(self.values.get(name, "")) if name else ""

    @property
    def name(self) -> str:
        """What to call the record in a sentence."""
        return f"{self.table} {self.key}".strip()


@dataclass(slots=True)
class Gathered:
    """All records of a file, by table in the order of the rows, and every fault found on the way."""

    records: list[Incoming] = field(default_factory=list)
    faults: list[CellFault] = field(default_factory=list)


def gather(sheets: Sequence[tuple[Sheet, SheetMap]], words: Words) -> Gathered:
    """Records out of mapped sheets: tables first, then the lists inside their records."""
    found = Gathered()
    by_key: dict[tuple[str, str], Incoming] = {}
    for sheet, one in sheets:
        if not one.child:
            _gather_table(sheet, one, words, found, by_key)
    for sheet, one in sheets:
        if one.child:
            _gather_child(sheet, one, words, found, by_key)
    return found


def gather_season(sheet: Sheet) -> Gathered:
    """The `season` mapping out of our own workbook's first sheet: a field and its value in each row."""
    found = Gathered()
    values: dict[str, Any] = {}
    cells: dict[tuple[str | int, ...], tuple[str, str]] = {}
    home = ""
    for row in sheet.rows:
        name_cell, value_cell = row.get(0), row.get(1)
        if name_cell is None or value_cell is None or value_cell.empty:
            continue
        name = str(name_cell.value).strip()
        home = home or name_cell.address
        try:
            values[name] = read_cell(value_cell, season_field(name), None)
        except KeyError:
            found.faults.append(
                CellFault(sheet.name, name_cell.address, f"a season has no field `{name}`", "season")
            )
        except CellError as fault:
            found.faults.append(CellFault(sheet.name, value_cell.address, str(fault), "season"))
        cells[tuple(name.split("."))] = (sheet.name, value_cell.address)
    if values:
        covers = frozenset(name.split(".")[0] for name in values)
        found.records.append(
            Incoming("season", unflatten(values), sheet.name, home, cells, covers, not found.faults)
        )
    return found


def _gather_table(
    sheet: Sheet, one: SheetMap, words: Words, found: Gathered, by_key: dict[tuple[str, str], Incoming]
) -> None:
    table = load_tables()[one.table]
    fields = {column.name: column.field for column in table.columns}
    columns = _mapped(sheet, one, found)
    orders = _orders(sheet, one, columns, fields, found)
    names = list(fields)
    covers = frozenset(target.field.split(".")[0] for target in columns.values())
    needed_lists = [c.name for c in table.columns if c.kind == "list" and c.required and c.name in names]
    for row in sheet.rows:
        if not any(index in columns for index in row):
            continue
        home = row[min(row)].address
        values, cells, sound = _read_row(row, columns, fields, orders, words, (sheet.name, found))
        for name in needed_lists:
            values.setdefault(name, [])
        record = Incoming(one.table, unflatten(values, names), sheet.name, home, cells, covers, sound)
        if record.key and (one.table, record.key) in by_key:
            first = by_key[one.table, record.key]
            reason = (
                f"`{table.key}` {record.key} stands already in cell {first.home} of sheet '{first.sheet}'"
            )
            found.faults.append(CellFault(sheet.name, home, reason, record.name))
            record.sound = first.sound = False
        by_key.setdefault((one.table, record.key), record)
        found.records.append(record)


def _gather_child(
    sheet: Sheet, one: SheetMap, words: Words, found: Gathered, by_key: dict[tuple[str, str], Incoming]
) -> None:
    table = load_tables()[one.table]
    fields = child_fields(table, one.child)
    columns = _mapped(sheet, one, found)
    orders = _orders(sheet, one, columns, fields, found)
    for row in sheet.rows:
        if not any(index in columns for index in row):
            continue
        home = row[min(row)].address
        values, cells, sound = _read_row(row, columns, fields, orders, words, (sheet.name, found))
        key = str(values.pop(owner_heading(table), ""))
        owner = by_key.get((one.table, key)) if key else None
        if owner is None:
            reason = (
                f"no row of sheet '{one.table}' bears `{table.key}` {key}"
                if key
                else f"`{owner_heading(table)}` is missing"
            )
            found.faults.append(CellFault(sheet.name, home, reason, f"{one.table} {key}".strip()))
            continue
        entries = owner.values.setdefault(one.child, [])
        for (name, *_), cell in cells.items():
            owner.cells[one.child, len(entries), name] = cell
        owner.cells[one.child, len(entries)] = (sheet.name, home)
        owner.cells.setdefault((one.child,), (sheet.name, home))
        owner.covers |= {one.child}
        owner.sound = owner.sound and sound
        entries.append({name: values[name] for name in fields if name in values})
    for (name, _), owner in by_key.items():
        if name == one.table:
            owner.covers |= {one.child}


def _mapped(sheet: Sheet, one: SheetMap, found: Gathered) -> dict[int, Target]:
    columns = {}
    for index, cell in sheet.headings.items():
        heading = str(cell.value).strip()
        if heading not in one.columns:
            found.faults.append(
                CellFault(
                    sheet.name,
                    cell.address,
                    f"the map does not say what the column '{heading}' is; add it, or: ignore",
                )
            )
        elif (target := one.columns[heading]) is not None:
            columns[index] = target
    present = {str(cell.value).strip() for cell in sheet.headings.values()}
    for heading, target in one.columns.items():
        if target is not None and heading not in present:
            found.faults.append(
                CellFault(sheet.name, "", f"the map names a column '{heading}' that the sheet has not")
            )
    return columns


def _orders(
    sheet: Sheet, one: SheetMap, columns: Mapping[int, Target], fields: Mapping[str, Field], found: Gathered
) -> dict[int, Order | None]:
    """How each column of dates is written: as told, or as its own dates leave no doubt."""
    orders: dict[int, Order | None] = {}
    for index, target in columns.items():
        if fields[target.field].kind != "date":
            continue
        if one.dates in {"dmy", "mdy"}:
            orders[index] = "dmy" if one.dates == "dmy" else "mdy"
            continue
        texts = [row[index].value for row in sheet.rows if index in row]
        try:
            orders[index] = decide_order(text for text in texts if isinstance(text, str))
        except DateError as fault:
            found.faults.append(CellFault(sheet.name, sheet.headings[index].address, str(fault)))
            orders[index] = None
    return orders


def _read_row(
    row: Mapping[int, Cell],
    columns: Mapping[int, Target],
    fields: Mapping[str, Field],
    orders: Mapping[int, Order | None],
    words: Words,
    report: tuple[str, Gathered],
) -> tuple[dict[str, Any], dict[tuple[str | int, ...], tuple[str, str]], bool]:
    sheet, found = report
    values: dict[str, Any] = {}
    cells: dict[tuple[str | int, ...], tuple[str, str]] = {}
    sound = True
    for index, cell in row.items():
        target = columns.get(index)
        if target is None or cell.empty:
            continue
        one = fields[target.field]
        allowed = words.get(one.words or (one.item.words if one.item else ""), ())
        cells[tuple(target.field.split("."))] = (sheet, cell.address)
        try:
            values[target.field] = read_cell(cell, one, orders.get(index), target.unit, allowed)
        except CellError as fault:
            sound = False
            found.faults.append(CellFault(sheet, cell.address, f"`{target.field}` {fault}"))
    return values, cells, sound
