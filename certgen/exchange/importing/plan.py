"""Records from sheets into a season's files: planned first, written only when everything is sound.

The plan is tried by the same reader that reads every season: the new records alone, then the whole folder
as it would be, so that nothing else of it has changed.
"""

from __future__ import annotations

import tempfile
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from certgen.collector import pause_collector
from certgen.exchange.editing.history import Author, write_change
from certgen.exchange.importing.assembly import (
    CellFault,
    Gathered,
    Incoming,
    gather,
    gather_season,
)
from certgen.exchange.importing.merging import Differing, Merged, merge_record, show_pair
from certgen.exchange.importing.placing import Change, place_records
from certgen.exchange.importing.record_files import read_record_file
from certgen.exchange.importing.trial import (
    Expected,
    ImportRefusedError,
    is_about_previous,
    list_records,
    read_alone,
    verify_whole,
)
from certgen.records.tables import load_season_table, load_tables
from certgen.standards import load_profile
from certgen.standards.season_reading import read_case
from certgen.whole_files import contained_path, name_type

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from certgen.exchange.importing.column_maps import SheetMap
    from certgen.exchange.importing.grids import Sheet
    from certgen.records import Season


_AUTHOR: Final = Author("import")


class RecordChange(NamedTuple):
    """What would become of one record: its name, whether it is new, and its fields that change."""

    record: str
    new: bool
    fields: tuple[Differing, ...]


#: A record's name, and of one that is there already its fields that change, of a new one its content.
_Told = tuple[str, tuple[Differing, ...] | Mapping[str, Any]]


@dataclass(slots=True)
class ImportPlan:
    """What an import into `folder` would do.

    `contents` are whole files by path, `read` the SHA-256 of what was read of each (empty: there was none);
    nothing is written before `carry_out`.
    `added` and `changed` name records and the file they go to; `same` counts those that are there already,
    to the letter; `faults` are in the order of the sheets; `left_out` names what `keep_going` leaves
    behind.
    """

    folder: Path
    contents: dict[Path, bytes] = field(default_factory=dict)
    read: dict[str, str] = field(default_factory=dict)
    added: list[tuple[str, str]] = field(default_factory=list)
    changed: list[tuple[str, str]] = field(default_factory=list)
    same: int = 0
    faults: list[CellFault] = field(default_factory=list)
    left_out: list[str] = field(default_factory=list)
    told: list[_Told] = field(default_factory=list)

    def list_fields(self, *, new: bool = True) -> Iterator[RecordChange]:
        """What becomes of each record that is added or changed, field by field; without `new` of those only
        that are there already."""
        for name, fields in self.told:
            if isinstance(fields, tuple):
                yield RecordChange(name, False, fields)
            elif new:
                values = tuple(Differing(inner, None, value) for inner, value in _leaves(fields))
                yield RecordChange(name, True, values)

    def carry_out(self, author: Author = _AUTHOR) -> None:
        """Write the files, all or none, and tell the season's history of it.

        Raises `ChangedMeanwhileError` where a file isn't any more what was read of it, and `OSError`.
        """
        contents = {path.relative_to(self.folder).as_posix(): data for path, data in self.contents.items()}
        write_change(self.folder, contents, author, read=self.read, sound=True)


def plan_import(
    folder: Path,
    sheets: Sequence[tuple[Sheet, SheetMap]],
    *,
    season_sheet: Sheet | None = None,
    record_file: Path | None = None,
    replace: bool = False,
    keep_going: bool = False,
) -> ImportPlan:
    """Plan what the sheets, or a file of records, bring into the season in `folder`.

    Raises `ImportRefusedError`.

    A record that is there already, the same in every field that the sheet has, is skipped. A cell that fills
    an empty field is taken, an empty cell says nothing, and one that differs is a fault, unless `replace` is
    given. With faults the plan writes nothing, unless `keep_going` leaves them out.
    """
    # Most files are read twice: by themselves, or as they are, and then as they would be.
    with tempfile.TemporaryDirectory() as cache, pause_collector():
        return _plan(folder, sheets, season_sheet, record_file, replace, keep_going, Path(cache))


def _plan(
    folder: Path,
    sheets: Sequence[tuple[Sheet, SheetMap]],
    season_sheet: Sheet | None,
    record_file: Path | None,
    replace: bool,
    keep_going: bool,
    cache: Path,
) -> ImportPlan:
    season = _read_existing(folder, cache)
    if record_file is not None:
        gathered = read_record_file(record_file, season)
    else:
        gathered = _gather_all(folder, season, sheets, season_sheet)
    known = _Known(season)
    there = known.find_all(gathered.records)
    canonical = read_alone(season, gathered, there, home=folder, cache=cache)
    plan = ImportPlan(folder, faults=gathered.faults)
    sorting = _Sorting(known, plan, replace)
    for index, record in enumerate(gathered.records):
        if record.sound:
            sorting.take(record, canonical[index])
    plan.left_out = [record.name for record in gathered.records if not record.sound]
    if plan.faults and not keep_going:
        return plan
    placed = place_records(folder, season, sorting.adds, sorting.changes)
    verify_whole(folder, season, placed.contents, sorting.expect(gathered, canonical), cache=cache)
    sources = {} if season is None else season.sources
    plan.read = {name: sources[name].sha256 if name in sources else "" for name in placed.contents}
    plan.contents = {contained_path(folder, name): data for name, data in placed.contents.items()}
    plan.added, plan.changed = placed.added, placed.changed
    return plan


def _gather_all(
    folder: Path,
    season: Season | None,
    sheets: Sequence[tuple[Sheet, SheetMap]],
    season_sheet: Sheet | None,
) -> Gathered:
    """The records of all sheets, the season's mapping among them."""
    gathered = gather_season(season_sheet) if season_sheet is not None else Gathered()
    more = gather(sheets, load_profile(_crop(season, gathered)).words)
    gathered.records += more.records
    gathered.faults += more.faults
    if season is None and not any(record.table == "season" for record in gathered.records):
        raise ImportRefusedError(f"{folder} holds no season; lay one out with: certgen new {folder}")
    return gathered


def _read_existing(folder: Path, cache: Path) -> Season | None:
    if folder.exists() and not folder.is_dir():
        raise ImportRefusedError(f"{folder} is {name_type(folder.stat().st_mode)}; name the season's folder")
    if not any(folder.rglob("*.y*ml")):
        return None
    season, errors = read_case(folder, cache=cache)
    previous = season.details.previous if season is not None else ""
    errors = tuple(error for error in errors if not is_about_previous(error, previous))
    if season is None or errors:
        raise ImportRefusedError(
            "the season's records cannot all be read; mend these first, then import", errors
        )
    return season


def _crop(season: Season | None, gathered: Gathered) -> str:
    if season is not None:
        return season.details.crop
    for record in gathered.records:
        if record.table == "season" and record.values.get("crop"):
            return str(record.values["crop"])
    raise ImportRefusedError("nothing says which crop this is; import into a season laid out by: certgen new")


@dataclass(slots=True)
class _Sorting:
    """Parts sound records into new ones and changed ones, and counts those that are there already."""

    known: _Known
    plan: ImportPlan
    replace: bool
    adds: list[Incoming] = field(default_factory=list)
    changes: list[Change] = field(default_factory=list)
    #: What each changed record is to hold, by the identity of what came in.
    merged: dict[int, dict[str, Any]] = field(default_factory=dict)

    def take(self, record: Incoming, new: dict[str, Any]) -> None:
        """Sorts a record, `new` as the reader gives it."""
        if not record.key and record.table != "season":
            if self.known.take(record.table, new):
                self.plan.same += 1
            else:
                self._add(record, new)
            return
        row, old = self.known.find(record)
        if old is None:
            self._add(record, new)
        else:
            self._compare(record, row, old, new)

    def _add(self, record: Incoming, new: Mapping[str, Any]) -> None:
        self.adds.append(record)
        self.plan.told.append((record.name, new))

    def _compare(self, record: Incoming, row: int, old: Mapping[str, Any], new: Mapping[str, Any]) -> None:
        """Of a record that is there: what fills it, what stands against it, or nothing."""
        covered = {name: new[name] for name in sorted(record.covers) if name in new}
        merged = self._merge(record, row, old, covered)
        if merged.conflicts and not self.replace:
            self.plan.faults += [_tell_conflict(record, one) for one in merged.conflicts]
            record.sound = False
        elif merged.fields:
            self.changes.append(Change(record, row, merged.fields))
            self.merged[id(record)] = {**old, **merged.fields}
            self.plan.told.append((record.name, (*merged.filled, *merged.conflicts)))
        else:
            self.plan.same += 1

    def _merge(
        self, record: Incoming, row: int, old: Mapping[str, Any], covered: Mapping[str, Any]
    ) -> Merged:
        table = load_season_table() if record.table == "season" else load_tables()[record.table]
        merged = merge_record(table.fields, old, covered, {}, replace=self.replace)
        if not (merged.fields or merged.conflicts):
            return merged
        # A workbook shows what rounds, letters and the routine say of a record, too.
        said = self.known.completed(record.table, row)
        return merge_record(table.fields, old, covered, said, replace=self.replace)

    def expect(self, gathered: Gathered, canonical: Mapping[int, dict[str, Any]]) -> Expected:
        """What the whole folder has to hold once this is written."""
        written = {id(record) for record in (*self.adds, *(change.record for change in self.changes))}
        records = {
            (record.table, record.key): self.merged.get(id(record), canonical[index])
            for index, record in enumerate(gathered.records)
            if record.key and id(record) in written
        }
        return Expected(records, sum(not record.key and record.table != "season" for record in self.adds))


class _Known:
    """The records that are there already, a table at a time and only when it is asked for."""

    def __init__(self, season: Season | None) -> None:
        self._season = season
        self._tables: dict[str, list[dict[str, Any]]] = {}
        self._completed: dict[str, list[dict[str, Any]]] = {}

    def _table(self, name: str) -> list[dict[str, Any]]:
        if name not in self._tables:
            self._tables[name] = list_records(self._season, name)
        return self._tables[name]

    def find(self, record: Incoming) -> tuple[int, dict[str, Any] | None]:
        """The row and the content of the record with the same identifier, if there is one."""
        if self._season is None:
            return 0, None
        if record.table == "season":
            return 0, dict(self._season.details.raw)
        row = self._season.row(record.table, record.key)
        return (0, None) if row is None else (row, self._table(record.table)[row])

    def find_all(self, records: Sequence[Incoming]) -> dict[int, dict[str, Any]]:
        """Of each record that is there already its content, by its index."""
        found = {i: self.find(one)[1] for i, one in enumerate(records) if one.key}
        return {i: there for i, there in found.items() if there is not None}

    def completed(self, table: str, row: int) -> dict[str, Any]:
        """The record of a row with what rounds, letters and the season's routine say of it."""
        from certgen.records.joining.farm import join_seasons

        if self._season is None or table == "season":
            return {}
        if table not in self._completed:
            self._completed[table] = list_records(join_seasons(self._season).alone, table)
        return self._completed[table][row]

    def take(self, table: str, content: dict[str, Any]) -> bool:
        """Whether a record without an identifier is there; each counts once."""
        if content not in self._table(table):
            return False
        self._tables[table] = [*self._tables[table]]
        self._tables[table].remove(content)
        return True


def _leaves(record: Mapping[str, Any], above: str = "") -> Iterator[tuple[str, Any]]:
    """The fields of a record by their dotted names."""
    for name, value in record.items():
        if isinstance(value, Mapping):
            yield from _leaves(value, f"{above}{name}.")
        elif value not in (None, "", (), []):
            yield f"{above}{name}", value


def _tell_conflict(record: Incoming, differing: Differing) -> CellFault:
    """Both values whole, at the cell of the later one."""
    steps = differing.field.split(".")
    place = [*steps[:1], *(int(step) - 1 if step.isdigit() else step for step in steps[1:])]
    cell = (record.sheet, record.home)
    for length in range(len(place), 0, -1):
        if tuple(place[:length]) in record.cells:
            cell = record.cells[tuple(place[:length])]
            break
    else:
        cell = next((record.cells[path] for path in record.cells if path[0] == steps[0]), cell)
    before, after = show_pair(differing.before, differing.after)
    reason = (
        f"{record.name} is recorded already with `{differing.field}` {before}, and here it is {after}; "
        "mend one of the two, or import with --replace"
    )
    return CellFault(*cell, reason, record.name)
