"""All seasons in reach as one farm: which record a name means, and which records tell of one thing."""

from __future__ import annotations

import itertools
from collections import defaultdict
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from second_engine.contract import key_of
from second_engine.values import day, milligrams

if TYPE_CHECKING:
    from second_engine.reading import Record, Season

#: What makes two records of one number, in two seasons, one record told twice.
MAIN = {
    "blocks": (), "plantings": (), "trees": ("planting",), "rounds": ("date", "kind"),
    "submissions": ("date", "kind"),
    "letters": ("reported",), "screening": ("collected",), "bagging": ("covered",), "harvests": ("date",),
    "batches": ("date",), "cleaning": ("date",), "lots": ("packed",), "tests": ("date", "lot", "kind"),
    "movements": ("date", "lot", "kind"), "inputs": ("date", "block"), "incidents": ("date", "kind"),
    "observations": ("date",), "recalls": ("opened", "kind"), "visits": ("from",),
    "materials": ("from",), "compost": ("begun",), "scouting": ("date",),
    "water_tests": ("date",),
}  # fmt: skip
#: What may be said otherwise another year, or is no statement about the thing.
_FREE = frozenset({"note", "recorded_by", "evidence", "checks"})
#: Of these a record names one: another one is another statement.
_ORIGINS = frozenset({"lot", "supplier", "batch"})


@dataclass
class Thing:
    """What one record, or records of several seasons, tell of."""

    id: int
    table: str
    key: str
    tellings: list[Record]
    fields: dict[str, Any] = field(default_factory=dict)
    repeated: bool = False
    #: Fields that two seasons tell differently.
    differs: set[str] = field(default_factory=set)

    @property
    def season(self) -> int:
        """The latest season that tells of it (0 is this one)."""
        return self.tellings[0].season

    def day(self, *steps: str) -> int | None:
        """A date below some fields, as a day's number."""
        value: Any = self.fields
        for step in steps:
            value = value.get(step) if isinstance(value, dict) else None
        return day(value) if isinstance(value, str) else None

    def mg(self, name: str) -> int | None:
        """A weight in milligrams."""
        value = self.fields.get(name)
        return None if value is None else milligrams(value)


class Farm:
    """The records of all seasons, looked up as the seasons name them."""

    def __init__(self, seasons: list[Season]) -> None:
        self.seasons = seasons
        self.records: dict[str, list[Record]] = defaultdict(list)
        for season in seasons:
            for table, rows in season.records.items():
                self.records[table] += rows
        self._named: dict[tuple[str, str, int], list[Record]] = defaultdict(list)
        for table, rows in self.records.items():
            for record in rows:
                self._named[table, record.key, record.season].append(record)
        self._left_out = {
            (one.table, one.raw.get(key_of(one.table)), one.season)
            for season in seasons
            for one in season.unread
            if isinstance(one.raw, dict) and isinstance(one.raw.get(key_of(one.table)), str)
        }
        self.things: list[Thing] = []
        self.of: dict[int, Thing] = {}

    # A name is looked for in the season that names it, then in earlier ones (latest first), then in later.

    def find(self, table: str, key: str, season: int, when: int | None = None) -> Record | None:
        """The record that a name means; of trees that bore one number, the one that stood on the day."""
        for at in [*range(season, len(self.seasons)), *reversed(range(season))]:
            found = self._named.get((table, key, at))
            if found:
                return self._standing(found, when) if table == "trees" and len(found) > 1 else found[0]
            if (table, key, at) in self._left_out:
                return None
        return None

    def _standing(self, trees: list[Record], when: int | None) -> Record:
        for one in trees:
            planting = self.find("plantings", one.fields["planting"], one.season)
            planted = day(planting.fields["planted"]) if planting else 0
            gone = one.fields.get("removed")
            if when is not None and planted <= when and (gone is None or when <= day(gone)):
                return one
        return trees[0]

    def block_of(self, tree: Record | None) -> str | None:
        """The number of the block on which a tree stands."""
        planting = tree and self.find("plantings", tree.fields["planting"], tree.season)
        return str(planting.fields["block"]) if planting else None

    # Records that tell of one thing

    def join(self) -> None:
        """Makes one thing of the records that are one record told twice."""
        known: dict[tuple[Any, ...], Thing] = {}
        for table, parts in MAIN.items():
            for record in self.records.get(table, ()):
                main = tuple(record.fields.get(part) for part in parts)
                name = (table, record.key, *main)
                first = known.get(name)
                if first is None or None in main or first.tellings[-1].season == record.season:
                    thing = Thing(len(self.things) + 1, table, record.key, [record])
                    self.things.append(thing)
                    if None not in main:
                        known.setdefault(name, thing)
                else:
                    first.tellings.append(record)
                    thing = first
                self.of[id(record)] = thing
        for thing in self.things:
            self._merge(thing)
        for (table, _key, _season), rows in self._named.items():
            if table in MAIN and len(rows) > 1 and not (table == "trees" and self._one_after_another(rows)):
                for record in rows:
                    self.of[id(record)].repeated = True

    def _one_after_another(self, trees: list[Record]) -> bool:
        """A tree of another planting, after the first one was removed, is another tree."""
        spans = []
        for one in trees:
            planting = self.find("plantings", one.fields["planting"], one.season)
            gone = one.fields.get("removed")
            spans.append((day(planting.fields["planted"]) if planting else 0, day(gone) if gone else 10**7))
        spans.sort()
        return all(before[1] <= after[0] for before, after in itertools.pairwise(spans))

    def _merge(self, thing: Thing) -> None:
        for record in thing.tellings:
            for name, value in record.fields.items():
                if name not in thing.fields:
                    thing.fields[name] = value
                elif name not in _FREE and not _same(thing.fields[name], value):
                    thing.differs.add(name)
                elif isinstance(value, dict):
                    # What one year left out the other may have told.
                    thing.fields[name] = {**value, **thing.fields[name]}
        if thing.table == "visits":
            # Whatever an inspector found in either telling counts.
            for name in ("exercises", "findings"):
                told = [(one, record) for record in thing.tellings for one in record.fields.get(name, ())]
                first = [one for one, record in told if record is told[0][1]]
                thing.fields[name] = first + [
                    {**one, "_told_in": record.season}
                    for one, record in told
                    if record is not told[0][1] and one not in first
                ]
        looks: dict[str, set[str]] = defaultdict(set)
        for record in thing.tellings:
            for look in record.fields.get("checks", ()):
                looks[look["date"]].add(look["condition"])
        if len(thing.tellings) > 1 and looks:
            thing.fields["checks"] = [
                {"date": date, "condition": condition}
                for date, told in sorted(looks.items())
                for condition in sorted(told)
            ]
            own = [{one["date"] for one in record.fields.get("checks", ())} for record in thing.tellings]
            twice = own[0] & own[1]
            thing.differs |= {"checks" for date in twice if len(looks[date]) > 1}

    def thing(self, table: str, key: str, season: int, when: int | None = None) -> Thing | None:
        """The thing that a name means."""
        record = self.find(table, key, season, when)
        return None if record is None else self.of[id(record)]


def _same(one: Any, other: Any) -> bool:
    """Whether two values say the same; a weight may be typed in two units."""
    if one == other:
        return True
    if isinstance(one, dict) and isinstance(other, dict):
        if one.keys() & _ORIGINS != other.keys() & _ORIGINS:
            return False
        return all(_same(one[key], other[key]) for key in one.keys() & other.keys())
    try:
        return bool(milligrams(one) == milligrams(other))
    except (ValueError, TypeError):
        return False
