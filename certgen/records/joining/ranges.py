"""Names written as a list of numbers and ranges: `B26-0001 to B26-0040`."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Iterable

_RANGE: Final = re.compile(r"^\s*(\S+)\s*(?:\bto\b|\.\.)\s*(\S+)\s*$")
_NUMBERED: Final = re.compile(r"^(.*?)([0-9]+)$")


class NameRanges:
    """The identifiers of one table, to find which of them a written name or range means."""

    def __init__(self, known: Iterable[str]) -> None:
        self._known = dict.fromkeys(known)
        self._numbered: dict[str, list[tuple[int, str]]] = {}
        for name in self._known:
            if found := _NUMBERED.match(name):
                self._numbered.setdefault(found[1], []).append((int(found[2]), name))

    def expand(self, entry: str) -> tuple[str, ...]:
        """The identifiers that an entry means, in the order of the records; none if nothing bears the name.

        A range runs over the numbers between its ends, where both have the same letters before the number.
        Numbers written with leading noughts are those of the same length only: 01 to 12 holds no 5, and 01 to
        112 means nothing.
        """
        if entry in self._known:
            return (entry,)
        span = _read_range(entry)
        if span is None:
            return ()
        letters, low, high, size = span
        return tuple(
            name
            for number, name in self._numbered.get(letters, ())
            if low <= number <= high and _is_written(name[len(letters) :], size)
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


def _is_written(digits: str, size: int) -> bool:
    """Whether a number is written as a range's ends are: to so many places, or (0) without leading
    noughts."""
    return len(digits) == size if size else not digits.startswith("0") or digits == "0"
