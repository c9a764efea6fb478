"""What was changed in a season's files between two recorded changes: by an editor's hand, as far as the
history can know it.

Of every file the history holds what a change found and what it left. Where the next change found something
else, somebody else had been there.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from certgen.exchange.editing.differences import RecordChange, UntoldError, compare_files
from certgen.exchange.editing.history import HistoryError, read_file, read_kept
from certgen.whole_files import PathError, is_record
from certgen.write_journal import digest

if TYPE_CHECKING:
    from pathlib import Path

    from certgen.exchange.editing.history import History


class HandEdit(NamedTuple):
    """A file that wasn't any more as change `after` had left it when change `before` found it, 0 for now.

    `left` and `found` are its SHA-256 then, empty for no file. `sure` is false where entries in between can't
    be read: what they did may be all there is to it.
    """

    path: str
    after: int
    before: int
    left: str
    found: str
    sure: bool


def list_hand_edits(folder: Path, history: History) -> tuple[HandEdit, ...]:
    """Every change of a file that no entry of the history tells, the latest first."""
    kept = {change.number for change in history.changes}
    last: dict[str, tuple[int, str]] = {}
    found: list[HandEdit] = []

    def meet(path: str, number: int, seal: str) -> None:
        after, left = last.get(path, (0, seal))
        if left != seal:
            until = number or max(kept) + 1
            sure = all(between in kept for between in range(after, until))
            found.append(HandEdit(path, after, number, left, seal, sure))

    for change in reversed(history.changes):
        for file in change.files:
            meet(file.path, change.number, file.old)
            last[file.path] = (change.number, file.new)
    for path in sorted(last):
        seal = _seal_now(folder, path)
        if seal is not None:
            meet(path, 0, seal)
    return tuple(reversed(found))


def _seal_now(folder: Path, path: str) -> str | None:
    """The SHA-256 of a record file as it is, None where that isn't looked at."""
    if not is_record(folder / path):
        return None
    try:
        data = read_file(folder, path)
    except (PathError, HistoryError, OSError):
        return None
    return "" if data is None else digest(data)


def tell_hand_edit(folder: Path, edit: HandEdit) -> tuple[RecordChange, ...]:
    """What it did to the records; nothing where that can't be told. Raises `OSError`."""
    before = read_kept(folder, edit.path, edit.left) if edit.left else None
    after = read_kept(folder, edit.path, edit.found) if edit.found else None
    if edit.found and after is None:
        # Found just now, it isn't kept yet.
        after = read_file(folder, edit.path)
        if after is None or digest(after) != edit.found:
            return ()
    if edit.left and before is None:
        return ()
    try:
        return compare_files({edit.path: before}, {edit.path: after})
    except UntoldError:
        return ()
