"""Records tried before they are written: alone, so that an objection finds its cell, then in the folder."""

from __future__ import annotations

import re
import tempfile
from collections.abc import Collection, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from certgen.exchange.editing.differences import compare_files
from certgen.exchange.editing.yaml_text import Line, quote, render_fields, render_record, with_days
from certgen.exchange.importing.assembly import CellFault, Gathered
from certgen.exchange.importing.merging import complete, plain
from certgen.exchange.importing.placing import begin_file
from certgen.exchange.spreadsheets.rows import records_of
from certgen.records.tables import load_tables
from certgen.standards.season_reading import read_case
from certgen.whole_files import contained_path

if TYPE_CHECKING:
    from certgen.exchange.importing.assembly import Incoming
    from certgen.exchange.importing.placing import Change
    from certgen.records import ReadingError, Season


_MISSING: Final = re.compile("`([^`]+)` is missing")


class ImportRefusedError(ValueError):
    """The folder is in no state to take records; `errors` says why."""

    def __init__(self, message: str, errors: Sequence[ReadingError] = ()) -> None:
        super().__init__(message)
        self.errors = tuple(errors)


def is_about_previous(error: ReadingError, previous: str = "") -> bool:
    """Whether an error lies in an earlier season, or says that it cannot be found: an import goes on."""
    return error.field == "previous" or bool(previous and error.file.startswith(f"{previous}/"))


def read_alone(
    season: Season | None,
    gathered: Gathered,
    known: Mapping[int, Mapping[str, Any]],
    *,
    home: Path | None = None,
    cache: Path | None = None,
) -> dict[int, dict[str, Any]]:
    """Read the incoming records by themselves; objections become faults at cells.

    What an incoming record leaves empty is taken from the one that is there already, `known` by its index:
    a sheet of this week's bags need not say once more which tree each is on. A table's file begins as a new
    one in the season's folder `home` would: the `cache`, as in `examine`, knows it when it is read there.

    Returns each sound record as the reader gives it, by its index among the gathered.
    """
    # A record with a cell at fault is tried without it, so that all that is wrong with it is told at once.
    tried = {i: record for i, record in enumerate(gathered.records) if record.sound or record.faulty}
    layout = _Layout({i: record for i, record in tried.items() if not record.doubled}, known)
    details = layout.merge_details(season)
    # It leads away from here; the whole folder's reading looks at it.
    previous = details.pop("previous", None)
    # Read as if they lay in a folder where nothing else does.
    with tempfile.TemporaryDirectory() as name:
        alone, errors = read_case(Path(name), cache=cache, instead=layout.render(details, home or Path(name)))
    for error in errors:
        _lead_back(error, layout.lines, gathered)
    records = {} if alone is None else layout.collect(alone, previous)
    for i, record in enumerate(gathered.records):
        record.sound = record.sound and i in records
    return records


class _Layout:
    """Incoming records as files of their own: of which record each line is, and each row of a table."""

    def __init__(self, incoming: Mapping[int, Incoming], known: Mapping[int, Mapping[str, Any]]) -> None:
        self.incoming, self.known = incoming, known
        #: For each line of a file the record's index (-1 for none of them), and the line with its field.
        self.lines: dict[str, list[tuple[int, Line]]] = {}
        self.rows = {
            table: [i for i, record in incoming.items() if record.table == table] for table in load_tables()
        }
        self.season = next((i for i, record in incoming.items() if record.table == "season"), None)

    def merge_details(self, season: Season | None) -> dict[str, Any]:
        """The `season` mapping: what is there, and what comes in over it."""
        there = season.details.raw if season is not None else {}
        return {**there, **(self.incoming[self.season].values if self.season is not None else {})}

    def render(self, details: Mapping[str, Any], home: Path) -> dict[str, bytes]:
        """A file a table that has records, and the season's, by their names."""
        owner = -1 if self.season is None else self.season
        lines = [Line("season:", ()), *render_fields(with_days(details), 2)]
        self.lines["season.yaml"] = [(owner, line) for line in lines]
        for table, indexes in self.rows.items():
            if not indexes:
                continue
            pairs = [(-1, line) for line in begin_file(home, table)]
            pairs += [(i, line) for i in indexes for line in render_record(self._complete(i), 2)]
            self.lines[f"{table}.yaml"] = pairs
        return {
            file: "".join(f"{line.text}\n" for _, line in pairs).encode()
            for file, pairs in self.lines.items()
        }

    def _complete(self, index: int) -> Mapping[str, Any]:
        """An incoming record, with what it leaves empty as it is recorded already."""
        values = self.incoming[index].values
        return complete(values, self.known[index]) if index in self.known else values

    def collect(self, alone: Season, previous: object) -> dict[int, dict[str, Any]]:
        """Each record that was read, by its index."""
        records: dict[int, dict[str, Any]] = {}
        for table, indexes in self.rows.items():
            places = alone.tables[table]["at"].tolist()
            for at, record in zip(places, records_of(alone, table), strict=True):
                records[indexes[at]] = record
        if self.season is not None:
            records[self.season] = dict(alone.details.raw) | ({"previous": previous} if previous else {})
        return records


def _lead_back(
    error: ReadingError, origins: Mapping[str, Sequence[tuple[int, Line]]], gathered: Gathered
) -> None:
    lines = origins.get(error.file, ())
    index, (_, path) = (
        lines[error.line - 1] if error.line and error.line <= len(lines) else (-1, Line("", ()))
    )
    message = error.message.split(" [", 1)[0] if error.left_out else error.message
    if index < 0:
        gathered.faults.append(CellFault(error.file, "", message))
        return
    record = gathered.records[index]
    record.sound = False
    missing = _MISSING.match(message)
    if missing and record.faulty & {missing[1].split(".")[0], *map(str, path[:1]), ""}:
        return  # what its faulty cell would have said is no second fault
    sheet, cell = record.sheet, record.home
    for length in range(len(path), 0, -1):
        if path[:length] in record.cells:
            sheet, cell = record.cells[path[:length]]
            break
    gathered.faults.append(CellFault(sheet, cell, message, record.name))


class Expected(NamedTuple):
    """What an import leaves behind: each record that it writes, whole, by table and identifier, and how many
    records without an identifier come in."""

    records: Mapping[tuple[str, str], dict[str, Any]]
    keyless: int


def verify_whole(
    folder: Path,
    season: Season | None,
    changed: Mapping[str, bytes],
    expected: Expected,
    known: Sequence[ReadingError] = (),
    *,
    cache: Path | None = None,
) -> tuple[Season, tuple[ReadingError, ...]]:
    """Read the folder as it would be, and give that season with its reading errors.

    Raises `ImportRefusedError` if a record isn't what it should be. `known` are errors that the folder has
    already: whatever they name stays left out, and is no obstacle. `cache` is as in `examine`.
    """
    for file in changed:
        contained_path(folder, file)
    after, errors = read_case(folder, cache=cache, instead=changed)
    if after is None or _find_obstacles(season, after, changed, errors, known):
        raise ImportRefusedError(
            "the files as they would be cannot be read back; nothing was written", errors
        )
    same = set() if season is None else _find_same(season, after)
    grown = 0
    for table in load_tables():
        old, new = _list_outside(season, table, same), _list_outside(after, table, same)
        grown += _compare_table(table, old, new, expected)
    if grown != expected.keyless:
        raise ImportRefusedError(
            "the files as they would be hold another number of records; nothing was written"
        )
    return after, errors


def _find_obstacles(
    season: Season | None,
    after: Season,
    changed: Mapping[str, bytes],
    errors: Sequence[ReadingError],
    known: Sequence[ReadingError],
) -> list[ReadingError]:
    """The errors that a change brings; not those of earlier seasons, nor of files that stay unread."""
    had = {(error.file, error.message) for error in known}
    before = season.sources if season is not None else {}
    previous = after.details.previous
    return [
        error
        for error in errors
        if (error.file, error.message) not in had
        and not is_about_previous(error, previous)
        and error.file != previous
        # How a file that isn't read stands to the others may be told in other words now.
        and (error.file in before or error.file in changed)
    ]


def _find_same(before: Season, after: Season) -> set[str]:
    """The files that hold the same bytes and are read by the same words: their records are the same."""
    if before.details.crop != after.details.crop:
        return set()
    return {
        file
        for file, source in after.sources.items()
        if file in before.sources and before.sources[file].sha256 == source.sha256
    }


def _list_outside(season: Season | None, table: str, files: Collection[str]) -> list[dict[str, Any]]:
    """The records of a table that stand in none of the files."""
    if season is None:
        return []
    frame = season.tables[table]
    outside = ~frame["file"].isin(files)
    if not outside.any():
        return []
    return records_of(season.with_tables({table: frame[outside]}), table)


def verify_season(season: Season, changed: Mapping[str, bytes], changes: Sequence[Change]) -> None:
    """Hold the `season` mapping to the fields that were to be other than they are.

    Raises `ImportRefusedError`.
    """
    wanted = {name for change in changes if change.record.table == "season" for name in change.fields}
    file = season.details.file
    if not wanted or file not in changed:
        return
    told = compare_files({file: season.sources[file].text.encode()}, {file: changed[file]})
    fields = {field.field.split(".")[0] for one in told if one.table == "season" for field in one.fields}
    if fields != wanted:
        raise ImportRefusedError("that would change something else of the season; change it in the file")


def list_records(season: Season | None, table: str) -> list[dict[str, Any]]:
    """The records of a table, none where there is no season yet."""
    return [] if season is None else records_of(season, table)


def _compare_table(
    table: str, old: Sequence[dict[str, Any]], new: Sequence[dict[str, Any]], expected: Expected
) -> int:
    """Check one table record by record; returns by how many records without an identifier it has grown."""
    key = load_tables()[table].key
    wanted = {name: content for (owner, name), content in expected.records.items() if owner == table}
    if key:
        kept = _keeps_others(key, old, new, wanted) and _holds_wanted(key, new, wanted)
    else:
        kept = all(record in new for record in old)
    if not kept:
        raise ImportRefusedError(
            f"putting these records in would change others of `{table}`; nothing was written. "
            f"Move them to a file of their own, for example {quote(f'{table}-2.yaml')}"
        )
    return 0 if key else len(new) - len(old)


def _keeps_others(
    key: str, old: Sequence[dict[str, Any]], new: Sequence[dict[str, Any]], wanted: Collection[str]
) -> bool:
    """Whether the records that are none of the wanted are what they were, in whatever order."""
    before, after = ([record for record in part if str(record[key]) not in wanted] for part in (old, new))
    return before == after or sorted(map(repr, before)) == sorted(map(repr, after))


def _holds_wanted(key: str, new: Sequence[dict[str, Any]], wanted: Mapping[str, dict[str, Any]]) -> bool:
    """Whether each wanted record is there, with every field and no other."""
    present = {str(record[key]): record for record in new}
    return all(
        name in present and (present[name] == record or plain(present[name]) == plain(record))
        for name, record in wanted.items()
    )
