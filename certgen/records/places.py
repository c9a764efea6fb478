"""Where something stands in a season's records, and what to say when it can't be read."""

from __future__ import annotations

import posixpath
import re
from dataclasses import dataclass, replace
from typing import NamedTuple


class Place(NamedTuple):
    """A spot in a record file, without its line number.

    `file` is a POSIX path relative to the season's folder. `path` leads from the file's top mapping
    to the value: `("bagging", 17, "tag", "date")`. Line and column are found when the place is shown
    (`Season.locate`), so that a season without gaps never pays for them. Something that wasn't read has its
    line and column in the place of a path, behind an empty text.
    """

    file: str
    path: tuple[str | int, ...]

    def __str__(self) -> str:
        steps = "".join(f"[{step}]" if isinstance(step, int) else f".{step}" for step in self.path)
        return f"{self.file}:{steps.lstrip('.')}"


#: Control signs, line breaks of every kind, and signs that turn the direction of writing.
_OBEYED = re.compile("[\x00-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ud800-\udfff\ufeff]")


def _escape(found: re.Match[str]) -> str:
    return ascii(found.group())[1:-1]


@dataclass(frozen=True, slots=True, order=True)
class ReadingError:
    """Something in the folder that couldn't be read, in a grower's words, with its place.

    `line` and `column` count from 1; both are None when the whole file or folder is meant. `left_out`
    names the record that was left out because of it (`"bagging B-12"`), or is empty. `field` is the field at
    fault, where a reader of errors has to know it.
    """

    file: str
    line: int | None
    column: int | None
    message: str
    left_out: str = ""
    field: str = ""

    def __post_init__(self) -> None:
        """Messages quote what was typed; signs that a terminal would obey are told as escapes."""
        for name in ("message", "left_out"):
            text = getattr(self, name)
            if not text.isprintable():
                object.__setattr__(self, name, _OBEYED.sub(_escape, text))

    def text(self) -> str:
        """The error on one line: place first, as editors parse it."""
        place = ":".join(str(part) for part in (self.file, self.line, self.column) if part is not None)
        return _OBEYED.sub(_escape, f"{place}: {self.message}")


def file_from(path: str, file: str) -> str:
    """A file of another season's folder as seen from this one; `path` leads there."""
    return posixpath.normpath(f"{path}/{file}") if path else file


def way_between(here: str, there: str) -> str:
    """The way from one season's folder to another's, both as seen from a third."""
    # From a place deep enough: from the working folder, a path that leads above the root is cut off.
    deep = "/_" * (1 + there.count("..") + here.count(".."))
    return posixpath.relpath(posixpath.join(deep, there), posixpath.join(deep, here))


def evidence_from(path: str, file: str) -> str:
    """An evidence file of another season as seen from this one's evidence folder."""
    return posixpath.normpath(f"../{path}/evidence/{file}") if path else file


def moved_from(error: ReadingError, path: str) -> ReadingError:
    """Another season's reading error, with its file as seen from this one."""
    return replace(error, file=file_from(path, error.file)) if path else error


class Refusals(NamedTuple):
    """What was told of a season's folder besides the files that were read.

    `files` are those that couldn't be read as files; `before` says why the season before, which is named,
    couldn't be read at all. Whoever examines copies of the files that were read hands these in.
    """

    files: tuple[ReadingError, ...] = ()
    before: tuple[ReadingError, ...] = ()
