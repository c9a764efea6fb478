"""Records from sheets into a season's files: planned first, written only when everything is sound.

The plan is checked by the same reader that reads every season: the new records alone, so that each
objection can be led back to its cell; then the whole folder as it would be, so that nothing else of it has
changed.
"""

from __future__ import annotations

import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from certgen.exchange.assembly import CellFault, Gathered, Incoming, gather, gather_season
from certgen.exchange.files import contained_path, write_all
from certgen.exchange.rows import records_of
from certgen.exchange.splicing import REMOVED, SpliceError, can_take, change_records, insert_records
from certgen.exchange.yaml_text import Line, quote, render_fields, render_record
from certgen.records.tables import load_tables

if TYPE_CHECKING:
    from certgen.exchange.grids import Sheet
    from certgen.exchange.headings import SheetMap
    from certgen.records import ReadingError, Season

SCHEMA_FOLDER = ".schemas"
_BOM = b"\xef\xbb\xbf"


class ImportRefusedError(ValueError):
    """The folder is in no state to take records; `errors` says why."""

    def __init__(self, message: str, errors: Sequence[ReadingError] = ()) -> None:
        super().__init__(message)
        self.errors = tuple(errors)


@dataclass(slots=True)
class ImportPlan:
    """What an import would do. `contents` are whole files by path; nothing is written before `carry_out`.

    `added` and `changed` name records and the file they go to; `same` counts those that are there already,
    to the letter; `faults` are in the order of the sheets; `left_out` names what `keep_going` leaves
    behind.
    """

    contents: dict[Path, bytes] = field(default_factory=dict)
    added: list[tuple[str, str]] = field(default_factory=list)
    changed: list[tuple[str, str]] = field(default_factory=list)
    same: int = 0
    faults: list[CellFault] = field(default_factory=list)
    left_out: list[str] = field(default_factory=list)

    def carry_out(self) -> None:
        """Write the files, all or none. Raises `OSError`."""
        write_all(self.contents)


def words_of(crop: str) -> Mapping[str, tuple[str, ...]]:
    """The words that a crop's profile allows. Raises `ValueError` for a crop that nobody knows."""
    from certgen.standards import load_profile
    from certgen.standards.reading import StandardError

    try:
        return load_profile(crop).words
    except StandardError as fault:
        raise ValueError(str(fault)) from fault


def plan_import(
    folder: Path,
    sheets: Sequence[tuple[Sheet, SheetMap]],
    *,
    season_sheet: Sheet | None = None,
    replace: bool = False,
    keep_going: bool = False,
) -> ImportPlan:
    """Plan what the sheets bring into the season in `folder`. Raises `ImportRefusedError`.

    A record that is there already, the same in every field that the sheet has, is skipped. One that differs
    is a fault, unless `replace` is given. With faults the plan writes nothing, unless `keep_going` leaves
    them out.
    """
    season = _read_existing(folder)
    gathered = gather_season(season_sheet) if season_sheet is not None else Gathered()
    words = words_of(_crop(season, gathered))
    more = gather(sheets, words)
    gathered.records += more.records
    gathered.faults += more.faults
    if season is None and not any(record.table == "season" for record in gathered.records):
        raise ImportRefusedError(f"{folder} holds no season; lay one out with: certgen new {folder}")
    canonical = _validate(season, gathered)
    plan = ImportPlan(faults=gathered.faults)
    adds, changes = _compare(season, gathered, canonical, plan, replace=replace)
    plan.left_out = [record.name for record in gathered.records if not record.sound]
    if plan.faults and not keep_going:
        return plan
    texts = _build(folder, season, adds, changes, plan)
    written = {id(record) for record in (*adds, *(change[0] for change in changes))}
    expected = {
        (record.table, record.key): (record.covers, canonical[index])
        for index, record in enumerate(gathered.records)
        if record.key and id(record) in written
    }
    _verify(
        folder,
        season,
        texts,
        expected,
        sum(1 for record in adds if not record.key and record.table != "season"),
    )
    plan.contents = {contained_path(folder, name): data for name, data in texts.items()}
    return plan


def _read_existing(folder: Path) -> Season | None:
    from certgen.records import read_season

    if not folder.is_dir() or not any(folder.rglob("*.y*ml")):
        return None
    season, errors = read_season(folder, words_of=words_of)
    errors = tuple(error for error in errors if not _about_previous(error))
    if season is None or errors:
        raise ImportRefusedError(
            "the season's records cannot all be read; mend these first, then import", errors
        )
    return season


def _about_previous(error: ReadingError) -> bool:
    return "`previous`" in error.message or ".." in error.file.split("/")


def _crop(season: Season | None, gathered: Gathered) -> str:
    if season is not None:
        return season.details.crop
    for record in gathered.records:
        if record.table == "season" and record.values.get("crop"):
            return str(record.values["crop"])
    raise ImportRefusedError("nothing says which crop this is; import into a season laid out by: certgen new")


def _validate(season: Season | None, gathered: Gathered) -> dict[int, dict[str, Any]]:
    """Read the incoming records by themselves; objections become faults at cells.

    Returns each sound record as the reader gives it, by its index among the gathered.
    """
    from certgen.records import read_season
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
        lines = [Line("season:", ()), *render_fields(_plainly(values), 2)]
        _write(place / "season.yaml", lines)
        origins["season.yaml"] = [(-1 if ours is None else ours, line.path) for line in lines]
        for table in TABLE_NAMES:
            orders[table] = [i for i, record in incoming.items() if record.table == table]
            pairs = [(i, line) for i in orders[table] for line in render_record(incoming[i].values, 2)]
            if pairs:
                _write(place / f"{table}.yaml", [Line(f"{table}:", ()), *(line for _, line in pairs)])
                origins[f"{table}.yaml"] = [(-1, ()), *((i, line.path) for i, line in pairs)]
        alone, errors = read_season(place, words_of=words_of)
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


def _plainly(values: Mapping[str, Any]) -> dict[str, Any]:
    """A season's mapping with dates as dates, so that they are written without quotes."""
    import datetime as dt

    return {
        name: dt.date.fromisoformat(value) if name in {"from", "to"} and _is_date(value) else value
        for name, value in values.items()
    }


def _is_date(value: object) -> bool:
    import datetime as dt

    try:
        dt.date.fromisoformat(str(value))
    except ValueError:
        return False
    return isinstance(value, str)


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


Change = tuple[Incoming, int, dict[str, Any]]


def _compare(
    season: Season | None,
    gathered: Gathered,
    canonical: Mapping[int, dict[str, Any]],
    plan: ImportPlan,
    *,
    replace: bool,
) -> tuple[list[Incoming], list[Change]]:
    """Part the sound records into new ones, changed ones with their changes, and those that are there
    already.
    """
    adds: list[Incoming] = []
    changes: list[Change] = []
    known = _Known(season)
    for index, record in enumerate(gathered.records):
        if not record.sound:
            continue
        new = canonical[index]
        if not record.key and record.table != "season":
            if known.take(record.table, new):
                plan.same += 1
            else:
                adds.append(record)
            continue
        row, old = known.find(record)
        if old is None:
            adds.append(record)
            continue
        differing = [name for name in sorted(record.covers) if old.get(name) != new.get(name)]
        if not differing:
            plan.same += 1
        elif replace:
            changes.append((record, row, {name: record.values.get(name, REMOVED) for name in differing}))
        else:
            plan.faults += [_difference(record, name, old, new) for name in differing]
            record.sound = False
    return adds, changes


class _Known:
    """The records that are there already, a table at a time and only when it is asked for."""

    def __init__(self, season: Season | None) -> None:
        self._season = season
        self._tables: dict[str, list[dict[str, Any]]] = {}

    def _table(self, name: str) -> list[dict[str, Any]]:
        if name not in self._tables:
            self._tables[name] = _listed(self._season, name)
        return self._tables[name]

    def find(self, record: Incoming) -> tuple[int, dict[str, Any] | None]:
        """The row and the content of the record with the same identifier, if there is one."""
        if self._season is None:
            return 0, None
        if record.table == "season":
            return 0, dict(self._season.details.raw)
        row = self._season.row(record.table, record.key)
        return (0, None) if row is None else (row, self._table(record.table)[row])

    def take(self, table: str, content: dict[str, Any]) -> bool:
        """Whether a record without an identifier is there; each counts once."""
        if content not in self._table(table):
            return False
        self._tables[table] = [*self._tables[table]]
        self._tables[table].remove(content)
        return True


def _difference(record: Incoming, name: str, old: Mapping[str, Any], new: Mapping[str, Any]) -> CellFault:
    cell = next((record.cells[path] for path in record.cells if path[0] == name), (record.sheet, record.home))
    before, after = _shown(old.get(name)), _shown(new.get(name))
    reason = (
        f"{record.name} is recorded already with `{name}` {before}, and here it is {after}; "
        "mend one of the two, or import with --replace"
    )
    return CellFault(*cell, reason, record.name)


def _shown(value: object) -> str:
    if value is None:
        return "left empty"
    text = "; ".join(map(str, value)) if isinstance(value, list | tuple) else str(value)
    return f"'{text[:60]}'"


def _build(
    folder: Path, season: Season | None, adds: Sequence[Incoming], changes: Sequence[Change], plan: ImportPlan
) -> dict[str, bytes]:
    """The bytes of every file that changes."""
    texts = {name: source.text for name, source in season.sources.items()} if season is not None else {}
    before = dict(texts)
    if season is not None:
        _change(season, texts, changes, plan)
    groups: dict[str, list[Incoming]] = {}
    for record in adds:
        groups.setdefault(record.table, []).append(record)
    for table, records in groups.items():
        file = "season.yaml" if table == "season" else _home(season, texts, folder, table)
        values = [record.values for record in records]
        if file not in texts:
            texts[file] = _new_file(folder, table, values)
        else:
            texts[file] = insert_records(texts[file], file, table, values)
        plan.added += [(record.name, file) for record in records]
    return {
        name: (_BOM if _has_bom(folder, name) else b"") + text.encode()
        for name, text in texts.items()
        if text != before.get(name)
    }


def _change(season: Season, texts: dict[str, str], changes: Sequence[Change], plan: ImportPlan) -> None:
    by_file: dict[str, list[tuple[str, int | None, Mapping[str, Any]]]] = {}
    for record, row, fields in changes:
        if record.table == "season":
            by_file.setdefault(season.details.file, []).append(("season", None, _plainly(fields)))
            plan.changed.append((record.name, season.details.file))
            continue
        place = season.place(record.table, row)
        by_file.setdefault(place.file, []).append((record.table, int(place.path[1]), fields))
        plan.changed.append((record.name, place.file))
    for file, wanted in by_file.items():
        texts[file] = change_records(texts[file], file, wanted)


def _has_bom(folder: Path, name: str) -> bool:
    path = folder / name
    if not path.is_file():
        return False
    with path.open("rb") as stream:
        return stream.read(3) == _BOM


def _home(season: Season | None, texts: Mapping[str, str], folder: Path, table: str) -> str:
    """The file that takes a table's new records: where its last ones stand, else one that has room, else a
    new one.
    """
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
        lines = render_fields(_plainly(records[0]), 2)
    else:
        lines = [line for record in records for line in render_record(record, 2)]
    return "\n".join([*head, f"{table}:", *(line.text for line in lines)]) + "\n"


Expected = Mapping[tuple[str, str], tuple[frozenset[str], dict[str, Any]]]


def _verify(
    folder: Path, season: Season | None, changed: Mapping[str, bytes], expected: Expected, keyless: int
) -> None:
    """Read the folder as it would be. Raises `ImportRefusedError` if a record is not what it was or should
    be.
    """
    from certgen.records import read_season

    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        for file in {*(season.sources if season is not None else ()), *changed}:
            path = contained_path(place, file)
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(changed[file] if file in changed else (folder / file).read_bytes())
        after, errors = read_season(place, words_of=words_of)
        if after is None or any(not _about_previous(error) for error in errors):
            raise ImportRefusedError(
                "the files as they would be cannot be read back; nothing was written", errors
            )
    grown = 0
    for table in load_tables():
        old, new = _listed(season, table), _listed(after, table)
        grown += _compare_table(table, old, new, expected)
    if grown != keyless:
        raise ImportRefusedError(
            "the files as they would be hold another number of records; nothing was written"
        )


def _listed(season: Season | None, table: str) -> list[dict[str, Any]]:
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


__all__ = ["ImportPlan", "ImportRefusedError", "SpliceError", "plan_import", "words_of"]
