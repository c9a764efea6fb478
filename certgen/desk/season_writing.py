"""The one place through which all that the desk changes goes into the season's files."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from certgen.records.season import digest
from certgen.whole_files import contained_path, read_ordinary, write_all

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path


class ChangedMeanwhileError(Exception):
    """A file isn't what the change was made from: somebody else has written to it. Says which."""


@dataclass(frozen=True, slots=True)
class Writing:
    """Files as they are to be, by their path below the season's folder.

    `before` is the SHA-256 of what each held when the change was made from it; a file that it doesn't name
    wasn't there. `says` tells the change in a line and `by` who made it, for whoever keeps its history.
    """

    contents: Mapping[str, bytes]
    before: Mapping[str, str]
    says: str
    by: str = ""


def write_season(folder: Path, writing: Writing) -> None:
    """Put the files in place, all or none, unless one of them was changed meanwhile.

    Raises `ChangedMeanwhileError`, and `OSError` as the system gives it; nothing is written then.
    """
    places = {contained_path(folder, name): name for name in writing.contents}
    for path, name in places.items():
        there = digest(read_ordinary(path)) if path.exists() else ""
        if there != writing.before.get(name, ""):
            raise ChangedMeanwhileError(name)
    write_all({path: writing.contents[name] for path, name in places.items()}, home=folder)
