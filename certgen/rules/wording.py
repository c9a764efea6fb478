"""Words that many messages share."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.records.nouns import NOUNS, count, noun

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from datetime import date

__all__ = ["NOUNS", "capital", "count", "day", "join", "name", "noun"]

_MONTHS: Final = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)


#: What mends a fault of seed that should have been kept out of every lot, and is in one.
IN_A_LOT: Final = (
    "hold what is left of the lot that it is in; take this seed out of it where it can still be told apart,"
    " else give the name or status up for all of it. Tell the certifier, and whoever has had some."
)


def join(parts: Iterable[str], word: str = "and") -> str:
    """`join("abc")` is "a, b and c"."""
    shown = list(parts)
    return shown[0] if len(shown) == 1 else f"{', '.join(shown[:-1])} {word} {shown[-1]}" if shown else ""


def name(table: str, identifiers: Sequence[str], most: int = 5) -> str:
    """`name("trees", ["3", "4"])` is "trees 3 and 4"; beyond `most` the rest are counted."""
    # Each of thousands of records may name all of them.
    shown, number = identifiers, len(identifiers)
    if number > most + 1:
        shown = [*identifiers[:most], f"{number - most} more"]
    return f"{noun(table, number)} {join(shown)}"


def day(when: date) -> str:
    """`day(date(2026, 3, 1))` is "1 March 2026", whatever the machine's language."""
    return f"{when.day} {_MONTHS[when.month - 1]} {when.year}"


def capital(text: str) -> str:
    """The text with its first letter large and the rest untouched, for identifiers keep their case."""
    return text[:1].upper() + text[1:]
