"""How a fraud changes a season.

A field is named by its record and path, as `B1.tag.date` or `season.scale_step`; `2025/K1.weight` is the
one of the year before.
"""

from __future__ import annotations

from collections.abc import Callable
from copy import deepcopy
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from frauds_records import KEYS

if TYPE_CHECKING:
    from frauds_seasons import Folder

#: Fields that say what rests on what: a fraud that changes them may take another one's seed out of a lot.
_STRUCTURE = {
    "bags", "trees", "harvests", "sources", "lot", "tree", "planting", "origin", "previous", "samples",
    "blocks", "pollen_parent", "block",
}  # fmt: skip


@dataclass(frozen=True)
class Edit:
    """A change of a folder: the records it touches, and whether it may change what rests on what."""

    make: Callable[[Folder], None]
    touches: frozenset[str]
    alone: bool = False


def put(address: str, value: Any) -> Edit:
    """Writes a value into a field, in place of what stands there."""
    return _at(address, lambda place, last: place.__setitem__(last, value))


def cut(*addresses: str) -> Edit:
    """Leaves fields out."""
    parts = [_at(address, lambda place, last: place.__delitem__(last)) for address in addresses]
    return together(*parts)


def out(*names: str) -> Edit:
    """Takes records out."""

    def make(folder: Folder) -> None:
        for one in names:
            year, name = _year(one)
            record = folder.find(name, year)
            for table in KEYS:
                rows = folder.years[year].get(table, [])
                rows[:] = [row for row in rows if row is not record]

    return Edit(make, frozenset(names), alone=True)


def add(table: str, *records: dict[str, Any]) -> Edit:
    """Writes records at the end of a table; `2025/bagging` is the one of the year before."""
    year, name = _year(table)

    def make(folder: Folder) -> None:
        folder.years[year].setdefault(name, []).extend(deepcopy(one) for one in records)

    key = KEYS[name]
    prefix = f"{year}/" if year else ""
    return Edit(make, frozenset(f"{prefix}{one.get(key, name)}" for one in records))


def also(address: str, *values: Any) -> Edit:
    """Writes values at the end of a list."""

    def extend(place: Any, last: Any) -> None:
        if isinstance(place, dict):
            place.setdefault(last, [])
        place[last] = [*place[last], *values]

    return _at(address, extend)


def again(name: str, **changes: Any) -> Edit:
    """Writes a record a second time under the same number, with changes; None leaves a field out."""
    year, bare = _year(name)

    def make(folder: Folder) -> None:
        record = folder.find(bare, year)
        table = next(one for one in KEYS if any(row is record for row in folder.years[year].get(one, ())))
        twin = {key: value for key, value in {**deepcopy(record), **changes}.items() if value is not None}
        folder.years[year][table].append(twin)

    return Edit(make, frozenset({name}), alone=True)


def file(name: str, text: str) -> Edit:
    """Puts a file into the folder."""
    return Edit(lambda folder: folder.files.__setitem__(name, text), frozenset({name}))


def together(*edits: Edit) -> Edit:
    """Several edits as one."""

    def make(folder: Folder) -> None:
        for one in edits:
            one.make(folder)

    touches = frozenset[str]().union(*(one.touches for one in edits))
    return Edit(make, touches, any(one.alone for one in edits))


def _at(address: str, change: Callable[[Any, Any], None]) -> Edit:
    year, path = _year(address)
    name, *steps = path.split(".")

    def make(folder: Folder) -> None:
        place: Any = folder.find(name, year)
        for step in steps[:-1]:
            place = place[int(step)] if isinstance(place, list) else place.setdefault(step, {})
        last = steps[-1]
        change(place, int(last) if isinstance(place, list) else last)

    record = f"{year}/{name}" if year else name
    return Edit(make, frozenset({record}), alone=bool(_STRUCTURE & set(steps)))


def _year(address: str) -> tuple[str, str]:
    year, slash, rest = address.partition("/")
    return (year, rest) if slash and year.isdigit() else ("", address)
