"""How a fraud changes a season, what must come of it, and whether it did.

A field is named by its record and path, as `B1.tag.date` or `season.scale_step`; `2025/K1.weight` is the
one of the year before.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

from frauds_seasons import KEYS, Folder, folder_of

from certgen.examination import Result, examine

ON = date(2026, 11, 25)
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
        folder.years[year].setdefault(name, []).extend(_copy(one) for one in records)

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
        twin = {key: value for key, value in {**_copy(record), **changes}.items() if value is not None}
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


def _copy(record: dict[str, Any]) -> dict[str, Any]:
    from copy import deepcopy

    return deepcopy(record)


@dataclass(frozen=True)
class Want:
    """What must come out: `tell` says what is wrong with a result, given the clean season's, or nothing."""

    name: str
    tell: Callable[[Result, Result], Iterator[str]]
    lots: tuple[str, ...] = ()


def not_all_traced(*lots: str) -> Want:
    """Each of the lots holds grams that aren't traced; without names, at least one lot does."""

    def tell(result: Result, _clean: Result) -> Iterator[str]:
        for lot in lots:
            if lot not in result.lots:
                yield f"{lot} is not told of"
            elif result.lots[lot].standing == "traced":
                yield f"{lot} is traced"
        if not lots and all(one.standing == "traced" for one in result.lots.values()):
            yield "every lot is traced"

    return Want(f"not all traced ({', '.join(lots) or 'some lot'})", tell, lots)


def traced_at_most(lot: str, grams: float) -> Want:
    """The lot isn't traced as a whole, and holds no more traced grams than that."""

    def tell(result: Result, clean: Result) -> Iterator[str]:
        yield from not_all_traced(lot).tell(result, clean)
        if lot in result.lots and result.lots[lot].traced_mg > round(grams * 1000):
            yield f"{result.lots[lot].traced_mg / 1000:g} g of {lot} are traced"

    return Want(f"{lot} traced at most {grams:g} g", tell, (lot,))


def traced_at_least(lot: str, grams: float) -> Want:
    """The lot holds at least so many traced grams."""

    def tell(result: Result, _clean: Result) -> Iterator[str]:
        held = result.lots[lot].traced_mg if lot in result.lots else 0
        if held < round(grams * 1000):
            yield f"only {held / 1000:g} g of {lot} are traced"

    return Want(f"{lot} traced at least {grams:g} g", tell)


def _tell_gap(result: Result, _clean: Result) -> Iterator[str]:
    open_ = any(gap.weight != "advice" for gap in result.gaps)
    if not open_ and all(one.standing == "traced" for one in result.lots.values()):
        yield "no gap but advice"


def gap_at(record: str) -> Want:
    """A gap that isn't advice stands at the record."""

    def tell(result: Result, _clean: Result) -> Iterator[str]:
        if not any(record in gap.ids for gap in result.gaps if gap.weight != "advice"):
            yield f"no gap stands at {record}"

    return Want(f"gap at {record}", tell)


def _tell_said(result: Result, clean: Result) -> Iterator[str]:
    known = {(gap.rule, gap.ids, gap.message) for gap in clean.gaps}
    if not result.errors and all((gap.rule, gap.ids, gap.message) in known for gap in result.gaps):
        yield "nothing is said of it"


def _tell_silent(result: Result, _clean: Result) -> Iterator[str]:
    yield from (f"{error.text()}" for error in result.errors)
    yield from (f"{gap.rule} at {', '.join(gap.ids)}" for gap in result.gaps if gap.weight != "advice")
    yield from (f"{lot} is {one.standing}" for lot, one in result.lots.items() if one.standing != "traced")


gap = Want("gap", _tell_gap)
said = Want("said", _tell_said)
silent = Want("silent", _tell_silent)
L1, L2, BOTH = not_all_traced("L1"), not_all_traced("L2"), not_all_traced("L1", "L2")


@dataclass(frozen=True)
class Fraud:
    """An edit of a clean season, and what must come of it. An honest variant is one too."""

    slug: str
    stage: str
    base: str
    wants: tuple[Want, ...]
    says: str
    edit: Edit = field(repr=False)


def of_stage(stage: str) -> Callable[..., Fraud]:
    """Writes down frauds of a stage: slug, base, what must come of it (one or several), words, edits."""

    def write(slug: str, base: str, wants: Want | tuple[Want, ...], says: str, *edits: Edit) -> Fraud:
        return Fraud(
            slug, stage, base, wants if isinstance(wants, tuple) else (wants,), says, together(*edits)
        )

    return write


def examine_folder(folder: Folder) -> Result:
    """The result of a folder, written to a place of its own."""
    with tempfile.TemporaryDirectory() as place:
        return examine(folder.write(Path(place) / "season"), ON)


@cache
def clean_result(base: str) -> Result:
    """The result of a clean season."""
    return examine_folder(folder_of(base))


def tell_wrong(fraud: Fraud, result: Result) -> list[str]:
    """What is wrong with a result, by what must come of the fraud; empty if nothing is."""
    clean = clean_result(fraud.base)
    return [one for want in fraud.wants for one in want.tell(result, clean)]
