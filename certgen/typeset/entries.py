"""Compact registers: records as entries in two columns, short ones side by side as in a list of numbers.

A short entry takes a whole number of the places that a line is parted into, so that short ones stand below
one another; a longer one has lines of its own.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Final

from certgen.typeset import faces
from certgen.typeset.design import TYPE
from certgen.typeset.parts import Numerous

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from certgen.typeset.design import Sheet
    from certgen.typeset.parts import Run

#: Between the two columns, and the least between two entries on a line, in points.
COLUMN_GAP: Final = 14.0
ENTRY_GAP: Final = 5.0
#: How far the lines of a long entry after its first are set in.
ENTRY_INDENT: Final = 8.0
_HAIR: Final = 0.01
#: An entry of more letters has lines of its own, and needs no measuring.
_LONG: Final = 60
_MOST_PLACES: Final = 8


@dataclass(frozen=True, slots=True)
class Entry(Numerous):
    """A record in a few words: the first run is its name."""

    anchor: str
    runs: tuple[Run, ...]


@dataclass(frozen=True, slots=True)
class EntryGroup:
    """Records below a line that says what they have in common; it is empty where nothing is said."""

    head: tuple[Run, ...]
    entries: tuple[Entry, ...] = field(repr=False)


@dataclass(frozen=True, slots=True)
class CompactRegister:
    """A whole table of the records told by its differences.

    `common` is what holds for all records unless one says otherwise; `anchor` leads to the heading.
    """

    table: str
    title: str
    lead: str
    common: tuple[Run, ...]
    groups: tuple[EntryGroup, ...]
    anchor: str = ""

    @property
    def anchors(self) -> Iterator[str]:
        """What leads to each record."""
        return (entry.anchor for group in self.groups for entry in group.entries if entry.anchor)


@dataclass(frozen=True, slots=True)
class Entries:
    """Compact registers in two columns, their headings of a `level`; those of an appendix are `small`."""

    registers: tuple[CompactRegister, ...]
    level: int = 3
    small: bool = False


def column_width(sheet: Sheet) -> float:
    """The width of one of the two columns in points."""
    return (sheet.measure - COLUMN_GAP) / 2


def entry_width(entry: Entry) -> float | None:
    """How wide an entry is on one line in points; None if it is long."""
    name, *rest = (run.text for run in entry.runs)
    words = "".join(rest)
    if len(name) + len(words) > _LONG or "\n" in words:
        return None
    size = TYPE["entry"].size
    return faces.text_width(name, size, weight=600) + faces.text_width(words, size)


def share_lines(entries: Sequence[Entry], width: float) -> Iterator[list[tuple[Entry, float]]]:
    """The entries as they are set on in lines of a `width`.

    Short ones are gathered, each with the width that it takes, until a long one comes; that stands alone (0).
    """
    widths = [entry_width(entry) for entry in entries]
    short = sorted(one for one in widths if one is not None)
    usual = short[len(short) // 2] + ENTRY_GAP if short else width
    count = max(1, min(int((width + ENTRY_GAP) / usual), _MOST_PLACES))
    place = (width + ENTRY_GAP) / count
    gathered: list[tuple[Entry, float]] = []
    for entry, own in zip(entries, widths, strict=True):
        taken = 0 if own is None else -int(-(own + ENTRY_GAP + _HAIR) // place)
        if taken and taken * 2 <= count:
            # A hair less than its places: what fills a line to its end would be pushed to the next one.
            gathered.append((entry, taken * place - ENTRY_GAP - _HAIR))
            continue
        if gathered:
            yield gathered
            gathered = []
        yield [(entry, 0.0)]
    if gathered:
        yield gathered


def count_entries(register: CompactRegister) -> int:
    """How many records a register has."""
    return sum(len(group.entries) for group in register.groups)


def cut_register(register: CompactRegister, room: int) -> tuple[CompactRegister, CompactRegister]:
    """The first `room` records of a register, and the rest, which has no title again."""
    before: list[EntryGroup] = []
    after: list[EntryGroup] = []
    for group in register.groups:
        taken, left = group.entries[:room], group.entries[room:]
        room -= len(taken)
        if taken:
            before.append(replace(group, entries=taken))
        if left:
            after.append(replace(group, entries=left))
    rest = replace(register, title="", lead="", common=(), groups=tuple(after))
    return replace(register, groups=tuple(before)), rest
