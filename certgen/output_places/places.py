"""Where a person lets certgen write, and what may lie there already.

A new name is written, and an earlier output of the same kind gives way to the next. Everything else that
lies in the way stays: a record, evidence, a signed packet, any file that certgen didn't leave there as it
is now. With `force` the new file is written there all the same, and the old one is kept beside it under a
name of its own. A link, a device, a pipe or a folder is never written over.
"""

from __future__ import annotations

import errno
import os
import stat
from contextlib import suppress
from dataclasses import dataclass
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING, Final

from certgen.output_places.kinds import is_signed, mark, recognise
from certgen.whole_files import MOST, is_record, name_type, read_ordinary, write_all
from certgen.write_journal import mend

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from certgen.output_places.kinds import Kind

#: What a person writes in YAML, so that it bears a record's name.
_IN_YAML: Final = frozenset({"column map", "season file"})
#: A person works on these, or they can't be made again: none gives way to the next.
_NEVER_EARLIER: Final = frozenset({"column map", "round form", "season file", "key", "certificate"})
_EVIDENCE: Final = "evidence"


class OutputRefusedError(FileExistsError):
    """Something lies in the way that isn't written over; the message says what, and the way out."""


@dataclass(frozen=True, slots=True)
class Output:
    """A file to be written: where a person wants it, what it is, its bytes, and for whose eyes."""

    path: Path
    kind: Kind
    data: bytes
    private: bool = False


def check_places(places: Mapping[Path, Kind], *, force: bool = False) -> tuple[Path, ...]:
    """The files in the way that are to be kept beside, none without `force`.

    Asked before the work, so that nobody waits for pages that can't be put down. Raises `OutputRefusedError`
    for what stays, and `OSError` where a place can't be looked at.
    """
    kept = []
    taken: dict[Path, Path] = {}
    for path, kind in places.items():
        place = Path(os.path.realpath(path.parent), path.name)
        if place in taken:
            raise OutputRefusedError(f"{path} is named for two files; give each a name of its own")
        taken[place] = path
        found = _look(path, kind)
        if found and not force:
            raise OutputRefusedError(
                f"{path} {found}; nothing was written. Name another file, or write there all the same with"
                f" --force{_say_kept(path)}"
            )
        if found and os.path.lexists(path):
            kept.append(path)
    return tuple(kept)


def _say_kept(path: Path) -> str:
    """What becomes of a file that gives way, if there is one."""
    if not os.path.lexists(path):
        return ""
    free = next(name for name in _keeping_names(path) if not os.path.lexists(name))
    return f": what lies there is then kept beside it as {free}"


def write_outputs(
    outputs: Sequence[Output], *, force: bool = False, write: Callable[..., object] | None = None
) -> tuple[tuple[Path, Path], ...]:
    """Write files where a person wants them, all of them or none; `write` may do more than `write_all`.

    Returns each file that was in the way with the name under which it is kept. Raises as `check_places`
    does, and `OSError` as the system gives it, naming the file.
    """
    contents = {output.path: mark(output.kind, output.data) for output in outputs}
    if len(contents) < len(outputs):
        raise OutputRefusedError("two files bear one name; give each a name of its own")
    # What holds the same bytes loses nothing.
    in_the_way = check_places(
        {o.path: o.kind for o in outputs if not _holds(o.path, contents[o.path])}, force=force
    )
    kept: list[tuple[Path, Path]] = []
    try:
        kept += ((path, _keep(path)) for path in in_the_way)
        private = [output.path for output in outputs if output.private]
        (write or write_all)(contents, private=private, may_replace=gives_way)
    except BaseException:
        for path, beside in kept:
            if os.path.lexists(path):
                beside.unlink(missing_ok=True)
        raise
    return tuple(kept)


def gives_way(path: Path) -> bool:
    """Whether writing that was cut short may be finished over a file: a record or an earlier output."""
    if is_record(path):
        return True
    if _lies_in_evidence(path) or not stat.S_ISREG(path.lstat().st_mode):
        return False
    return path.lstat().st_size <= MOST and recognise(read_ordinary(path)) is not None


def mend_folder(folder: Path) -> str:
    """Finish or undo what a killed run left in a folder; a sentence says what was done, empty if nothing.

    Raises `UnfinishedError` where it can't be mended.
    """
    return mend(folder, gives_way)


def _look(path: Path, kind: Kind) -> str:
    """What is in the way at a place, as words that follow its name; empty where it may be written."""
    named_as_record = is_record(path) and kind not in _IN_YAML
    try:
        status = path.lstat()
    except FileNotFoundError:
        # A season's reader takes every file of this name for records.
        return "bears the name of a record file" if named_as_record else ""
    except NotADirectoryError:
        raise OutputRefusedError(f"{path} can't be written: {path.parent} is no folder") from None
    if not stat.S_ISREG(status.st_mode):
        raise OutputRefusedError(
            f"{path} is {name_type(status.st_mode)}; nothing was written. Name a file to write to"
        )
    if named_as_record:
        return "is a record file"
    if _lies_in_evidence(path):
        return "is evidence"
    return _look_inside(path, kind, status.st_size)


def _look_inside(path: Path, kind: Kind, size: int) -> str:
    """What a file holds that speaks against writing over it, as words that follow its name."""
    if kind in _NEVER_EARLIER:
        return "is there already"
    if not size:
        return ""
    data = read_ordinary(path) if size <= MOST else b""
    if data.startswith(b"%PDF-") and is_signed(data):
        return "is signed"
    found = recognise(data)
    if found == kind:
        return ""
    if found is None:
        # Somebody wrote it, or worked on what certgen wrote.
        return f"is no {kind} as certgen leaves it"
    return f"is a {found}, and this would be a {kind}"


def _lies_in_evidence(path: Path) -> bool:
    """Whether a file lies below a folder named `evidence`, as it is typed or where that leads."""
    folders = (*path.parent.parts, *Path(os.path.realpath(path.parent)).parts)
    return any(part.casefold() == _EVIDENCE for part in folders)


def _holds(path: Path, data: bytes) -> bool:
    """Whether a file holds these bytes already, so that nothing is to be done."""
    with suppress(OSError):
        status = path.lstat()
        return stat.S_ISREG(status.st_mode) and status.st_size == len(data) and read_ordinary(path) == data
    return False


def _keeping_names(path: Path) -> Iterator[Path]:
    """The names that a file may be kept under. A record's has another ending: nobody reads it as one."""
    head, tail = (path.name, "") if is_record(path) else (path.stem, path.suffix)
    for number in count(1):
        yield path.with_name(f"{head}.before-{number}{tail}")


def _keep(path: Path) -> Path:
    """Give a file a second name that nothing bears yet; raises `OSError`."""
    for beside in _keeping_names(path):
        try:
            os.link(path, beside, follow_symlinks=False)
        except FileExistsError:
            continue
        except OSError as fault:
            if fault.errno not in {errno.EPERM, errno.ENOTSUP, errno.EMLINK, errno.ENOSYS, errno.EACCES}:
                raise
            # A file system without second names.
            try:
                _copy(path, beside)
            except FileExistsError:
                continue
        return beside
    raise AssertionError


def _copy(path: Path, beside: Path) -> None:
    mode = path.stat().st_mode & 0o777
    opened = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode)
    try:
        with os.fdopen(opened, "wb") as stream:
            stream.write(path.read_bytes())
            stream.flush()
            os.fsync(stream.fileno())
    except BaseException:
        beside.unlink(missing_ok=True)
        raise
