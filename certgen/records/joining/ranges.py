"""Names written as numbers and ranges: `B26-0001 to B26-0040`."""

from __future__ import annotations

import re
from bisect import bisect_left
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from certgen.records.columns import Array

_RANGE: Final = re.compile(r"^\s*(\S+)\s*(?:\bto\b|\.\.)\s*(\S+)\s*$")
#: Python reads no number of more than 4,300 digits; the digits before the last 4,000 count as letters.
_NUMBERED: Final = re.compile(r"^(.*?)([0-9]{1,4000})$")


class _Numbers(NamedTuple):
    """The names that have the same letters before their number, by number and then by place.

    `places` are theirs among all names, and `rise` whether each comes after the one before; `digits` is how
    many each number is written with, `plain` whether it has no leading noughts.
    """

    numbers: Sequence[int]
    places: Array
    rise: bool
    digits: Array
    plain: Array


class NameRanges:
    """The identifiers of one table, to find which of them a written name or range means."""

    def __init__(self, known: Iterable[str]) -> None:
        self._places = {name: place for place, name in enumerate(dict.fromkeys(known))}
        self._names = list(self._places)
        numbered: dict[str, list[tuple[int, int, str]]] = {}
        for name, place in self._places.items():
            if found := _NUMBERED.match(name):
                numbered.setdefault(found[1], []).append((int(found[2]), place, found[2]))
        self._numbered = {letters: _in_order(names) for letters, names in numbered.items()}
        #: The entry that was looked up last, and what it meant: hundreds of rounds walk all the bags.
        self._last: tuple[str, Array] = ("", np.zeros(0, dtype="int64"))
        self._told: tuple[str, tuple[str, ...]] = ("", ())

    def places(self, names: Iterable[str | None]) -> Array:
        """Where each of some names stands among the identifiers; -1 for one that isn't among them."""
        return np.fromiter((self._places.get(name, -1) for name in names), "int64")  # type: ignore[arg-type]

    def mark(self, entries: Iterable[str]) -> Array:
        """By place whether any of some names and ranges means the identifier; none means the last of them."""
        marks = np.zeros(len(self._names) + 1, dtype=bool)
        for entry in entries:
            marks[self.find(entry)] = True
        return marks

    def expand(self, entry: str) -> tuple[str, ...]:
        """The identifiers that an entry means, in the order of the records; none if nothing bears the name.

        A range runs over the numbers between its ends, where both have the same letters before the number.
        Numbers written with leading noughts are those of the same length only: 01 to 12 holds no 5, and 01 to
        112 means nothing.
        """
        if entry in self._places:
            return (entry,)
        if entry != self._told[0]:
            self._told = entry, tuple(self._names[place] for place in self.find(entry).tolist())
        return self._told[1]

    def find(self, entry: str) -> Array:
        """The same as places among the identifiers, from 0, each of which counts once."""
        if entry != self._last[0]:
            place = self._places.get(entry)
            self._last = entry, self._find_range(entry) if place is None else np.array([place])
        return self._last[1]

    def _find_range(self, entry: str) -> Array:
        span = _read_range(entry)
        names = None if span is None else self._numbered.get(span[0])
        if span is None or names is None:
            return np.zeros(0, dtype="int64")
        _, low, high, digits = span
        within = slice(bisect_left(names.numbers, low), bisect_left(names.numbers, high + 1))
        written = names.digits[within] == digits if digits else names.plain[within]
        places = names.places[within]
        # Thousands of rounds may each name another range: where it can be, it is a part of one array.
        if not written.all():
            places = places[written]
        return places if names.rise else np.sort(places)


def _in_order(names: list[tuple[int, int, str]]) -> _Numbers:
    names.sort()
    places = np.array([place for _, place, _ in names], dtype="int64")
    places.flags.writeable = False
    return _Numbers(
        [number for number, _, _ in names],
        places,
        bool((np.diff(places) > 0).all()),
        np.array([len(digits) for _, _, digits in names], dtype="int64"),
        np.array([not digits.startswith("0") or digits == "0" for _, _, digits in names], dtype=bool),
    )


def _read_range(entry: str) -> tuple[str, int, int, int] | None:
    """A range's letters, its first and last number, and how many digits each has (0: no leading noughts)."""
    ends = _RANGE.match(entry)
    first, last = (_NUMBERED.match(ends[1]), _NUMBERED.match(ends[2])) if ends else (None, None)
    if first is None or last is None or first[1] != last[1]:
        return None
    padded = any(len(end[2]) > 1 and end[2].startswith("0") for end in (first, last))
    if padded and len(first[2]) != len(last[2]):
        return None
    return first[1], int(first[2]), int(last[2]), len(first[2]) if padded else 0
