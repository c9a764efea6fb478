"""What is wrong with a record, where it stands, and how it is put into words."""

from __future__ import annotations

import difflib
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from certgen.records.places import ReadingError
from certgen.records.record_files.limits import MISTAKES_A_RECORD, MISTAKES_TO_STOP

if TYPE_CHECKING:
    from collections.abc import Callable, Collection

    from yaml.events import Event

_SHOWN = 40


class TooManyMistakes(Exception):  # noqa: N818 - a flood is no error in the code
    """So many faults in one record that the file is no record file; says where it was given up."""

    def __init__(self, line: int, column: int) -> None:
        super().__init__(line, column)
        self.line = line
        self.column = column

    def error(self, file: str) -> ReadingError:
        """What to tell the grower."""
        message = f"more than {MISTAKES_TO_STOP:,} faults stand before this line; is this a record file?"
        return ReadingError(file, self.line, self.column, message)


class Mistake(NamedTuple):
    """Something wrong at a line and column, both from 1."""

    line: int
    column: int
    message: str


class Mistakes:
    """What is wrong with one record. Only so many faults are put into words; the rest are counted."""

    __slots__ = ("count", "found", "room")

    def __init__(self, room: int = MISTAKES_A_RECORD) -> None:
        self.found: list[Mistake] = []
        self.count = 0
        self.room = room

    def add(self, event: Event, message: str | Callable[[], str]) -> None:
        """Note a fault where `event` begins; a message that costs time is only made while there is room.

        Raises `TooManyMistakes` in a flood.
        """
        self.count += 1
        if self.room > 0:
            self.room -= 1
            mark: Any = event.start_mark
            words = message if isinstance(message, str) else message()
            self.found.append(Mistake(mark.line + 1, mark.column + 1, words))
        elif self.count > MISTAKES_TO_STOP:
            place: Any = event.start_mark
            raise TooManyMistakes(place.line + 1, place.column + 1)


def shorten(text: str) -> str:
    """A value as a message quotes it."""
    return text if len(text) <= _SHOWN else text[: _SHOWN - 3] + "…"


#: Fields, words and rules by what they were once called.
RENAMED: Final = {
    "cinched": "secured",
    "plastic dough": "blunt plastic",
    "bag-not-cinched": "bag-not-secured",
    "airtight room": "airtight dry room",
    "storage_months_airtight_room": "storage_months_airtight_dry_room",
}


def tell_new_name(name: str, known: Collection[str]) -> str:
    """What a name that was once in use is called now, in quotes.

    Empty for a name that never was in use, or whose new one isn't known here.
    """
    return f"'{RENAMED[name]}'" if RENAMED.get(name) in known else ""


@lru_cache(maxsize=4096)
def suggest_name(name: str, known: tuple[str, ...], what: str) -> str:
    """The known name that was probably meant, or all of them: "did you mean `tree`?"."""
    if now := tell_new_name(name, known):
        return f"it is now called {now.replace(chr(39), '`')}"
    close = difflib.get_close_matches(name, known, 1, 0.6) if len(name) < 60 else []
    return f"did you mean `{close[0]}`?" if close else f"the {what} are: {', '.join(known)}"


@lru_cache(maxsize=4096)
def suggest_word(value: str, listed: tuple[str, ...]) -> str:
    """The allowed word that was probably meant, or all of them; capitals don't matter."""
    if now := tell_new_name(value.lower(), listed):
        return f"it is now called {now}"
    options = ", ".join(listed)
    lowered = {word.lower(): word for word in listed}
    close = difflib.get_close_matches(value.lower(), list(lowered), 1, 0.7) if len(value) < 60 else []
    if close:
        return f"did you mean '{lowered[close[0]]}'? Allowed: {options}"
    return f"write one of: {options}"
