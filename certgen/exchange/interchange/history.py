"""The changes of a season's records for other programs: one JSON object."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from certgen.exchange.editing.history import KEPT_BYTES, KEPT_DAYS, KEPT_LEAST

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from certgen.exchange.editing.differences import RecordChange
    from certgen.exchange.editing.history import Change, History

#: The form of `history --format json`. It goes up when a key changes its meaning or goes away.
FORMAT: Final = 1


def build_history(history: History, changes: Iterable[Change]) -> dict[str, Any]:
    """The object that `schemas/output/history.json` describes, of some of a history's changes."""
    undone = history.undone()
    return {
        "format": FORMAT,
        "kept": {"days": KEPT_DAYS, "bytes": KEPT_BYTES, "least": KEPT_LEAST},
        "changes": [_tell(change, undone) for change in changes],
        "damaged": list(history.damaged),
    }


def _tell(change: Change, undone: Mapping[int, int]) -> dict[str, Any]:
    return {
        "number": change.number,
        "at": change.at.isoformat(timespec="seconds"),
        "command": change.command,
        "person": change.person,
        "says": change.says,
        "files": [
            {"path": file.path, "old": file.old or None, "new": file.new or None} for file in change.files
        ],
        "records": [_tell_record(record) for record in change.records],
        "untold": change.untold,
        "unread": change.unread,
        "edited": list(change.edited),
        "undoes": change.undoes or None,
        "undone_by": undone.get(change.number),
    }


def _tell_record(record: RecordChange) -> dict[str, Any]:
    return {
        "table": record.table,
        "record": record.record,
        "what": record.what,
        "fields": [{"field": one.field, "old": one.old, "new": one.new} for one in record.fields],
    }
