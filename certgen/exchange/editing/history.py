"""Every change that certgen makes to a season's own files: told, and with what stood there before kept whole.

All that writes records or evidence writes through `write_change`. In the season's hidden folder `.history`
lies an entry a change (`000007.json`) and, below `files/`, each file that gave way, whole, under its own name
and its digest; record files are packed (gzip), and as the change left them they are kept too, so that a later
change can be told from it. An entry, what it keeps and the new files appear together or not at all.

The history is the grower's own: no reader takes it for records, no packet, manifest or disclosure names it,
and a co-op's office leaves it in the archive. A season's folder may come from a stranger, history included:
what an entry names is held to the season's files, and what is kept counts only with its digest.
"""

from __future__ import annotations

import gzip
import os
import re
import stat
import zlib
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Annotated, Final, NamedTuple

import msgspec

from certgen.exchange.editing.differences import RecordChange, UntoldError, compare_first
from certgen.output_places.places import mend_folder
from certgen.records.record_files.files import EVIDENCE
from certgen.whole_files import MOST, contained_path, is_record, name_type, read_ordinary, write_all
from certgen.write_journal import NAMED, digest, hold_folder

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

#: The history's folder, below the season's.
HISTORY: Final = ".history"
#: Changes older than this are let go, the oldest also where all together take more than so many bytes; of
#: the latest so many stay in any case.
KEPT_DAYS: Final = 800
KEPT_BYTES: Final = 1 << 30
KEPT_LEAST: Final = 50

_FILES: Final = f"{HISTORY}/files"
_ENTRY: Final = re.compile(r"([0-9]{6}|[1-9][0-9]{6,8})\.json")
_ENTRY_BYTES: Final = 16 << 20
#: Fields that an entry tells; the others are counted.
_FIELDS_TOLD: Final = 5_000
#: Letters of a digest in a kept file's name.
_DIGITS: Final = 32
#: To look through all of it at every change would make a long history slow.
_PRUNE_EVERY: Final = 20
_DIGEST: Final = re.compile(r"(?:[0-9a-f]{64})?")


class HistoryError(ValueError):
    """A history that can't be read or added to; the message says why and what to do."""


class ChangedMeanwhileError(ValueError):
    """A file that isn't any more what the change was made for: nothing was written.

    `file` is its name below the season's folder, `there` what it holds now (None: it is gone).
    """

    def __init__(self, file: str, there: bytes | None) -> None:
        super().__init__(f"{file} was changed meanwhile; nothing was written. Run the command again")
        self.file = file
        self.there = there


class Author(NamedTuple):
    """Who makes a change: the command or page that is used, and the person as far as that is known."""

    command: str
    person: str = ""


def name_account() -> str:
    """The account of this machine that runs the program; empty where it has no name."""
    import getpass

    try:
        return getpass.getuser()
    except (KeyError, OSError, ImportError):
        return ""


class FileChange(msgspec.Struct, frozen=True):
    """A file below the season's folder, and the SHA-256 of what it held before and after; empty: no file."""

    path: str
    old: str
    new: str


class Change(msgspec.Struct, frozen=True):
    """An entry of the history. `at` is its day and time with the distance from UTC.

    `says` is what it was in a line, where its author gave one. `records` tells what became of records,
    `untold` counts the records that aren't listed; `unread` says why nothing could be told. `undoes` is the
    number of the change that was undone, 0 for none. `edited` names files that weren't any more as the change
    before had left them: somebody had worked on them by hand.
    """

    number: int
    at: Annotated[datetime, msgspec.Meta(tz=True)]
    command: str
    person: str
    files: tuple[FileChange, ...]
    says: str = ""
    records: tuple[RecordChange, ...] = ()
    untold: int = 0
    unread: str = ""
    undoes: int = 0
    edited: tuple[str, ...] = ()


class History(NamedTuple):
    """The changes that are kept, the latest first, and the names of entries that can't be read."""

    changes: tuple[Change, ...]
    damaged: tuple[str, ...]

    def find(self, number: int) -> Change | None:
        """The change of that number, if it is kept."""
        return next((change for change in self.changes if change.number == number), None)

    def undone(self) -> dict[int, int]:
        """Each change that is undone at present, and the number of the one that did it."""
        found: dict[int, int] = {}
        for change in self.changes:
            if change.undoes and change.number not in found:
                found.setdefault(change.undoes, change.number)
        return found


def write_change(
    folder: Path,
    contents: Mapping[str, bytes | None],
    author: Author,
    *,
    read: Mapping[str, str] | None = None,
    says: str = "",
    undoes: int = 0,
    at: datetime | None = None,
    sound: bool = False,
) -> Change | None:
    """Write files of a season, all or none, and keep what stood there; None where nothing would change.

    `contents` are whole files by their path below the season's folder, None for one to be taken away. `read`
    gives the SHA-256 of what a file held when the change was made up, empty for no file: where it holds
    something else by now, `ChangedMeanwhileError` is raised and nothing is written. `says` tells the change
    in a line, `at` is its moment, by default now, and `sound` says that the reader of records has read all of
    what is written and of what stood there. Raises `PathError` and `HistoryError` besides, and as
    `write_all` does.
    """
    folder.mkdir(parents=True, exist_ok=True)
    with hold_folder(folder):
        mend_folder(folder)
        before = {name: read_file(folder, name) for name in contents}
        for name, seal in (read or {}).items():
            if name in before and seal != _seal(before[name]):
                raise ChangedMeanwhileError(name, before[name])
        after = {name: data for name, data in contents.items() if data != before[name]}
        if not after:
            return None
        _hold_history(folder)
        change = _tell(folder, {name: before[name] for name in after}, after, author, sound)
        change = msgspec.structs.replace(
            change, says=says, undoes=undoes, at=at or datetime.now(UTC).astimezone()
        )
        _write(folder, change, before, after)
        if change.number % _PRUNE_EVERY == 0:
            prune(folder, change.at)
    return change


def read_file(folder: Path, name: str) -> bytes | None:
    """What a file of a season holds, None if there is none. Raises `PathError` and `OSError`."""
    path = _season_file(folder, name)
    return read_ordinary(path) if os.path.lexists(path) else None


def _season_file(folder: Path, name: str) -> Path:
    """The place of one of a season's own files, no link on the way; the history isn't one of them."""
    path = contained_path(folder, name)
    parts = PurePosixPath(name).parts
    if HISTORY in (part.casefold() for part in parts) or not name.isprintable():
        raise HistoryError(f"{name!a} is no file of a season")
    if Path(os.path.realpath(path.parent)) != Path(os.path.realpath(folder), *parts[:-1]):
        raise HistoryError(f"{name!a} lies behind a link; copy the folder in")
    return path


def _seal(data: bytes | None) -> str:
    return "" if data is None else digest(data)


def _tell(
    folder: Path,
    before: Mapping[str, bytes | None],
    after: Mapping[str, bytes | None],
    author: Author,
    sound: bool,
) -> Change:
    files = tuple(FileChange(name, _seal(before[name]), _seal(after[name])) for name in sorted(after))
    old, new = ({name: part[name] for name in after if _holds_records(name)} for part in (before, after))
    told: tuple[RecordChange, ...] = ()
    untold, unread = 0, ""
    try:
        told, untold = compare_first(old, new, _FIELDS_TOLD, sound=sound)
    except UntoldError as fault:
        unread = str(fault)
    numbers = _list_numbers(folder)
    left = _left_by_last(folder, numbers)
    return Change(
        number=max(numbers, default=0) + 1,
        at=datetime.now(UTC),
        command=author.command,
        person=author.person,
        files=files,
        records=told,
        untold=untold,
        unread=unread,
        edited=tuple(file.path for file in files if left.get(file.path, file.old) != file.old),
    )


def _left_by_last(folder: Path, numbers: Iterable[int]) -> dict[str, str]:
    """The digests of the files as the last change left those that it touched."""
    with suppress(HistoryError, ValueError):
        return {file.path: file.new for file in _read_entry(folder, max(numbers)).files}
    return {}


def _holds_records(name: str) -> bool:
    return is_record(Path(name)) and PurePosixPath(name).parts[0] != EVIDENCE


# The folder.


def _hold_history(folder: Path) -> None:
    """Refuse to keep anything where the history's folder is something else."""
    for name in (HISTORY, _FILES):
        with suppress(FileNotFoundError):
            mode = (folder / name).lstat().st_mode
            if not stat.S_ISDIR(mode):
                raise HistoryError(
                    f"{folder / name} is {name_type(mode)}, and changes are kept in a folder of this name;"
                    " nothing was written. Move it away"
                )


def _write(
    folder: Path, change: Change, before: Mapping[str, bytes | None], after: Mapping[str, bytes | None]
) -> None:
    """The new files with the entry and what it keeps."""
    contents: dict[Path, bytes] = {}
    private: list[Path] = []
    removed: dict[Path, Path] = {}
    for name in (file.path for file in change.files):
        place, old, new = _season_file(folder, name), before[name], after[name]
        kept: list[Path] = []
        if old is not None:
            kept.append(_keep(folder, name, old, contents, packed=new is not None))
        if new is None:
            removed[place] = kept[0]
        elif is_record(place):
            kept.append(_keep(folder, name, new, contents, packed=True))
        # What was taken away and comes again is as private as its copy.
        if _is_private(place if old is not None else _kept_place(folder, name, _seal(new), packed=False)):
            private += [place, *kept]
    entry = folder / HISTORY / f"{change.number:06}.json"
    contents[entry] = msgspec.json.format(msgspec.json.encode(change), indent=1) + b"\n"
    if private:
        private.append(entry)
    contents |= {_season_file(folder, name): data for name, data in after.items() if data is not None}
    write_all(contents, home=folder, private=private, removed=removed)


def _is_private(path: Path) -> bool:
    """Whether a file is there for its owner's eyes only."""
    try:
        return not path.lstat().st_mode & 0o077
    except FileNotFoundError:
        return False


def _keep(folder: Path, name: str, data: bytes, contents: dict[Path, bytes], *, packed: bool) -> Path:
    """Have a file kept, unless it is; the place where it is kept. What is taken away lies there as it was."""
    packed = packed and is_record(Path(name))
    path = _kept_place(folder, name, digest(data), packed=packed)
    written = gzip.compress(data, 6, mtime=0) if packed else data
    if path not in contents:
        with suppress(OSError):
            if read_ordinary(path) == written:
                return path
            # Damaged: what is whole takes its place.
            path.unlink()
        if path.is_dir():
            raise HistoryError(
                f"{path} is a folder where a file is to be kept; nothing was written. Move it away"
            )
        contents[path] = written
    return path


def _kept_place(folder: Path, name: str, seal: str, *, packed: bool) -> Path:
    ending = ".gz" if packed else ""
    return folder / _FILES / f"{PurePosixPath(name).name[:NAMED]}.{seal[:_DIGITS]}{ending}"


def read_kept(folder: Path, name: str, seal: str) -> bytes | None:
    """A file as it was when it had this SHA-256; None where that isn't kept, or not whole."""
    for packed in (True, False):
        with suppress(OSError, zlib.error):
            data = read_ordinary(_kept_place(folder, name, seal, packed=packed))
            if packed:
                # No more than what a file may hold, whatever the packed one would grow to.
                data = zlib.decompressobj(31).decompress(data, MOST)
            if digest(data) == seal:
                return data
    return None


def read_history(folder: Path) -> History:
    """All changes that are kept of a season, none where there is no history. Raises `OSError`."""
    changes, damaged = [], []
    for number in sorted(_list_numbers(folder), reverse=True):
        try:
            changes.append(_read_entry(folder, number))
        except HistoryError as fault:
            damaged.append(str(fault))
    return History(tuple(changes), tuple(damaged))


def _list_numbers(folder: Path) -> list[int]:
    try:
        names = [path.name for path in (folder / HISTORY).iterdir()]
    except (FileNotFoundError, NotADirectoryError):
        return []
    return [int(found[1]) for found in map(_ENTRY.fullmatch, names) if found]


def _read_entry(folder: Path, number: int) -> Change:
    """An entry. Raises `HistoryError` for what certgen didn't leave like this."""
    name = f"{HISTORY}/{number:06}.json"
    try:
        change = msgspec.json.decode(read_ordinary(folder / name, _ENTRY_BYTES), type=Change)
    except (msgspec.MsgspecError, OSError, RecursionError) as fault:
        raise HistoryError(f"{name} can't be read as an entry of the history ({fault})") from None
    sound = all(_DIGEST.fullmatch(seal) for file in change.files for seal in (file.old, file.new))
    if change.number != number or not change.files or not sound or change.undoes >= number:
        raise HistoryError(f"{name} is no entry that certgen wrote")
    return change


def prune(folder: Path, now: datetime) -> None:
    """Let go what is older or takes more room than `KEPT_DAYS` and `KEPT_BYTES` allow.

    Where an entry can't be read nothing goes: nobody knows what it needs.
    """
    history = read_history(folder)
    if history.damaged:
        return
    with suppress(OSError):
        sizes = {path.name: path.stat().st_size for path in (folder / _FILES).iterdir()}
        held: set[str] = set()
        room = stay = 0
        for change in history.changes:
            more = _names_kept(folder, change) - held
            room += sum(sizes.get(name, 0) for name in more)
            is_old = change.at < now - timedelta(days=KEPT_DAYS)
            if stay >= KEPT_LEAST and (is_old or room > KEPT_BYTES):
                break
            held |= more
            stay += 1
        for change in history.changes[stay:]:
            (folder / HISTORY / f"{change.number:06}.json").unlink()
        for name in sizes.keys() - held:
            (folder / _FILES / name).unlink()


def _names_kept(folder: Path, change: Change) -> set[str]:
    """The names under which a change's files may be kept."""
    return {
        _kept_place(folder, file.path, seal, packed=packed).name
        for file in change.files
        for seal in (file.old, file.new)
        if seal
        for packed in (True, False)
    }
