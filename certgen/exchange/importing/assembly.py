"""Rows of mapped sheets to records, with the cell behind every value known."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from string import ascii_uppercase
from typing import TYPE_CHECKING, Any, NamedTuple

from certgen.exchange.importing.cells import CellError, DateError, Order, decide_order, read_cell
from certgen.exchange.importing.reshaping import reshape
from certgen.exchange.spreadsheets.rows import (
    child_fields,
    owner_heading,
    season_field,
    season_paths,
    unflatten,
    unflatten_season,
)
from certgen.records.tables import Field, Table, load_tables

if TYPE_CHECKING:
    from collections.abc import Sequence

    from certgen.exchange.importing.column_maps import SheetMap, Target
    from certgen.exchange.importing.grids import Cell, Sheet

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
        if ", record " in self.cell:
            return f"{self.sheet}, {self.cell}: {self.reason}"
        place = f"sheet '{self.sheet}', cell {self.cell}" if self.cell else f"sheet '{self.sheet}'"
        return f"{place}: {self.reason}"


@dataclass(slots=True)
class Incoming:
    """A record as it comes in: its table, values nested as in YAML, its first cell, and each field's cell."""

    table: str
    values: dict[str, Any]
    sheet: str
    home: str
    cells: dict[tuple[str | int, ...], tuple[str, str]] = field(default_factory=dict)
    covers: frozenset[str] = frozenset()
    sound: bool = True
    #: The fields whose cells are at fault; a record with any is none that is sound.
    faulty: frozenset[str] = frozenset()
    #: Whether another row bears the same identifier, so that neither can be tried.
    doubled: bool = False

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
    gathering = _Gathering(words)
    parts: list[tuple[Sheet, SheetMap]] = []
    for sheet, sheet_map in sheets:
        reshaped = reshape(sheet, sheet_map)
        parts += reshaped.parts
        for fault in reshaped.faults:
            gathering.found.faults.append(CellFault(sheet.name, fault.cell, fault.reason))
            gathering.refused.add((sheet.name, fault.cell.lstrip(ascii_uppercase)))
    for sheet, sheet_map in parts:
        if not sheet_map.child:
            gathering.add_table(sheet, sheet_map)
    for sheet, sheet_map in parts:
        if sheet_map.child:
            gathering.add_child(sheet, sheet_map)
    return gathering.found


def gather_season(sheet: Sheet) -> Gathered:
    """The `season` mapping out of our own workbook's first sheet: a field and its value in each row."""
    gathered = Gathered()
    values: dict[str, Any] = {}
    where: dict[str, tuple[str, str]] = {}
    home = ""
    for row in sheet.rows:
        name_cell, value_cell = row.get(0), row.get(1)
        if name_cell is None or value_cell is None or value_cell.empty:
            continue
        name = str(name_cell.value).strip()
        home = home or name_cell.address
        try:
            field = season_field(name)
        except KeyError:
            gathered.faults.append(
                CellFault(sheet.name, name_cell.address, f"a season has no field `{name}`", "season")
            )
            continue
        where[name] = (sheet.name, value_cell.address)
        try:
            values[name] = read_cell(value_cell, field, None)
        except CellError as fault:
            gathered.faults.append(CellFault(sheet.name, value_cell.address, str(fault), "season"))
    if values:
        covers = frozenset(name.split(".")[0] for name in values)
        cells = {path: where[name] for name, path in season_paths(where).items()}
        for path, cell in list(cells.items()):
            # What is wrong with one of a list is told at its first row.
            cells.setdefault(path[:2], cell)
        gathered.records.append(
            Incoming("season", unflatten_season(values), sheet.name, home, cells, covers, not gathered.faults)
        )
    return gathered


class _Row(NamedTuple):
    """A row that was read: its first cell, its values and their cells by field, and whether all are sound."""

    home: str
    values: dict[str, Any]
    cells: dict[tuple[str | int, ...], tuple[str, str]]
    faulty: frozenset[str]


class _ColumnReader:
    """Reads the cells of a column, each different text, day and yes once: most stand there many times."""

    def __init__(
        self, target: Target, declared: Field, order: Order | None, words: tuple[str, ...], decimal: str
    ) -> None:
        self.field = target.field
        self.path: tuple[str | int, ...] = tuple(target.field.split("."))
        self._declared = declared
        self._how = (order, target.unit, words, decimal)
        self._known: dict[tuple[type, object, bool], object] = {}

    def read(self, cell: Cell) -> object:
        """What `read_cell` gives. Raises `CellError`."""
        kind = type(cell.value)
        if cell.formula or kind is float:
            # 0.0 and -0.0 are one key, and the same number may be per cent or not.
            return read_cell(cell, self._declared, *self._how)
        key = (kind, cell.value, cell.percent)
        value = self._known.get(key, self)
        if value is self:
            value = self._known[key] = read_cell(cell, self._declared, *self._how)
        return [*value] if isinstance(value, list) else value


class _Gathering:
    """Records on their way out of the sheets, with those that have an identifier at hand."""

    def __init__(self, words: Words) -> None:
        self.words = words
        self.found = Gathered()
        self.by_key: dict[tuple[str, str], Incoming] = {}
        #: Rows with a cell that could not be taken as the map says, by sheet and number.
        self.refused: set[tuple[str, str]] = set()

    def add_table(self, sheet: Sheet, sheet_map: SheetMap) -> None:
        """A record a row."""
        table = load_tables()[sheet_map.table]
        fields = {column.name: column.field for column in table.columns}
        columns = _mapped(sheet, sheet_map, self.found)
        covers = frozenset(target.field.split(".")[0] for target in columns.values())
        needed_lists = [name for name, field in fields.items() if field.kind == "list" and field.required]
        for row in self._read(sheet, sheet_map, columns, fields):
            for name in needed_lists:
                row.values.setdefault(name, [])
            nested = unflatten(row.values, list(fields))
            record = Incoming(
                table.name, nested, sheet.name, row.home, row.cells, covers, not row.faulty, row.faulty
            )
            self._refuse_second(record, table)
            self.by_key.setdefault((table.name, record.key), record)
            self.found.records.append(record)

    def _refuse_second(self, record: Incoming, table: Table) -> None:
        """Of two rows with one identifier neither is taken."""
        first = self.by_key.get((record.table, record.key)) if record.key else None
        if first is not None:
            where = f"cell {first.home} of sheet '{first.sheet}'"
            reason = f"`{table.key}` {record.key} stands already in {where}"
            self.found.faults.append(CellFault(record.sheet, record.home, reason, record.name))
            record.sound = first.sound = False
            record.doubled = first.doubled = True

    def add_child(self, sheet: Sheet, sheet_map: SheetMap) -> None:
        """A row an entry of a list inside a record."""
        table = load_tables()[sheet_map.table]
        child, fields = sheet_map.child, child_fields(table, sheet_map.child)
        columns = _mapped(sheet, sheet_map, self.found)
        for row in self._read(sheet, sheet_map, columns, fields):
            owner = self._find_owner(sheet, table, row)
            if owner is None:
                continue
            entries = owner.values.setdefault(child, [])
            for (name, *_), cell in row.cells.items():
                owner.cells[child, len(entries), name] = cell
            owner.cells[child, len(entries)] = (sheet.name, row.home)
            owner.cells.setdefault((child,), (sheet.name, row.home))
            owner.sound = owner.sound and not row.faulty
            owner.faulty |= {child} if row.faulty else set()
            entries.append({name: row.values[name] for name in fields if name in row.values})
        for (name, _), owner in self.by_key.items():
            if name == table.name:
                owner.covers |= {child}

    def _find_owner(self, sheet: Sheet, table: Table, row: _Row) -> Incoming | None:
        """The record that an entry says it belongs to."""
        heading = owner_heading(table)
        key = str(row.values.pop(heading, ""))
        owner = self.by_key.get((table.name, key)) if key else None
        if owner is None:
            unknown = f"no row of sheet '{table.name}' bears `{table.key}` {key}"
            reason = unknown if key else f"`{heading}` is missing"
            self.found.faults.append(CellFault(sheet.name, row.home, reason, f"{table.name} {key}".strip()))
        return owner

    def _read(
        self, sheet: Sheet, sheet_map: SheetMap, columns: Mapping[int, Target], fields: Mapping[str, Field]
    ) -> Iterator[_Row]:
        """The rows that hold anything in a mapped column."""
        orders = _orders(sheet, sheet_map, columns, fields, self.found)
        readers: dict[int, _ColumnReader] = {}
        for index, target in columns.items():
            declared = fields[target.field]
            words = self.words.get(declared.words or (declared.item.words if declared.item else ""), ())
            readers[index] = _ColumnReader(target, declared, orders.get(index), words, sheet_map.decimal)
        for row in sheet.rows:
            if not columns.keys().isdisjoint(row):
                yield self._read_row(sheet, row, readers)

    def _read_row(self, sheet: Sheet, row: Mapping[int, Cell], readers: Mapping[int, _ColumnReader]) -> _Row:
        home = row[min(row)].address
        # Of a row with a cell that can't be cut nothing is taken.
        refused = (sheet.name, home.lstrip(ascii_uppercase)) in self.refused
        result = _Row(home, {}, {}, frozenset({""} if refused else ()))
        for index, cell in row.items():
            reader = readers.get(index)
            if reader is None or cell.empty:
                continue
            result.cells[reader.path] = (sheet.name, cell.address)
            try:
                result.values[reader.field] = reader.read(cell)
            except CellError as fault:
                result = result._replace(faulty=result.faulty | {str(reader.path[0])})
                self.found.faults.append(CellFault(sheet.name, cell.address, f"`{reader.field}` {fault}"))
        return result


def _mapped(sheet: Sheet, sheet_map: SheetMap, gathered: Gathered) -> dict[int, Target]:
    columns = {}
    for index, cell in sheet.headings.items():
        heading = str(cell.value).strip()
        if heading not in sheet_map.columns:
            gathered.faults.append(
                CellFault(
                    sheet.name,
                    cell.address,
                    f"the map does not say what the column '{heading}' is; add it, or: ignore",
                )
            )
        elif (target := sheet_map.columns[heading]) is not None:
            columns[index] = target
    present = {str(cell.value).strip() for cell in sheet.headings.values()}
    for heading, target in sheet_map.columns.items():
        if target is not None and heading not in present:
            gathered.faults.append(
                CellFault(sheet.name, "", f"the map names a column '{heading}' that the sheet has not")
            )
    return columns


def _orders(
    sheet: Sheet,
    sheet_map: SheetMap,
    columns: Mapping[int, Target],
    fields: Mapping[str, Field],
    gathered: Gathered,
) -> dict[int, Order | None]:
    """How each column of dates is written: as told, or as its own dates leave no doubt."""
    orders: dict[int, Order | None] = {}
    for index, target in columns.items():
        if fields[target.field].kind != "date":
            continue
        if sheet_map.dates in {"dmy", "mdy"}:
            orders[index] = "dmy" if sheet_map.dates == "dmy" else "mdy"
            continue
        texts = [row[index].value for row in sheet.rows if index in row]
        try:
            orders[index] = decide_order(text for text in texts if isinstance(text, str))
        except DateError as fault:
            gathered.faults.append(CellFault(sheet.name, sheet.headings[index].address, str(fault)))
            orders[index] = None
    return orders
