"""Rows of mapped sheets to records, with the cell behind every value known.

New and changed records go into the files that hold their table, every other byte left as it was.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, NamedTuple

from certgen.exchange.editing.skeleton import SCHEMA_FOLDER
from certgen.exchange.editing.splicing import can_take, change_records, insert_records
from certgen.exchange.editing.yaml_text import render_fields, render_record, with_days
from certgen.exchange.importing.cells import CellError, DateError, Order, decide_order, read_cell
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
    from pathlib import Path

    from certgen.exchange.importing.grids import Cell, Sheet
    from certgen.exchange.importing.headings import SheetMap, Target
    from certgen.records import Season

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
    for sheet, sheet_map in sheets:
        if not sheet_map.child:
            gathering.add_table(sheet, sheet_map)
    for sheet, sheet_map in sheets:
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
    sound: bool


class _Gathering:
    """Records on their way out of the sheets, with those that have an identifier at hand."""

    def __init__(self, words: Words) -> None:
        self.words = words
        self.found = Gathered()
        self.by_key: dict[tuple[str, str], Incoming] = {}

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
            record = Incoming(table.name, nested, sheet.name, row.home, row.cells, covers, row.sound)
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
            owner.sound = owner.sound and row.sound
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
        for row in sheet.rows:
            if any(index in columns for index in row):
                yield self._read_row(sheet, row, columns, fields, orders)

    def _read_row(
        self,
        sheet: Sheet,
        row: Mapping[int, Cell],
        columns: Mapping[int, Target],
        fields: Mapping[str, Field],
        orders: Mapping[int, Order | None],
    ) -> _Row:
        result = _Row(row[min(row)].address, {}, {}, True)
        for index, cell in row.items():
            target = columns.get(index)
            if target is None or cell.empty:
                continue
            field = fields[target.field]
            allowed = self.words.get(field.words or (field.item.words if field.item else ""), ())
            result.cells[tuple(target.field.split("."))] = (sheet.name, cell.address)
            try:
                value = read_cell(cell, field, orders.get(index), target.unit, allowed)
            except CellError as fault:
                result = result._replace(sound=False)
                self.found.faults.append(CellFault(sheet.name, cell.address, f"`{target.field}` {fault}"))
            else:
                result.values[target.field] = value
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


_BOM = b"\xef\xbb\xbf"


class Change(NamedTuple):
    """A record that is there already, its row, and the fields that are to be other than they are."""

    record: Incoming
    row: int
    fields: dict[str, Any]


class Placed(NamedTuple):
    """The bytes of each file that changes, and the records added and changed, each with its file."""

    contents: dict[str, bytes]
    added: list[tuple[str, str]]
    changed: list[tuple[str, str]]


def place_records(
    folder: Path, season: Season | None, adds: Sequence[Incoming], changes: Sequence[Change]
) -> Placed:
    """The bytes of every file that changes; nothing is written. Raises `SpliceError`."""
    texts = {} if season is None else {name: source.text for name, source in season.sources.items()}
    before = dict(texts)
    changed = [] if season is None else _change(season, texts, changes)
    added = _add(folder, season, texts, adds)
    contents = {
        name: (_BOM if _has_bom(folder, name) else b"") + text.encode()
        for name, text in texts.items()
        if text != before.get(name)
    }
    return Placed(contents, added, changed)


def _add(
    folder: Path, season: Season | None, texts: dict[str, str], adds: Sequence[Incoming]
) -> list[tuple[str, str]]:
    added: list[tuple[str, str]] = []
    groups: dict[str, list[Incoming]] = {}
    for record in adds:
        groups.setdefault(record.table, []).append(record)
    for table, records in groups.items():
        file = "season.yaml" if table == "season" else _home(season, texts, folder, table)
        values = [record.values for record in records]
        if file in texts:
            texts[file] = insert_records(texts[file], file, table, values)
        else:
            texts[file] = _new_file(folder, table, values)
        added += [(record.name, file) for record in records]
    return added


def _change(season: Season, texts: dict[str, str], changes: Sequence[Change]) -> list[tuple[str, str]]:
    by_file: dict[str, list[tuple[str, int | None, Mapping[str, Any]]]] = {}
    changed = []
    for record, row, fields in changes:
        if record.table == "season":
            file = season.details.file
            by_file.setdefault(file, []).append(("season", None, with_days(fields)))
        else:
            file, path = season.place(record.table, row)
            by_file.setdefault(file, []).append((record.table, int(path[1]), fields))
        changed.append((record.name, file))
    for file, wanted in by_file.items():
        texts[file] = change_records(texts[file], file, wanted)
    return changed


def _has_bom(folder: Path, name: str) -> bool:
    path = folder / name
    if not path.is_file():
        return False
    with path.open("rb") as stream:
        return stream.read(3) == _BOM


def _home(season: Season | None, texts: Mapping[str, str], folder: Path, table: str) -> str:
    """The file for a table's new records: where its last ones stand, else one with room, else a new one."""
    files: list[str] = season.tables[table]["file"].tolist() if season is not None else []
    filled = list(dict.fromkeys(files))
    for file in [*reversed(filled), *texts]:
        if can_take(texts[file], file, table):
            return file
    names = [f"{table}.yaml", *(f"{table}-{number}.yaml" for number in range(2, 1000))]
    return next(name for name in names if name not in texts and not (folder / name).exists())


def _new_file(folder: Path, table: str, records: Sequence[Mapping[str, Any]]) -> str:
    schema = folder / SCHEMA_FOLDER / "records.json"
    head = [f"# yaml-language-server: $schema={SCHEMA_FOLDER}/records.json"] if schema.is_file() else []
    if table == "season":
        lines = render_fields(with_days(records[0]), 2)
    else:
        lines = [line for record in records for line in render_record(record, 2)]
    return "\n".join([*head, f"{table}:", *(line.text for line in lines)]) + "\n"
