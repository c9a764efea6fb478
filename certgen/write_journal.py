"""A note of the files that are about to take their places together, for the case that the run is killed.

Each of several files can be put in place at one stroke, all of them can't. So before the first takes its
place, a hidden note in the folder says which waits for which place, by digest. A run that ends by itself
takes the note away. One that was killed leaves it, and whoever writes or reads there next finishes what all
is there for, or undoes what had not begun.

A folder may come from a stranger, note included. A note is believed that the user owns, and that names
ordinary files below its folder, each waiting beside its place under the name that certgen gives such files.
What is put in place is what waits, whole, and never over a file that somebody changed since.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import stat
import time
from contextlib import contextmanager, suppress
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Any, Final, NamedTuple, Self

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence

#: The note's name, in the folder that all its files lie below.
JOURNAL: Final = ".certgen-unfinished"
#: How much of a file's name the one that waits beside it bears, and what that one ends in.
NAMED: Final = 40
PART: Final = ".part"
RANDOM: Final = re.compile(r"[a-z0-9_]{8}")

_DIGEST: Final = re.compile(r"[0-9a-f]{64}")
_HEAD: Final = b"certgen unfinished writing 1 "
#: No season has so many files, and no set of files is so large.
_MOST_FILES: Final = 10_000
_NOTE_BYTES: Final = 8 << 20
_ALL_BYTES: Final = 2 << 30
#: How long a run at work is waited for, and how often it is asked for, in seconds.
_PATIENCE: Final = 3.0
_PAUSE: Final = 0.05
#: To read what was an ordinary file a moment ago: nothing else is waited for, and no link is followed.
_AT_ONCE: Final = (
    os.O_RDONLY | getattr(os, "O_BINARY", 0) | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_NOFOLLOW", 0)
)


class UnfinishedError(OSError):
    """Writing that was cut short and can't be mended from here; the message says what to do."""


class Waiting(NamedTuple):
    """A file below the note's folder: its place, the name that it waits under beside it, and its digests.

    `old` is what the place held before, empty for nothing. With `new` empty the file is to be taken away;
    `part` is then the path below the folder at which the same bytes are kept.
    """

    place: str
    part: str
    new: str
    old: str


def digest(data: bytes) -> str:
    """SHA-256 as hexadecimal."""
    return hashlib.sha256(data).hexdigest()


class Journal:
    """The note of a run at work, locked until it is done; a killed run's lock is gone with it."""

    def __init__(self, path: Path, handle: int) -> None:
        self._path = path
        self._handle = handle

    @classmethod
    def begin(cls, folder: Path, files: Iterable[Waiting]) -> Self:
        """Note what waits, on the disk. Raises `UnfinishedError` if another run is at work there, `OSError`
        if no note can be left.
        """
        path = folder / JOURNAL
        body = json.dumps([list(file) for file in files]).encode()
        handle = _create(folder, path)
        journal = cls(path, handle)
        try:
            os.write(handle, _HEAD + digest(body).encode() + b"\n" + body)
            os.fsync(handle)
        except BaseException:
            journal.close()
            raise
        return journal

    def close(self) -> None:
        """Take the note away: all files are in their places, or all are as they were."""
        try:
            self._path.unlink(missing_ok=True)
        finally:
            os.close(self._handle)


def _create(folder: Path, path: Path) -> int:
    """An empty note of this run's own, locked. Raises as `Journal.begin` does."""
    started = time.monotonic()
    while time.monotonic() - started < _PATIENCE:
        with suppress(FileExistsError):
            handle = os.open(path, os.O_RDWR | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o600)
            # A reader may have taken the empty note for a killed run's, and have taken it away.
            if _lock(handle) and _bears(path, handle):
                return handle
            os.close(handle)
        time.sleep(_PAUSE)
    raise UnfinishedError(_say_busy(folder))


@contextmanager
def hold_folder(folder: Path) -> Iterator[None]:
    """Let other runs that would hold a folder wait, from before its files are looked at until they are new.

    Raises `UnfinishedError` where another run holds it for longer than is waited.
    """
    handle = os.open(folder, os.O_RDONLY) if os.name == "posix" else None  # others open no folders
    try:
        if handle is not None:
            _wait_for(folder, handle)
        yield
    finally:
        if handle is not None:
            os.close(handle)


def mend(folder: Path, may_replace: Callable[[Path], bool]) -> str:
    """Finish or undo what a killed run noted in a folder; a sentence says which, empty if there was nothing.

    `may_replace` tells whether a file that is there is one that may give way. Raises `UnfinishedError` if it
    can't be mended: not from here, not safely, or not yet.
    """
    path = folder / JOURNAL
    try:
        if not stat.S_ISREG(path.lstat().st_mode):
            raise UnfinishedError(_say_foreign(folder, "is no ordinary file"))
        with _open_note(folder, path) as handle:
            # It may have come to its end meanwhile.
            return _mend(folder, _read_note(folder, handle), may_replace) if _bears(path, handle) else ""
    except (FileNotFoundError, NotADirectoryError):
        return ""
    except UnfinishedError:
        raise
    except OSError as fault:
        raise UnfinishedError(
            f"{_say_cut_short(folder)} and can't be mended from here:"
            f" {(fault.strerror or str(fault)).lower()}. Run the command as the user who owns the folder"
        ) from fault


def say_unfinished() -> str:
    """What a reader says of a folder with a note in it, to follow the note's name."""
    return (
        "says that files of this folder were being put in place when that was cut short: some may be new and"
        " others old. `certgen check` in the folder, by the user who owns it, finishes or undoes that"
    )


def _mend(folder: Path, files: Sequence[Waiting], may_replace: Callable[[Path], bool]) -> str:
    path = folder / JOURNAL
    done, ready, other = _sort(folder, files, may_replace)
    if files and not other:
        for file in ready:
            _put_in_place(folder, file)
        for file in done:
            _drop_part(folder, file)
        path.unlink()
        return f"{_say_cut_short(folder)}; it is finished now: {_name([file.place for file in files])}."
    moved = [file for file in done if file.new != file.old]
    if not moved:
        for file in files:
            _drop_part(folder, file)
        path.unlink()
        return f"{_say_cut_short(folder)}; it is undone, and all files are as they were."
    raise UnfinishedError(
        f"{_say_cut_short(folder)} and can't be finished: {_name([file.place for file in other])} changed"
        f" since, or what was to take the place is gone. New already: {_name([f.place for f in moved])}. Look"
        f" these files over, then remove {path}"
    )


def _sort(
    folder: Path, files: Sequence[Waiting], may_replace: Callable[[Path], bool]
) -> tuple[list[Waiting], list[Waiting], list[Waiting]]:
    """Files in their places, files that can take theirs, and others."""
    found: tuple[list[Waiting], list[Waiting], list[Waiting]] = ([], [], [])
    done, ready, other = found
    # What is to be taken away comes last: its copy may be one of those that still wait.
    for file in sorted(files, key=lambda file: not file.new):
        there = _digest_file(folder / file.place)
        if there == file.new:
            done.append(file)
        elif there == file.old and (
            _waits(folder, file, may_replace) if file.new else _is_kept(folder, file, (*done, *ready))
        ):
            ready.append(file)
        else:
            other.append(file)
    return found


def _waits(folder: Path, file: Waiting, may_replace: Callable[[Path], bool]) -> bool:
    """Whether what is to take a file's place is there, and may."""
    is_there = _digest_file(_part_of(folder, file), own=True) == file.new
    return is_there and (not file.old or may_replace(folder / file.place))


def _is_kept(folder: Path, file: Waiting, sound: Iterable[Waiting]) -> bool:
    """Whether the bytes of a file that is to be taken away are kept elsewhere, or will be."""
    kept = {one.place: one.new for one in sound}.get(file.part) or _digest_file(folder / file.part)
    return kept == file.old


def _part_of(folder: Path, file: Waiting) -> Path:
    return (folder / file.place).with_name(file.part)


def _put_in_place(folder: Path, file: Waiting) -> None:
    if file.new:
        _part_of(folder, file).replace(folder / file.place)
    else:
        (folder / file.place).unlink()


def _drop_part(folder: Path, file: Waiting) -> None:
    """Take away what waited, if it is what certgen left."""
    part = _part_of(folder, file) if file.new else None
    if part and _digest_file(part, own=True):
        part.unlink()


def _digest_file(path: Path, *, own: bool = False) -> str:
    """The digest of an ordinary file, empty if there is none, `?` for anything else.

    What is to be `own` is the user's, under one name only: else there is none.
    """
    try:
        status = path.lstat()
    except FileNotFoundError:
        return ""
    if not stat.S_ISREG(status.st_mode):
        return "" if own else "?"
    if own and not (_is_own(status) and status.st_nlink == 1):
        return ""
    seal = hashlib.sha256()
    with os.fdopen(os.open(path, _AT_ONCE), "rb") as stream:
        while piece := stream.read(1 << 20):
            seal.update(piece)
    return seal.hexdigest()


@contextmanager
def _open_note(folder: Path, path: Path) -> Iterator[int]:
    """The note, locked. Raises `UnfinishedError` where a run at work holds it."""
    handle = os.open(path, _AT_ONCE)
    try:
        _wait_for(folder, handle)
        yield handle
    finally:
        os.close(handle)


def _read_note(folder: Path, handle: int) -> list[Waiting]:
    """What the note names, each name held to the folder; nothing where the run was killed while it wrote it.

    Raises `UnfinishedError` for a note that certgen didn't leave like this.
    """
    status = os.fstat(handle)
    if not _is_own(status):
        raise UnfinishedError(
            f"{folder / JOURNAL} is another user's, and nothing was done by it: have that user run"
            " `certgen check` there, or look the folder over, then remove it"
        )
    if os.name == "posix" and stat.S_IMODE(status.st_mode) & 0o022:
        raise UnfinishedError(_say_foreign(folder, "is one that others may write to"))
    if status.st_size > _NOTE_BYTES:
        raise UnfinishedError(_say_foreign(folder, "is larger than any"))
    with os.fdopen(os.dup(handle), "rb") as stream:
        head, _, body = stream.read(_NOTE_BYTES).partition(b"\n")
    if head != _HEAD + digest(body).encode():
        return []
    try:
        files = [Waiting(*map(_text, entry)) for entry in json.loads(body)]
        _hold_all(folder, files)
    except (ValueError, TypeError, OSError, RecursionError) as fault:
        raise UnfinishedError(_say_foreign(folder, "names what no run would")) from fault
    return files


def _hold_all(folder: Path, files: Sequence[Waiting]) -> None:
    """Refuse names that no run would note, and more than one would write."""
    if len(files) > _MOST_FILES or len({file.place for file in files}) < len(files):
        raise ValueError
    size = 0
    for file in files:
        _hold(folder, file)
        for path in (folder / file.place, _part_of(folder, file) if file.new else folder / file.part):
            size += path.lstat().st_size if os.path.lexists(path) else 0
    if size > _ALL_BYTES:
        raise ValueError


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise TypeError
    return value


def _hold(folder: Path, file: Waiting) -> None:
    """Refuse digests that are none, a place outside the folder, and a part of any other name than its own;
    of what is to be taken away a copy that would lie outside, or be the file itself.
    """
    if not all(_DIGEST.fullmatch(seal) for seal in (file.new or file.old, file.old or file.new)):
        raise ValueError(file.new)
    _hold_place(folder, file.place)
    if not file.new and file.part != file.place:
        _hold_place(folder, file.part)
        return
    name = PurePosixPath(file.place).name
    head, _, random = file.part.removesuffix(PART).rpartition(".")
    if not (file.part.endswith(PART) and head == f".{name[:NAMED]}" and RANDOM.fullmatch(random)):
        raise ValueError(file.part)


def _hold_place(folder: Path, place: str) -> None:
    """Refuse a place outside the folder or behind a link."""
    parts = place.split("/")
    plain = all(part not in {"", ".", ".."} and part.isprintable() for part in parts)
    if not plain or "\\" in place or ":" in parts[0] or parts[-1] == JOURNAL:
        raise ValueError(place)
    straight = Path(os.path.realpath(folder), *parts[:-1])
    if os.path.realpath(straight) != str(straight):
        raise ValueError(place)


def _is_own(status: os.stat_result) -> bool:
    return not hasattr(os, "geteuid") or status.st_uid == os.geteuid()


def _bears(path: Path, handle: int) -> bool:
    """Whether the name is still that of the open file."""
    with suppress(OSError):
        return os.path.samestat(path.lstat(), os.fstat(handle))
    return False


def _wait_for(folder: Path, handle: int) -> None:
    """Lock what is open. Raises `UnfinishedError` where another run doesn't let go of it."""
    started = time.monotonic()
    while not _lock(handle):
        if time.monotonic() - started > _PATIENCE:
            raise UnfinishedError(_say_busy(folder))
        time.sleep(_PAUSE)


def _lock(handle: int) -> bool:
    """Hold an open note, unless another run does."""
    try:
        import fcntl
    except ImportError:
        # A system without such locks: two runs at a time are on their own.
        return True
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    except OSError:
        # A file system without such locks.
        return True
    return True


def _name(places: Sequence[str]) -> str:
    """The first few names and how many more there are; hidden ones only where there are no others."""
    seen = [place for place in places if not place.startswith(".")] or places
    shown = ", ".join(seen[:4])
    return shown if len(seen) <= 4 else f"{shown} and {len(seen) - 4} more"


def _say_cut_short(folder: Path) -> str:
    return f"Writing into {folder} was cut short"


def _say_busy(folder: Path) -> str:
    return f"another certgen command is writing into {folder}; run this one when that has ended"


def _say_foreign(folder: Path, why: str) -> str:
    return (
        f"{folder / JOURNAL} {why}: it is no note of unfinished writing that certgen left for you. Nothing"
        " was done by it; look the folder over, then remove it"
    )
