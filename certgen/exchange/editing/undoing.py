"""A change taken back: its files are again what they were before it, to the byte.

Where a file was changed again since, by another command or by hand, what the change did is taken out of it
and the rest stays, if the two can be told apart. Otherwise nothing is written, and both versions are given.
Taking back is a change like any other, and can be taken back.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from certgen.exchange.editing.differences import RecordChange, UntoldError, compare_files
from certgen.exchange.editing.history import HistoryError, read_file, read_history, read_kept, write_change
from certgen.exchange.editing.merging import merge_change
from certgen.rules.wording import join
from certgen.whole_files import is_record
from certgen.write_journal import digest

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from certgen.exchange.editing.history import Author, Change, FileChange, History

#: What a file holds; None is no file.
Content = bytes | None


class Versions(NamedTuple):
    """A file that was changed again: as the change had left it (None: no file, or kept no longer), as it is
    now, and the later changes that touched it, none where somebody worked on it by hand.
    """

    file: str
    left: Content
    there: Content
    later: tuple[int, ...]


class UndoRefusedError(ValueError):
    """A change that can't be taken back; the message says why, `versions` what stands there."""

    def __init__(self, message: str, versions: Sequence[Versions] = ()) -> None:
        super().__init__(message)
        self.versions = tuple(versions)


@dataclass(frozen=True, slots=True)
class Undo:
    """What taking a change back would do to a season: the contents of its files by name, and the SHA-256 of
    what was read of each. `merged` names the files in which later changes stay.
    """

    folder: Path
    change: Change
    contents: Mapping[str, Content]
    read: Mapping[str, str]
    merged: tuple[str, ...]
    records: tuple[RecordChange, ...]

    def carry_out(self, author: Author) -> Change | None:
        """Do it, all or nothing. Raises as `write_change` does."""
        return write_change(self.folder, self.contents, author, read=self.read, undoes=self.change.number)


def plan_undo(folder: Path, number: int | None = None) -> Undo:
    """How a change is taken back; without a number the latest that stands and took none back itself.

    Nothing is written. Raises `UndoRefusedError`, and as `read_file` does.
    """
    history = read_history(folder)
    change = _choose(history, number)
    contents: dict[str, Content] = {}
    read: dict[str, str] = {}
    merged, conflicts = [], []
    for file in change.files:
        there = read_file(folder, file.path)
        seal = "" if there is None else digest(there)
        if seal == file.old:
            continue
        read[file.path] = seal
        if seal == file.new:
            contents[file.path] = _recall(folder, change, file)
        elif (mixed := _merge_file(folder, file, there)) is not None:
            contents[file.path] = mixed
            merged.append(file.path)
        else:
            left = read_kept(folder, file.path, file.new) if file.new else None
            conflicts.append(Versions(file.path, left, there, _list_later(history, change, file.path)))
    if conflicts:
        raise UndoRefusedError(_say_changed(change, conflicts), conflicts)
    if not contents:
        raise UndoRefusedError(
            f"nothing is left of change {change.number}: its files are as they were before"
        )
    return Undo(folder, change, contents, read, tuple(merged), _tell(folder, contents))


def _choose(history: History, number: int | None) -> Change:
    undone = history.undone()
    if number is None:
        for change in history.changes:
            if change.number not in undone and not change.undoes:
                return change
        raise UndoRefusedError("there is no change that could be undone")
    wanted = history.find(number)
    if wanted is None:
        known = [change.number for change in history.changes]
        kept = f"those from {known[-1]} to {known[0]} are" if known else "none is"
        raise UndoRefusedError(f"no change {number} is kept; {kept}")
    if number in undone:
        by = undone[number]
        raise UndoRefusedError(
            f"change {number} is undone already, by change {by}. To have it back, undo change {by}"
        )
    return wanted


def _recall(folder: Path, change: Change, file: FileChange) -> Content:
    """What a file held before a change."""
    if not file.old:
        return None
    data = read_kept(folder, file.path, file.old)
    if data is None:
        raise UndoRefusedError(
            f"what {file.path} held before change {change.number} isn't kept any more, or was damaged"
        )
    return data


def _list_later(history: History, change: Change, path: str) -> tuple[int, ...]:
    """The changes after one that touched a file and stand, the latest first."""
    undone = history.undone()
    return tuple(
        later.number
        for later in history.changes
        if later.number > change.number
        and later.number not in undone
        and later.undoes not in undone
        and any(file.path == path for file in later.files)
    )


def _say_changed(change: Change, conflicts: Sequence[Versions]) -> str:
    files = join(one.file for one in conflicts)
    later = sorted({number for one in conflicts for number in one.later}, reverse=True)
    if later:
        numbers = join(f"change {number}" for number in later)
        way = f"by {numbers}; undo that first, the latest before the others"
    else:
        way = "by hand since. Both versions are shown; take back by hand what isn't to stay"
    return f"change {change.number} can't be undone: {files} was changed again {way}. Nothing was written"


def _tell(folder: Path, contents: Mapping[str, Content]) -> tuple[RecordChange, ...]:
    """What taking back does to the records, as far as they can be read."""
    records = {name: data for name, data in contents.items() if not name.startswith(("evidence/", "."))}
    try:
        return compare_files({name: read_file(folder, name) for name in records}, records)
    except (UntoldError, HistoryError):
        return ()


def _merge_file(folder: Path, file: FileChange, there: Content) -> Content:
    """The file without what the change did to it; None where that can't be told apart."""
    if there is None or not (file.old and file.new and is_record(folder / file.path)):
        return None
    old, new = (read_kept(folder, file.path, seal) for seal in (file.old, file.new))
    if old is None or new is None:
        return None
    return merge_change(file.path, new, old, there)
