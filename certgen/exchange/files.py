"""Names of files from spreadsheets, PDFs and archives, and the folder that they must stay in."""

from __future__ import annotations

from pathlib import Path, PurePosixPath


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
