"""The changes of a season as text: when, by whom, in which files, and what each field said."""

from __future__ import annotations

import sys
from difflib import unified_diff
from typing import TYPE_CHECKING, Final

from certgen.cli.terminal import Terminal, clean
from certgen.exchange.editing.history import KEPT_BYTES, KEPT_DAYS, KEPT_LEAST
from certgen.exchange.editing.skeleton import SCHEMA_FOLDER
from certgen.rules.wording import capital, count, day, join, noun

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from datetime import datetime
    from pathlib import Path

    from certgen.exchange.editing.differences import FieldChange, RecordChange
    from certgen.exchange.editing.history import Change, History
    from certgen.exchange.editing.undoing import Undo, UndoRefusedError, Versions

#: Of how many changes, records of one change, and lines of a difference a list tells unasked.
_CHANGES: Final = 20
_RECORDS: Final = 6
_LINES: Final = 80
_SHOWN: Final = {"added": "added", "removed": "taken out", "changed": "changed"}


def write_history(folder: Path, history: History, changes: Sequence[Change], *, whole: bool) -> None:
    """Some changes of a season's history, in full where `whole`."""
    out = Terminal()
    if not changes:
        out.text(
            f"No change of {folder} is kept. What certgen writes into the records is kept from now on, for"
            f" {KEPT_DAYS} days and up to {KEPT_BYTES // 2**30} GB; the latest {KEPT_LEAST} stay in any case."
        )
        return
    undone = history.undone()
    shown = changes if whole else changes[:_CHANGES]
    for change in shown:
        out.heading(f"{change.number}  {_say_moment(change.at)}  {clean(_say_author(change))}")
        if change.undoes:
            out.text(f"takes change {change.undoes} back", 4, hang=2)
        if change.number in undone:
            out.text(f"undone by change {undone[change.number]}", 4, hang=2)
        if change.says:
            out.text(change.says, 4, hang=2)
        _write_files(out, change)
        _write_records(out, change.records, change.untold, whole=whole)
        if change.unread:
            out.text(f"what became of the records can't be told: {change.unread}", 4, hang=2)
    if len(shown) < len(changes):
        out.line()
        out.text(f"and {count(len(changes) - len(shown), 'earlier change')}; --all lists them")


def write_undo(undo: Undo) -> None:
    """What taking a change back would do."""
    out = Terminal()
    change = undo.change
    out.text(f"Change {change.number} of {_say_moment(change.at)}, {_say_author(change)}, would be undone:")
    helps = [name for name in undo.contents if name.startswith(f"{SCHEMA_FOLDER}/")]
    if helps:
        out.text(f"{SCHEMA_FOLDER}/, {count(len(helps), 'file')} for editors, would be as before", 2, hang=2)
    for name, data in undo.contents.items():
        if name in helps:
            continue
        what = "would be taken away (it is kept)" if data is None else "would be as it was before"
        if name in undo.merged:
            what = "was changed again since; that stays, and only what this change did would go"
        out.text(f"{name} {what}", 2, hang=2)
    _write_records(out, undo.records, 0, whole=False)


def write_versions(fault: UndoRefusedError) -> None:
    """Each file that was changed again: as the change had left it, and as it is now."""
    for versions in fault.versions:
        sys.stderr.writelines(f"{line}\n" for line in _compare(versions))


def _compare(versions: Versions) -> Iterator[str]:
    name = clean(versions.file)
    if versions.there is None:
        yield f"{name} is gone; the change had left a file there."
        return
    if versions.left is None:
        yield f"{name} is there now; how the change left it isn't kept, or it left no file."
        return
    try:
        left, there = (data.decode("utf-8").splitlines() for data in (versions.left, versions.there))
    except UnicodeDecodeError:
        sizes = f"{len(versions.left):,} bytes after the change and holds {len(versions.there):,} now"
        yield f"{name} held {sizes}."
        return
    lines = list(
        unified_diff(left, there, f"{name} as the change left it", f"{name} as it is now", lineterm="")
    )
    yield from map(clean, lines[:_LINES])
    if len(lines) > _LINES:
        yield f"and {count(len(lines) - _LINES, 'line')} more"


def _say_moment(at: datetime) -> str:
    return f"{day(at.date())}, {at:%H:%M}"


def _say_author(change: Change) -> str:
    return f"{change.command}, by {change.person}" if change.person else change.command


def _write_files(out: Terminal, change: Change) -> None:
    files = [file.path for file in change.files]
    seen = [name for name in files if not name.startswith(".")] or files
    more = f" and {len(seen) - 12} more" if len(seen) > 12 else ""
    out.text(", ".join(seen[:12]) + more, 4, hang=2)
    if change.edited:
        out.text(f"worked on by hand before that: {join(change.edited)}", 4, hang=2)


def _write_records(out: Terminal, records: Sequence[RecordChange], untold: int, *, whole: bool) -> None:
    shown = records if whole else records[:_RECORDS]
    for record in shown:
        out.text(_say_record(record), 4, hang=2)
    if more := len(records) - len(shown) + untold:
        out.text(f"and {count(more, 'more record')}", 4, hang=2)


def _say_record(record: RecordChange) -> str:
    name = f"{noun(record.table)} {record.record}".strip()
    fields = "; ".join(_say_field(field, record.what) for field in record.fields)
    return f"{capital(name)} {_SHOWN[record.what]}: {fields}"


def _say_field(field: FieldChange, what: str) -> str:
    if what != "changed":
        return f"{field.field} {field.new if what == 'added' else field.old}"
    old, new = ("nothing" if value is None else f"“{value}”" for value in (field.old, field.new))
    return f"{field.field} from {old} to {new}"
