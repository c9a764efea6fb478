"""What a form changes, brought into the season's files, or why not.

A change is made against the season as it is now, never as it was when the form was shown: what others have
written since stays. Fields that somebody else has changed meanwhile are given back, both versions beside each
other, and nothing is written.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from certgen.desk.form_fields import show_value, value_at, with_dates
from certgen.desk.form_reading import FieldFault
from certgen.desk.visits import name_author
from certgen.exchange.editing.history import ChangedMeanwhileError, HistoryError, write_change
from certgen.exchange.editing.splicing import REMOVED, SpliceError
from certgen.exchange.importing.assembly import CellFault, Gathered, Incoming
from certgen.exchange.importing.placing import Change, Placed, place_records
from certgen.exchange.importing.trial import (
    Expected,
    ImportRefusedError,
    is_about_previous,
    list_records,
    read_alone,
    verify_season,
    verify_whole,
)
from certgen.records.nouns import noun
from certgen.records.record_files.parsing import ParsingError
from certgen.records.season import digest
from certgen.records.tables import load_tables
from certgen.whole_files import PathError

if TYPE_CHECKING:
    from certgen.desk.held_season import HeldSeason, Snapshot
    from certgen.records import ReadingError, Season


@dataclass(frozen=True, slots=True)
class Addition:
    """A new record, its values nested as in YAML."""

    table: str
    values: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Mending:
    """Some columns of a record that is there, or of the `season` mapping, each with its new value (None takes
    it out).

    `was` says what each showed when it was looked at, by which a change of somebody else's is noticed.
    """

    table: str
    identifier: str
    now: Mapping[str, Any]
    was: Mapping[str, str]


class Conflict(NamedTuple):
    """A column that somebody else has changed meanwhile: what it showed, shows now, and was to be."""

    record: str
    column: str
    was: str
    there: str
    wanted: str


@dataclass(slots=True)
class Outcome:
    """What became of a change: `done` names what was written, or `faults` and `conflicts` say why nothing
    was.

    The faults of the first, second … change are told apart by `at`, counted from 0. `change` is the number
    that it has in the season's history, 0 where nothing was written.
    """

    done: list[str] = field(default_factory=list)
    files: list[str] = field(default_factory=list)
    same: list[str] = field(default_factory=list)
    faults: list[tuple[int, FieldFault]] = field(default_factory=list)
    conflicts: list[Conflict] = field(default_factory=list)
    change: int = 0

    @property
    def refused(self) -> bool:
        """Whether nothing was written because something is in the way."""
        return bool(self.faults or self.conflicts)

    def refuse(self, at: int, name: str, says: str) -> None:
        """Notes a fault of a change."""
        self.faults.append((at, FieldFault(name, says)))


#: How often a change is made anew when an editor writes the same file at that moment.
_TRIES = 3


def save(
    held: HeldSeason,
    changes: Sequence[Addition | Mending],
    papers: Mapping[str, bytes] = MappingProxyType({}),
) -> Outcome:
    """Writes all the changes or none, and with them new files, by their path below the season's folder.

    Raises `OSError` where the disk can't take them.
    """
    with held.lock:
        for _ in range(_TRIES):
            outcome = Outcome()
            try:
                _save(held, changes, papers, outcome)
            except ChangedMeanwhileError:
                continue
            return outcome
    outcome = Outcome()
    outcome.refuse(0, "", "a file keeps being written to by another program; save again when that has ended.")
    return outcome


def try_out(snapshot: Snapshot, changes: Sequence[Addition | Mending]) -> Outcome:
    """What is wrong with changes, by themselves; nothing is written."""
    outcome = Outcome()
    plan = _plan(snapshot.season, changes, outcome)
    _read_alone(snapshot.season, plan, outcome)
    return outcome


class _Planned(NamedTuple):
    """A change as the import knows it: its record, and for one that is there its row and fields."""

    at: int
    record: Incoming
    change: Change | None


def _plan(season: Season, changes: Sequence[Addition | Mending], outcome: Outcome) -> list[_Planned]:
    planned = []
    taken: set[tuple[str, str]] = set()
    for at, change in enumerate(changes):
        one = (
            _plan_addition(season, at, change, outcome, taken)
            if isinstance(change, Addition)
            else _plan_mending(season, at, change, outcome)
        )
        if one is not None:
            planned.append(one)
    return planned


def _plan_addition(
    season: Season, at: int, addition: Addition, outcome: Outcome, taken: set[tuple[str, str]]
) -> _Planned | None:
    table = load_tables()[addition.table]
    key = str(addition.values.get(table.key, "")) if table.key else ""
    row = season.row(table.name, key) if key else None
    name = f"{noun(table.name)} {key}".strip()
    if row is not None:
        there = season.record_at(table.name, row)
        if _shown(there) == _shown(addition.values):
            # Sent twice, by a second press of the button.
            outcome.same.append(name)
        else:
            outcome.refuse(
                at, table.key, f"{key} is taken; the next free number is {next_number(season, table.name)}."
            )
        return None
    if not key and any(_shown(one) == _shown(addition.values) for one in list_records(season, table.name)):
        outcome.same.append(name)
        return None
    if key and (table.name, key) in taken:
        outcome.refuse(at, table.key, f"{key} stands here twice.")
        return None
    taken.add((table.name, key))
    return _Planned(at, _incoming(at, table.name, addition.values, frozenset(addition.values)), None)


def _shown(record: Mapping[str, Any]) -> dict[str, str]:
    return {name: show_value(value) for name, value in record.items()}


def _plan_mending(season: Season, at: int, mending: Mending, outcome: Outcome) -> _Planned | None:
    if mending.table == "season":
        return _plan_fields(at, mending, with_dates(season.details.raw), 0, "season", outcome)
    table = load_tables()[mending.table]
    row = season.row(table.name, mending.identifier)
    name = f"{noun(table.name)} {mending.identifier}"
    if row is None:
        outcome.refuse(
            at, "", f"{name} isn't there any more; somebody took it out or gave it another number."
        )
        return None
    if table.key in mending.now:
        outcome.refuse(
            at, table.key, "other records name it by its number; a number is changed in the files."
        )
        return None
    return _plan_fields(at, mending, season.record_at(table.name, row), row, name, outcome)


def _plan_fields(
    at: int, mending: Mending, old: Mapping[str, Any], row: int, name: str, outcome: Outcome
) -> _Planned | None:
    new = _join(old, mending, name, outcome)
    tops = {column.split(".")[0] for column in mending.now}
    fields = {
        top: new.get(top, REMOVED) for top in tops if show_value(new.get(top)) != show_value(old.get(top))
    }
    if not fields:
        outcome.same.append(name)
        return None
    record = _incoming(at, mending.table, new, frozenset(fields))
    return _Planned(at, record, Change(record, row, fields))


def _join(old: Mapping[str, Any], mending: Mending, name: str, outcome: Outcome) -> dict[str, Any]:
    """The record with its changes laid over what it says now; conflicts where both changed the same."""
    new = dict(old)
    for column, value in mending.now.items():
        path = column.split(".")
        there = show_value(value_at(old, path))
        if there not in {mending.was.get(column, ""), show_value(value)}:
            outcome.conflicts.append(
                Conflict(name, column, mending.was.get(column, ""), there, show_value(value))
            )
        _put(new, path, value)
    return new


def _put(record: dict[str, Any], path: Sequence[str], value: Any) -> None:
    first, *rest = path
    if rest:
        inner = dict(record.get(first) or {})
        _put(inner, rest, value)
        value = inner or None
    if value is None:
        record.pop(first, None)
    else:
        record[first] = value


def _incoming(at: int, table: str, values: Mapping[str, Any], covers: frozenset[str]) -> Incoming:
    record = Incoming(table, dict(values), str(at), "", covers=covers)
    for path in _paths(values):
        record.cells[path] = (str(at), ".".join(map(str, path)))
    return record


def _paths(value: Any, above: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    """The path of everything that a record holds, so that an objection finds its field."""
    if isinstance(value, Mapping):
        inner = [path for name, part in value.items() for path in _paths(part, (*above, name))]
    elif isinstance(value, list | tuple) and value and isinstance(value[0], Mapping):
        inner = [path for number, part in enumerate(value) for path in _paths(part, (*above, number))]
    else:
        inner = []
    return [above, *inner] if above else inner


def _read_alone(season: Season, planned: Sequence[_Planned], outcome: Outcome) -> dict[int, dict[str, Any]]:
    """The records as the reader gives them, by their place among the planned; its objections are faults."""
    gathered = Gathered([one.record for one in planned])
    # A record that is changed is tried whole as it will be, so nothing is to be taken from the one there.
    canonical = read_alone(season, gathered, {})
    for fault in gathered.faults:
        at = int(fault.sheet) if fault.sheet.isdigit() else 0
        outcome.refuse(at, _find_missing(fault) or fault.cell, f"{fault.reason}.")
    return canonical


def _find_missing(fault: CellFault) -> str:
    """The field that isn't there, of an entry of a list where the fault is one's; empty for other faults."""
    missing = _MISSING.match(fault.reason)
    entry = _ENTRY.match(fault.cell)
    if missing is None:
        return ""
    return f"{entry[1]}.{missing[1]}" if entry else missing[1]


#: How the reader says that a field is missing, and what an entry of a list is called in a form.
_MISSING: Final = re.compile(r"`([a-z_.]+)` is missing")
_ENTRY: Final = re.compile(r"(.*\.[0-9]+)(?:\.|$)")


def _save(
    held: HeldSeason,
    changes: Sequence[Addition | Mending],
    papers: Mapping[str, bytes],
    outcome: Outcome,
) -> None:
    snapshot = held.look()
    if snapshot.broken:
        told = "; ".join(error.text() for error in snapshot.broken[:3])
        outcome.refuse(
            0, "", f"the season's files can't be read as they are now ({told}). Nothing was written."
        )
        return
    season = snapshot.season
    planned = _plan(season, changes, outcome)
    canonical = _read_alone(season, planned, outcome)
    if outcome.refused or not (planned or papers):
        return
    tried = _place(held, snapshot, planned, canonical, papers, outcome)
    if tried is None:
        return
    placed, after, errors = tried
    outcome.done = [_call(name) for name, _ in (*placed.added, *placed.changed)]
    outcome.files = list(placed.contents)
    written = {**papers, **placed.contents}
    if _write(held, season, written, papers, outcome):
        held.take_over(after, errors, written)


def _write(
    held: HeldSeason,
    season: Season,
    contents: Mapping[str, bytes],
    papers: Mapping[str, bytes],
    outcome: Outcome,
) -> bool:
    """Writes through the season's history, if the files are still what was read of them; whether it did."""
    read = {name: season.sources[name].sha256 if name in season.sources else "" for name in contents}
    # The same paper sent again is there already.
    read |= {name: digest(data) if (held.folder / name).exists() else "" for name, data in papers.items()}
    says = ", ".join((*papers, *outcome.done))
    try:
        change = write_change(held.folder, contents, name_author(), read=read, says=says)
    except (HistoryError, PathError) as fault:
        # What stood there couldn't be kept: nothing may give way.
        outcome.done, outcome.files = [], []
        outcome.refuse(0, "", f"{fault}.")
        return False
    outcome.change = change.number if change is not None else 0
    return True


def _place(
    held: HeldSeason,
    snapshot: Snapshot,
    planned: Sequence[_Planned],
    canonical: Mapping[int, dict[str, Any]],
    papers: Mapping[str, bytes],
    outcome: Outcome,
) -> tuple[Placed, Season, tuple[ReadingError, ...]] | None:
    """The files as they would be, and the season that they give; None with a fault where that can't be."""
    adds = [one.record for one in planned if one.change is None]
    mends = [one.change for one in planned if one.change is not None]
    known = [error for error in snapshot.result.errors if not is_about_previous(error)]
    try:
        placed = place_records(held.folder, snapshot.season, adds, mends)
        expected = _expect(planned, canonical)
        changed = {**papers, **placed.contents}
        after, errors = verify_whole(held.folder, snapshot.season, changed, expected, known, cache=held.cache)
        verify_season(snapshot.season, placed.contents, mends)
    except (SpliceError, ImportRefusedError, PathError) as fault:
        outcome.refuse(0, "", f"{fault}.")
        return None
    except ParsingError as fault:
        outcome.refuse(0, "", f"{fault.error.text()}. Mend that line first; nothing was written.")
        return None
    return placed, after, errors


def _call(name: str) -> str:
    table, _, key = name.partition(" ")
    return f"{noun(table)} {key}".strip()


def _expect(planned: Sequence[_Planned], canonical: Mapping[int, dict[str, Any]]) -> Expected:
    records = {
        (one.record.table, one.record.key): canonical[index]
        for index, one in enumerate(planned)
        if one.record.key
    }
    return Expected(records, sum(not one.record.key for one in planned if one.change is None))


def next_number(season: Season, table: str, beside: Sequence[str] = ()) -> str:
    """The number that follows a table's last one: `B26-153` after `B26-152`; empty where none can be told."""
    key = load_tables()[table].key
    if not key:
        return ""
    names = [str(name) for name in season.tables[table][key].tolist()]
    if not names:
        return ""
    known = {*names, *beside}
    last = (beside or names)[-1]
    digits = len(last) - len(last.rstrip("0123456789"))
    if not digits:
        return ""
    head, number = last[:-digits], int(last[-digits:])
    while f"{head}{number:0{digits}}" in known:
        number += 1
    return f"{head}{number:0{digits}}"
