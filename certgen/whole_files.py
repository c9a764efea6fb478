"""Files that appear whole or not at all.

Every file that certgen leaves anywhere is written here. A grower who pulls the plug half-way through an
import finds either the old files or the new ones, never half of each. Names that come from elsewhere are
held to the folder that they were given for.
"""

from __future__ import annotations

import errno
import os
import stat
import tempfile
import time
from contextlib import suppress
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Final

from certgen.write_journal import NAMED, PART, RANDOM, Journal, Waiting, digest, mend

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterable, Mapping


#: No writing takes as long as this, in seconds: what is older was left by a run that was killed.
_LEFT = 24 * 60 * 60


#: The largest file that is read at once, in bytes; what reads a kind of file mostly has a closer limit.
MOST: Final = 1 << 30


class PathError(ValueError):
    """A path that points outside the folder it was given for."""


class LinkError(PathError):
    """A path that would lie inside, but for a link on the way."""


def contained_path(folder: Path, name: str) -> Path:
    """Return `folder / name`, or raise `PathError` when that would lie outside `folder`.

    Names come from spreadsheets, PDF attachments and archives, so nothing about them is trusted:
    absolute paths, drive letters, backslashes, `..`, control characters and links that lead away are refused.
    """
    if not name or "\\" in name or "\0" in name or any(ord(c) < 32 for c in name):
        raise PathError(f"{name!r} is no plain file name")
    pure = PurePosixPath(name)
    if pure.is_absolute() or ".." in pure.parts or any(":" in part for part in pure.parts[:1]):
        raise PathError(f"{name!r} points outside the folder")
    path = folder.joinpath(*pure.parts)
    try:
        is_inside = path.resolve().is_relative_to(folder.resolve())
    except (OSError, RuntimeError) as fault:
        # Links that lead to one another in a circle.
        raise LinkError(f"{name!r} leads nowhere ({fault})") from None
    if not is_inside:
        raise LinkError(f"{name!r} leads out of the folder through a link")
    return path


def read_ordinary(path: Path, most: int = MOST) -> bytes:
    """The bytes of an ordinary file that a person or a list names; links are followed.

    A device, a pipe or a socket might never end, or answer for a year: none is opened. Raises `OSError` for
    them, for a folder, and for a file of more than `most` bytes, in words that follow a name.
    """
    _hold_ordinary(path, path.stat())
    # Without waiting: what was an ordinary file a moment ago may be a pipe by now.
    flags = os.O_RDONLY | getattr(os, "O_BINARY", 0) | getattr(os, "O_NONBLOCK", 0)
    with os.fdopen(os.open(path, flags | getattr(os, "O_NOCTTY", 0)), "rb") as stream:
        status = os.fstat(stream.fileno())
        _hold_ordinary(path, status)
        data = stream.read(most + 1) if status.st_size <= most else b""
    if status.st_size > most or len(data) > most:
        size = f"{most // 2**20:,} MB" if most >= 2**20 else f"{most:,} bytes"
        raise OSError(errno.EFBIG, f"is larger than {size}", str(path))
    return data


def _hold_ordinary(path: Path, status: os.stat_result) -> None:
    """Refuse what is no ordinary file."""
    if stat.S_ISREG(status.st_mode):
        return
    code = errno.EISDIR if stat.S_ISDIR(status.st_mode) else errno.EINVAL
    raise OSError(code, f"is {name_type(status.st_mode)}, not an ordinary file", str(path))


def name_type(mode: int) -> str:
    """What something in a folder is, by its mode: `a pipe`."""
    return next((name for is_such, name in _TYPES if is_such(mode)), "nothing that this system names")


_TYPES: Final[tuple[tuple[Callable[[int], bool], str], ...]] = (
    (stat.S_ISREG, "a file"),
    (stat.S_ISDIR, "a folder"),
    (stat.S_ISLNK, "a link"),
    (stat.S_ISFIFO, "a pipe"),
    (stat.S_ISSOCK, "a socket"),
    (stat.S_ISCHR, "a device"),
    (stat.S_ISBLK, "a device"),
)


def is_record(path: Path) -> bool:
    """Whether a file bears the name of a record file."""
    return path.suffix.lower() in {".yaml", ".yml"}


def write_all(
    contents: Mapping[Path, bytes],
    *,
    home: Path | None = None,
    replace: bool = True,
    mode: int = 0o644,
    private: Collection[Path] = (),
    may_replace: Callable[[Path], bool] = is_record,
    removed: Mapping[Path, Path] | None = None,
) -> None:
    """Write several files, all of them or none: each is written beside its place first, then all are renamed.
    Those that are `removed` are taken away in the same way, each with the place of another file that holds
    the same bytes, there already or written with the others.

    A file that is replaced keeps its permissions, a new one gets `mode`; those that are `private` are for
    their owner's eyes, new or not. When a rename fails, those already done are put back. A run that is killed
    meanwhile leaves a note in `home` (None: the folder that holds all the files), by which the next one
    finishes or undoes the work: what such a run left is seen to first, and `may_replace` tells of what is
    there whether it may give way then.

    Raises `FileExistsError` before anything is written, with `replace=False` for any file that is there and
    otherwise for a link, a device or a pipe; `UnfinishedError` for what a killed run left and nobody can
    mend; and `OSError` as the system gives it, naming the file that was to be written.
    """
    home, removed = home or _find_home(contents), removed or {}
    for folder in dict.fromkeys([home, *(path.parent for path in contents)] if home else ()):
        mend(folder, may_replace)
    for path in (*contents, *removed):
        _hold_place(path, replace=replace)
    files = _FileSet(contents, removed, mode)
    try:
        files.lay_beside(private)
        files.put_in_place(home)
    except BaseException:
        files.undo()
        raise
    files.settle()


class _FileSet:
    """Files on their way to their places, and what those held before."""

    def __init__(self, contents: Mapping[Path, bytes], removed: Mapping[Path, Path], mode: int) -> None:
        self._contents = contents
        self._removed = removed
        self._mode = mode
        self._before = {path: path.read_bytes() if path.is_file() else None for path in (*contents, *removed)}
        for path, copy in removed.items():
            held = contents[copy] if copy in contents else copy.read_bytes()
            if held != self._before[path]:
                raise FileExistsError(f"{path} is kept nowhere else and is left as it is")
        self._waiting: dict[Path, Path] = {}
        self._done: list[Path] = []
        self._made: list[Path] = []
        self._journal: Journal | None = None

    def lay_beside(self, private: Collection[Path]) -> None:
        """Write each beside its place."""
        for path, data in self._contents.items():
            missing = [folder for folder in path.parents if not folder.exists()]
            path.parent.mkdir(parents=True, exist_ok=True)
            self._made += reversed(missing)
            self._waiting[path] = _write_beside(path, data, self._mode)
            if path in private:
                self._waiting[path].chmod(0o600)

    def put_in_place(self, home: Path | None) -> None:
        """Rename each to its place. A single one needs no note, it takes its place at a stroke."""
        if len(self._contents) + len(self._removed) > 1 and home is not None:
            self._note(home)
        for path in self._contents:
            _take_place(self._waiting[path], path)
            self._done.append(path)
        for path in self._removed:
            path.unlink()
            self._done.append(path)

    def undo(self) -> None:
        """Put back what was there, and take away what still waits and the folders made for it."""
        for path, beside in self._waiting.items():
            if path in self._done:
                _put_back(path, self._before[path], self._mode)
            else:
                beside.unlink(missing_ok=True)
        for path in self._removed:
            if path in self._done:
                _put_back(path, self._before[path], self._mode)
        if self._journal is not None:
            self._journal.close()
        for folder in reversed(self._made):
            # Somebody else may have put a file there meanwhile.
            with suppress(OSError):
                folder.rmdir()

    def settle(self) -> None:
        """Have the disk keep what was done, take the note of it away, and what killed runs left beside."""
        names: dict[Path, set[str]] = {}
        for path in (*self._contents, *self._removed):
            names.setdefault(path.parent, set()).add(path.name[:NAMED])
        for folder in names:
            _flush_folder(folder)
        if self._journal is not None:
            with suppress(OSError):
                self._journal.close()
        for folder, written in names.items():
            _sweep(folder, written)

    def _note(self, home: Path) -> None:
        """Note in `home` which file waits for which place."""
        for folder in {path.parent for path in self._contents}:
            _flush_folder(folder)
        top = Path(os.path.realpath(home))
        files = []
        for path, data in self._contents.items():
            place = _below(top, path)
            old = self._before[path]
            was = "" if old is None else digest(old)
            files.append(Waiting(place, self._waiting[path].name, digest(data), was))
        for path, copy in self._removed.items():
            was = digest(self._before[path] or b"")
            files.append(Waiting(_below(top, path), _below(top, copy), "", was))
        # A folder that holds all the files need not be one that the user may write to.
        with suppress(PermissionError):
            self._journal = Journal.begin(home, files)
            _flush_folder(home)


def _below(top: Path, path: Path) -> str:
    """A path as the note in `top` names it."""
    return Path(os.path.realpath(path.parent), path.name).relative_to(top).as_posix()


def _find_home(paths: Iterable[Path]) -> Path | None:
    """The folder that holds all the files, if there is one that somebody would look into."""
    with suppress(ValueError):
        common = Path(os.path.commonpath([os.path.realpath(path.parent) for path in paths]))
        return common if common != common.parent else None
    return None


def write_entry(path: Path, data: bytes) -> None:
    """Write a cache's entry: whole, for its owner's eyes only, and not pressed onto the disk.

    Without that a power cut may tear it: whoever reads it again must hold it against a checksum. Raises
    `OSError` as the system gives it.
    """
    make_private(path.parent)
    beside = _write_beside(path, data, 0o600, flush=False)
    try:
        _take_place(beside, path)
    except BaseException:
        beside.unlink(missing_ok=True)
        raise


def make_private(folder: Path) -> None:
    """Make a folder and those above it for their owner alone; one that is there stays as it is."""
    for missing in reversed([one for one in (folder, *folder.parents) if not one.exists()]):
        missing.mkdir(mode=0o700, exist_ok=True)


def _hold_place(path: Path, *, replace: bool) -> None:
    """Refuse a place that is taken, or that a rename would take from something that is no file."""
    try:
        kind = path.lstat().st_mode
    except OSError:
        return
    if not replace:
        raise FileExistsError(f"{path} is there already and is left as it is")
    if not (stat.S_ISREG(kind) or stat.S_ISDIR(kind)):
        raise FileExistsError(f"{path} is {name_type(kind)} and stays as it is; name a file to write to")


def _write_beside(path: Path, data: bytes, mode: int, *, flush: bool = True) -> Path:
    handle, name = tempfile.mkstemp(prefix=f".{path.name[:NAMED]}.", suffix=PART, dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            if flush:
                os.fsync(stream.fileno())
        Path(name).chmod(path.stat().st_mode & 0o777 if path.is_file() else mode)
    except OSError as fault:
        Path(name).unlink(missing_ok=True)
        if fault.errno is None:
            raise
        # A full disk names no file, and nobody knows the one beside.
        raise OSError(fault.errno, fault.strerror, str(path)) from fault
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
    return Path(name)


def _take_place(beside: Path, path: Path) -> None:
    """Rename a file to its place. Raises `OSError` in the name of the place: nobody knows the one beside.

    What was written beside a file and can't take its place is held up by the file itself: on some systems
    because a viewer or an editor has it open.
    """
    try:
        beside.replace(path)
    except PermissionError as fault:
        words = fault.strerror
        if path.is_file():
            words = (
                f"close {path.name} in whatever program has it open, and run this again; it can't be replaced"
            )
        raise PermissionError(fault.errno, words, str(path)) from fault
    except OSError as fault:
        if fault.errno is None:
            raise
        raise OSError(fault.errno, fault.strerror, str(path)) from fault


def _put_back(path: Path, data: bytes | None, mode: int) -> None:
    if data is None:
        path.unlink(missing_ok=True)
    else:
        _take_place(_write_beside(path, data, mode), path)


def _flush_folder(folder: Path) -> None:
    """Ask the disk to keep the renames; file systems that cannot do it for folders are left in peace."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:
        return
    try:
        with suppress(OSError):
            os.fsync(handle)
    finally:
        os.close(handle)


def _sweep(folder: Path, names: Collection[str]) -> None:
    """Take away what killed runs left beside files of these names, and nothing that may still be written."""
    with suppress(OSError), os.scandir(folder) as listed:
        for entry in listed:
            head, _, random = entry.name.removesuffix(PART).rpartition(".")
            if not entry.name.endswith(PART) or head[:1] != "." or head[1:] not in names:
                continue
            with suppress(OSError):
                old = entry.stat(follow_symlinks=False).st_mtime < time.time() - _LEFT
                if old and RANDOM.fullmatch(random) and entry.is_file(follow_symlinks=False):
                    Path(entry.path).unlink()
