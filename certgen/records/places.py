"""Where something stands in a season's records, and what to say when it can't be read."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple


class Place(NamedTuple):
    """A spot in a record file, without its line number.

    `file` is a POSIX path relative to the season's folder. `path` leads from the file's top mapping
    to the value: `("bagging", 17, "tag", "date")`. Line and column are found when the place is shown
    (`Season.locate`), so that a season without gaps never pays for them.
    """

    file: str
    path: tuple[str | int, ...]

    def __str__(self) -> str:
        steps = "".join(f"[{step}]" if isinstance(step, int) else f".{step}" for step in self.path)
        return f"{self.file}:{steps.lstrip('.')}"


@dataclass(frozen=True, slots=True, order=True)
class ReadingError:
    """Something in the folder that couldn't be read, in a grower's words, with its place.

    `line` and `column` count from 1; both are None when the whole file or folder is meant. `left_out`
    names the record that was left out because of it (`"bagging B-12"`), or is empty.
    """

    file: str
    line: int | None
    column: int | None
    message: str
    left_out: str = ""

    def text(self) -> str:
        """The error on one line: place first, as editors parse it."""
        place = ":".join(str(part) for part in (self.file, self.line, self.column) if part is not None)
        return f"{place}: {self.message}"
