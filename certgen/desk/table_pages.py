"""Tables: every table as a grid, in which cells are changed and rows pasted, each tried before it is kept."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from certgen.desk.answering import RefusedError, address, find_table, hand, say_shown
from certgen.desk.field_words import label_column, say_fields
from certgen.desk.form_fields import Words, read_text, show_value
from certgen.desk.form_reading import find_unknown
from certgen.desk.saving import Addition, Mending, Outcome, next_number, save, try_out
from certgen.exchange.importing.cells import CellError
from certgen.exchange.spreadsheets.rows import is_child, unflatten
from certgen.lineage import Node
from certgen.records.rows import entered_values, plain_values
from certgen.records.tables import load_tables
from certgen.report.drawings.tree_places import natural

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from starlette.responses import Response

    from certgen.desk.answering import Ask, Desk
    from certgen.desk.held_season import Snapshot
    from certgen.records import Season
    from certgen.records.tables import Column, Table

#: Rows on a page: a browser on a phone scrolls through as many without a halt.
_ROWS: Final = 200
#: Cells that one paste may change.
_CELLS: Final = 20_000


@dataclass(frozen=True, slots=True)
class GridRow:
    """A record as a row: its number, the text of each column, what a round, a letter or the routine says
    there in its stead (with its name), and the numbers of what is found at it.
    """

    name: str
    cells: tuple[str, ...]
    said: tuple[tuple[str, str], ...]
    findings: tuple[int, ...]

    def text(self, at: int) -> str:
        """What stands in a column, whoever says it."""
        return self.cells[at] or self.said[at][0]


def show_tables(desk: Desk, ask: Ask) -> Response:
    """Every table with how many records it holds."""
    snapshot = desk.held.look()
    return desk.show(
        "tables",
        snapshot,
        page="tables",
        tables=load_tables().values(),
        held=snapshot.season.counts,
        said=ask.query,
    )


def show_grid(desk: Desk, ask: Ask) -> Response:
    """One table, its rows chosen by words and put in order by a column."""
    snapshot, table = desk.held.look(), load_tables()[find_table(ask)]
    words, sort = ask.query.get("words", "").strip(), ask.query.get("sort", "")
    is_full = ask.query.get("columns") == "all"
    columns, rows = _list_rows(snapshot, table, is_full=is_full)
    found = _order(columns, [row for row in rows if _holds(row, words.casefold())], sort)
    start = _read_start(ask, len(found))
    query = {"words": words, "sort": sort, "columns": "all" if is_full else ""}
    link = _Links(table.name, {name: text for name, text in query.items() if text})
    stop = min(start + _ROWS, len(found))
    return desk.show(
        "grid",
        snapshot,
        page="tables",
        table=table,
        columns=[(column, _say_kind(column, table), label_column(column)) for column in columns],
        rows=found[start:stop],
        total=len(found),
        files=dict.fromkeys(snapshot.season.tables[table.name]["file"].tolist()),
        has_said=any(text for row in found for text, _ in row.said),
        shown=say_shown(start, stop, len(found)),
        earlier=link(from_=start - _ROWS) if start else "",
        later=link(from_=stop) if stop < len(found) else "",
        words=words,
        sort=sort,
        is_full=is_full,
        link=link,
        said=ask.query,
        next_number=next_number(snapshot.season, table.name),
    )


def _holds(row: GridRow, words: str) -> bool:
    return words in "\n".join(map(row.text, range(len(row.cells)))).casefold()


def _order(columns: Sequence[Column], rows: list[GridRow], sort: str) -> list[GridRow]:
    """The rows by a column, from its end where its name follows a minus; as they are for any other name."""
    names = [column.name for column in columns]
    name = sort.removeprefix("-")
    if name not in names:
        return rows
    at = names.index(name)
    return sorted(rows, key=lambda row: natural(row.text(at)), reverse=sort.startswith("-"))


def _read_start(ask: Ask, total: int) -> int:
    typed = ask.query.get("from", "0")
    start = int(typed) if typed.isdecimal() and len(typed) < 9 else 0
    return min(start, max(0, total - 1)) // _ROWS * _ROWS


@dataclass(frozen=True, slots=True)
class _Links:
    """Addresses of the same grid, one thing of it changed."""

    table: str
    query: Mapping[str, str]

    def __call__(self, **changed: object) -> str:
        told = {**self.query, **{name.rstrip("_"): str(text) for name, text in changed.items()}}
        return address("tables", self.table, **{name: text for name, text in told.items() if text})


def _list_rows(
    snapshot: Snapshot, table: Table, *, is_full: bool
) -> tuple[tuple[Column, ...], list[GridRow]]:
    """The records as rows, and the columns that any of them needs or fills; all of them if `is_full`."""
    frame = snapshot.season.tables[table.name]
    texts = {
        column.name: [show_value(_plain(column, value)) for value in entered_values(frame[column.name])]
        for column in table.columns
    }
    said = {column.name: _list_said(snapshot, table, column, texts[column.name]) for column in table.columns}

    def is_shown(column: Column) -> bool:
        return is_full or column.required or any(texts[column.name]) or any(map(any, said[column.name]))

    shown = tuple(filter(is_shown, table.columns))
    keys = texts[table.key] if table.key else [""] * len(frame)
    by_record = snapshot.result.numbers_by_record
    cells = zip(*(texts[column.name] for column in shown), strict=True)
    others = zip(*(said[column.name] for column in shown), strict=True)
    return shown, [
        GridRow(key, row, other, by_record.get(Node(table.name, key), ()))
        for key, row, other in zip(keys, cells, others, strict=True)
    ]


def _list_said(
    snapshot: Snapshot, table: Table, column: Column, texts: Sequence[str]
) -> list[tuple[str, str]]:
    """For each row what something else says of it where it says nothing itself, and what that is."""
    who = snapshot.result.season.attested.get((table.name, column.name), ())
    if not any(who):
        return [("", "")] * len(texts)
    whole = plain_values(snapshot.result.season.tables[table.name][column.name])
    return [
        (show_value(value), name) if name and not text else ("", "")
        for text, name, value in zip(texts, who, whole, strict=True)
    ]


def _plain(column: Column, value: Any) -> Any:
    """A list of entries without what was computed beside them."""
    if value is None or not is_child(column) or column.field.item is None:
        return value
    known = column.field.item.fields
    return tuple({name: part for name, part in entry.items() if name in known} for entry in value)


def _say_kind(column: Column, table: Table) -> str:
    """How a cell of a column is changed: `text`, `date`, or not in the grid (`fixed`)."""
    if column.name == table.key or is_child(column) or not table.key:
        return "fixed"
    return "date" if column.kind == "date" else "text"


def send_cells(desk: Desk, ask: Ask) -> Response:
    """Changes cells and adds rows, all or none; a script asks, and shows each fault at its cell.

    The JSON holds `cells`, each with `name`, `column`, `was` and `now`, and `rows`, each a mapping of
    columns to texts; with `try` nothing is written.
    """
    snapshot, table = desk.held.look(), load_tables()[find_table(ask)]
    cells, rows = _read_cells(ask.data, table)
    reading = _CellReading(table, snapshot)
    for cell in cells:
        reading.take_cell(cell)
    for at, row in enumerate(rows):
        reading.take_row(at, row)
    changes: list[Addition | Mending] = [*reading.mendings(), *reading.additions]
    outcome = Outcome()
    if changes:
        # With a cell that can't be read nothing is written, and what else is wrong is told too.
        only = reading.faults or ask.data.get("try")
        outcome = try_out(snapshot, changes) if only else save(desk.held, changes)
    faults = [*reading.faults, *reading.lead_back(outcome)]
    told = {
        "faults": [{**fault, "says": say_fields(fault["says"], table.name)} for fault in faults],
        "conflicts": [one._asdict() for one in outcome.conflicts],
        "done": outcome.done,
        "change": outcome.change,
        "hints": reading.hints(snapshot.season),
        "version": desk.held.look().version,
    }
    return hand(told, 409 if outcome.conflicts else 422 if faults else 200)


def _where(fault: Mapping[str, Any]) -> tuple[Any, Any, Any]:
    return fault.get("row"), fault.get("name"), fault.get("column")


def _read_cells(data: Any, table: Table) -> tuple[list[dict[str, str]], list[dict[str, str]]]:
    """The cells and rows that a script sent, held to their form. Raises `RefusedError`."""
    if not isinstance(data, dict):
        raise RefusedError("The browser sent something that is no table of the desk's.", 400)
    cells, rows = data.get("cells", []), data.get("rows", [])
    if not isinstance(cells, list) or not isinstance(rows, list) or len(cells) + len(rows) > _CELLS:
        raise RefusedError("That is more than one paste can hold; paste it in parts.", 413)
    if not all(_is_cell(cell, table) for cell in cells) or not all(_is_row(row, table) for row in rows):
        raise RefusedError("The browser sent cells that the table hasn't.", 400)
    return cells, rows


def _is_cell(cell: Any, table: Table) -> bool:
    names = {column.name for column in table.columns if _say_kind(column, table) != "fixed"}
    return (
        isinstance(cell, dict)
        and all(isinstance(cell.get(name), str) for name in ("name", "column", "was", "now"))
        and cell["column"] in names
    )


def _is_row(row: Any, table: Table) -> bool:
    names = {column.name for column in table.columns if not is_child(column)}
    return isinstance(row, dict) and all(
        name in names and isinstance(text, str) for name, text in row.items()
    )


class _CellReading:
    """Cells and rows on their way to changes of records, with the fault of each that is none."""

    def __init__(self, table: Table, snapshot: Snapshot) -> None:
        self._table = table
        self._words: Words = snapshot.result.profile.words
        self._now: dict[str, dict[str, Any]] = {}
        self._was: dict[str, dict[str, str]] = {}
        self.additions: list[Addition] = []
        self._row_of: list[int] = []
        self.faults: list[dict[str, Any]] = []

    def take_cell(self, cell: Mapping[str, str]) -> None:
        """One cell of a record that is there."""
        name, column = cell["name"], cell["column"]
        try:
            value = self._read(column, cell["now"])
        except CellError as fault:
            self.faults.append({"name": name, "column": column, "says": f"{fault}."})
            return
        self._now.setdefault(name, {})[column] = value
        self._was.setdefault(name, {})[column] = cell["was"]

    def take_row(self, at: int, row: Mapping[str, str]) -> None:
        """One new record."""
        values = {}
        for column, text in row.items():
            try:
                value = self._read(column, text)
            except CellError as fault:
                self.faults.append({"row": at, "column": column, "says": f"{fault}."})
                continue
            if value is not None:
                values[column] = value
        if values:
            order = [column.name for column in self._table.columns]
            self.additions.append(Addition(self._table.name, unflatten(values, order)))
            self._row_of.append(at)

    def _read(self, column: str, text: str) -> Any:
        text = text.strip()
        return read_text(self._table.column(column).field, text, "", self._words) if text else None

    def mendings(self) -> list[Mending]:
        """One change for each record, whatever number of its cells was typed in."""
        return [Mending(self._table.name, name, now, self._was[name]) for name, now in self._now.items()]

    def lead_back(self, outcome: Outcome) -> list[dict[str, Any]]:
        """What saving objects to, at the cell it means."""
        names, known = list(self._now), {_where(fault) for fault in self.faults}
        found = []
        for at, fault in outcome.faults:
            where: dict[str, Any] = (
                {"name": names[at]}
                if at < len(names)
                else {"row": self._row_of[at - len(names)]}
                if at - len(names) < len(self._row_of)
                else {}
            )
            found.append({**where, "column": fault.name, "says": fault.says})
        # A cell that can't be read isn't missing too.
        return [one for one in found if _where(one) not in known]

    def hints(self, season: Season) -> list[dict[str, Any]]:
        """Numbers that nothing bears: told at the cell, and no obstacle, since what they name may come
        later.
        """
        found = [
            {"name": name, "column": fault.name, "says": fault.says}
            for name, now in self._now.items()
            for fault in find_unknown(
                self._table.name, unflatten({k: v for k, v in now.items() if v is not None}), season
            )
        ]
        return found + [
            {"row": self._row_of[at], "column": fault.name, "says": fault.says}
            for at, addition in enumerate(self.additions)
            for fault in find_unknown(self._table.name, addition.values, season)
        ]
