"""Records tried before they are written: alone, so that each objection finds its cell, then with the whole
folder.
"""

from __future__ import annotations

import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from certgen.exchange.editing.yaml_text import Line, quote, render_fields, render_record, with_days
from certgen.exchange.importing.assembly import CellFault, Gathered
from certgen.exchange.spreadsheets.rows import records_of
from certgen.records.tables import load_tables
from certgen.whole_files import contained_path

if TYPE_CHECKING:
    from certgen.records import ReadingError, Season


class ImportRefusedError(ValueError):
    """The folder is in no state to take records; `errors` says why."""

    def __init__(self, message: str, errors: Sequence[ReadingError] = ()) -> None:
        super().__init__(message)
        self.errors = tuple(errors)


def is_about_previous(error: ReadingError, previous: str = "") -> bool:
    """Whether an error lies in an earlier season, or says that it cannot be found: an import goes on."""
    return "`previous`" in error.message or bool(previous and error.file.startswith(f"{previous}/"))


def read_alone(season: Season | None, gathered: Gathered) -> dict[int, dict[str, Any]]:
    """Read the incoming records by themselves; objections become faults at cells.

    Returns each sound record as the reader gives it, by its index among the gathered.
    """
    from certgen.examination import read_case
    from certgen.records.tables import TABLE_NAMES

    origins: dict[str, list[tuple[int, tuple[str | int, ...]]]] = {}
    orders: dict[str, list[int]] = {name: [] for name in TABLE_NAMES}
    incoming = {i: record for i, record in enumerate(gathered.records) if record.sound}
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        ours = next((i for i, record in incoming.items() if record.table == "season"), None)
        values = dict(season.details.raw) if season is not None else {}
        if ours is not None:
            values = {**values, **incoming[ours].values}
        earlier = values.pop(
            "previous", None
        )  # it leads away from here; the whole folder's reading looks at it
        lines = [Line("season:", ()), *render_fields(with_days(values), 2)]
        _write(place / "season.yaml", lines)
        origins["season.yaml"] = [(-1 if ours is None else ours, line.path) for line in lines]
        for table in TABLE_NAMES:
            orders[table] = [i for i, record in incoming.items() if record.table == table]
            pairs = [(i, line) for i in orders[table] for line in render_record(incoming[i].values, 2)]
            if pairs:
                _write(place / f"{table}.yaml", [Line(f"{table}:", ()), *(line for _, line in pairs)])
                origins[f"{table}.yaml"] = [(-1, ()), *((i, line.path) for i, line in pairs)]
        alone, errors = read_case(place)
        for error in errors:
            _lead_back(error, origins, gathered)
        found: dict[int, dict[str, Any]] = {}
        if alone is not None:
            for table in TABLE_NAMES:
                places = alone.tables[table]["at"].tolist()
                for at, record in zip(places, records_of(alone, table), strict=True):
                    found[orders[table][at]] = record
            if ours is not None:
                found[ours] = dict(alone.details.raw) | ({"previous": earlier} if earlier else {})
    for i, one in enumerate(gathered.records):
        one.sound = one.sound and i in found
    return found


def _write(path: Path, lines: Sequence[Line]) -> None:
    path.write_text("".join(f"{line.text}\n" for line in lines), encoding="utf-8", newline="\n")


def _lead_back(
    error: ReadingError, origins: Mapping[str, list[tuple[int, tuple[str | int, ...]]]], gathered: Gathered
) -> None:
    lines = origins.get(error.file)
    index, path = (
        lines[error.line - 1] if lines is not None and error.line and error.line <= len(lines) else (-1, ())
    )
    message = error.message.split(" [", 1)[0] if error.left_out else error.message
    if index < 0:
        gathered.faults.append(CellFault(error.file, "", message))
        return
    record = gathered.records[index]
    record.sound = False
    sheet, cell = record.sheet, record.home
    for length in range(len(path), 0, -1):
        if path[:length] in record.cells:
            sheet, cell = record.cells[path[:length]]
            break
    gathered.faults.append(CellFault(sheet, cell, message, record.name))


Expected = Mapping[tuple[str, str], tuple[frozenset[str], dict[str, Any]]]


def verify_whole(
    folder: Path, season: Season | None, changed: Mapping[str, bytes], expected: Expected, keyless: int
) -> None:
    """Read the folder as it would be. Raises `ImportRefusedError` if a record is not what it was or should
    be.
    """
    from certgen.examination import read_case

    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        for file in {*(season.sources if season is not None else ()), *changed}:
            path = contained_path(place, file)
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(changed[file] if file in changed else (folder / file).read_bytes())
        after, errors = read_case(place)
        if after is None or any(not is_about_previous(error) for error in errors):
            raise ImportRefusedError(
                "the files as they would be cannot be read back; nothing was written", errors
            )
    grown = 0
    for table in load_tables():
        old, new = list_records(season, table), list_records(after, table)
        grown += _compare_table(table, old, new, expected)
    if grown != keyless:
        raise ImportRefusedError(
            "the files as they would be hold another number of records; nothing was written"
        )


def list_records(season: Season | None, table: str) -> list[dict[str, Any]]:
    """The records of a table, none where there is no season yet."""
    return [] if season is None else records_of(season, table)


def _compare_table(
    table: str, old: Sequence[dict[str, Any]], new: Sequence[dict[str, Any]], expected: Expected
) -> int:
    """Check one table record by record; returns by how many records without an identifier it has grown."""
    key = load_tables()[table].key
    if not key:
        kept = all(record in new for record in old)
    else:
        wanted = {name: part for (one, name), part in expected.items() if one == table}
        others = [[record for record in part if str(record[key]) not in wanted] for part in (old, new)]
        present = {str(record[key]): record for record in new}
        kept = others[0] == others[1] or sorted(map(repr, others[0])) == sorted(map(repr, others[1]))
        for name, (covers, record) in wanted.items():
            found = present.get(name, {})
            kept = kept and all(found.get(one) == record.get(one) for one in covers)
    if not kept:
        raise ImportRefusedError(
            f"putting these records in would change others of `{table}`; nothing was written. "
            f"Move them to a file of their own, for example {quote(f'{table}-2.yaml')}"
        )
    return 0 if key else len(new) - len(old)
