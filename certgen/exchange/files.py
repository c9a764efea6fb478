"""Files that appear whole or not at all, and paths that stay where they belong.

Every writer of this package ends here. A grower who pulls the plug half-way through an import
finds either the old files or the new ones, never half of each.
"""

from __future__ import annotations

import os
import tempfile
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping


class PathError(ValueError):
    """A path that points outside the folder it was given for."""


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
    if not path.resolve().is_relative_to(folder.resolve()):
        raise PathError(f"{name!r} leads out of the folder through a link")
    return path


def write_whole(path: Path, data: bytes, *, replace: bool = True, mode: int = 0o644) -> None:
    """Write `data` to `path` so that the file is there whole or not at all.

    With `replace=False` an existing file raises `FileExistsError` and is left as it was.
    """
    write_all({path: data}, replace=replace, mode=mode)


def write_all(contents: Mapping[Path, bytes], *, replace: bool = True, mode: int = 0o644) -> None:
    """Write several files, all of them or none: each is written beside its place first, then all are renamed.

    When a rename fails, those already done are put back. Raises `FileExistsError` with `replace=False`
    before anything is written, and `OSError` as the system gives it.
    """
    if not replace:
        for path in contents:
            if path.exists() or path.is_symlink():
                raise FileExistsError(f"{path} is there already and is left as it is")
    before = {path: path.read_bytes() if path.is_file() else None for path in contents}
    waiting: dict[Path, Path] = {}
    done: list[Path] = []
    try:
        for path, data in contents.items():
            path.parent.mkdir(parents=True, exist_ok=True)
            waiting[path] = _write_beside(path, data, mode)
        for path in contents:
            waiting[path].replace(path)
            done.append(path)
    except BaseException:
        for path in done:
            _put_back(path, before[path], mode)
        for path in set(waiting) - set(done):
            waiting[path].unlink(missing_ok=True)
        raise
    for folder in {path.parent for path in contents}:
        _flush_folder(folder)


def _write_beside(path: Path, data: bytes, mode: int) -> Path:
    handle, name = tempfile.mkstemp(prefix=f".{path.name[:40]}.", suffix=".part", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        Path(name).chmod(path.stat().st_mode & 0o777 if path.is_file() else mode)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
    return Path(name)


def _put_back(path: Path, data: bytes | None, mode: int) -> None:
    if data is None:
        path.unlink(missing_ok=True)
    else:
        _write_beside(path, data, mode).replace(path)


def _flush_folder(folder: Path) -> None:
    """Ask the disk to keep the renames; file systems that cannot do it for folders are left in peace."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:
        return
    try:
        os.fsync(handle)
    except OSError:
        pass
    finally:
        os.close(handle)
