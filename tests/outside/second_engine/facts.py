"""The records as facts: what each says, the days and counts in it, and what its names mean.

bag(7).  said(7,tag_date).  day(7,covered,739650).  says(7,stage,"closed bud").  names(7,tree,3).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from second_engine.contract import key_of, references, schema_of
from second_engine.values import day, silent

if TYPE_CHECKING:
    from second_engine.farm import Farm, Thing
    from second_engine.reading import Record, Unread

SINGULAR = {
    "blocks": "block", "plantings": "planting", "trees": "tree", "rounds": "round", "letters": "letter",
    "submissions": "sheet",
    "screening": "sample", "bagging": "bag", "harvests": "harvest", "batches": "run", "cleaning": "cleaning",
    "lots": "lot", "tests": "test", "movements": "move", "inputs": "input", "incidents": "incident",
    "observations": "observation", "recalls": "recall", "visits": "visit",
    "materials": "listed", "compost": "heap", "scouting": "scouting", "water_tests": "water_test",
}  # fmt: skip
#: Tables of the line: whatever rests on one of their records names it. (A run touches others beside it.)
_LINE = frozenset({"blocks", "plantings", "trees", "bagging", "harvests", "lots"})
_UNSAID = frozenset({"note", "recorded_by", "evidence"})
#: The day that places a record in its season. A bag or a sample may stand in either season's folder.
_YEAR = 366
_MAIN_DAY = {
    "harvests": "date", "batches": "date", "cleaning": "date", "lots": "packed", "tests": "date",
    "movements": "date", "inputs": "date", "incidents": "date",
}  # fmt: skip


class Facts:
    """The text of a logic program's facts."""

    def __init__(self) -> None:
        self.lines: list[str] = []

    def add(self, name: str, *arguments: int | str) -> None:
        """One fact. Texts are quoted; a field's name begins with ':' and becomes a constant."""
        told = ",".join(map(_term, arguments))
        self.lines.append(f"{name}({told})." if told else f"{name}.")

    def text(self) -> str:
        """All of them."""
        return "\n".join(self.lines)


def _term(value: int | str) -> str:
    if isinstance(value, int):
        return str(value)
    if value.startswith(":"):
        return value[1:]
    quoted = value.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")
    return f'"{quoted}"'


def flat(schema: dict[str, Any], value: dict[str, Any], field: str = "") -> Iterator[tuple[str, str, Any]]:
    """(field, kind, value) of everything that a record says, a mapping's fields joined to its name."""
    for key, inner in value.items():
        part = schema.get("properties", {}).get(key, {})
        name = f"{field}_{key}" if field else key
        if isinstance(inner, dict):
            yield name, "mapping", inner
            yield from flat(part, inner, name)
        else:
            yield name, part.get("x-kind", "text"), inner


class Writer:
    """Writes the facts that stand in the records themselves."""

    def __init__(self, farm: Farm, on: int, alien: set[int]) -> None:
        self.farm = farm
        self.facts = Facts()
        self.alien = alien
        self.facts.add("today", on)
        self.next = len(farm.things) + 1
        #: Parts of lots: (lot, its part's number in the program, what the source says).
        self.parts: list[tuple[Thing, int, dict[str, Any]]] = []
        #: Parts that a supplier's packet leads back to their parents.
        self.vouched: set[int] = set()

    def number(self) -> int:
        """A number that stands for nothing yet."""
        self.next += 1
        return self.next - 1

    def write(self) -> None:
        """Every thing, its parts, and what was left out."""
        for thing in self.farm.things:
            self._thing(thing)
        for season in self.farm.seasons:
            if season.broken:
                self.facts.add("all_lots")
            for unread in season.unread:
                self._unread(unread)

    def _thing(self, thing: Thing) -> None:
        add = self.facts.add
        add(SINGULAR[thing.table], thing.id)
        add("season", thing.id, thing.season)
        for record in thing.tellings:
            add("tells", record.season, thing.id)
        schema = schema_of(thing.table, None)
        self.says(thing.id, flat(schema, thing.fields))
        for look in thing.fields.get("checks", ()):
            add("look", thing.id, day(look["date"]), look["condition"])
        self._names(thing, thing.id, schema, thing.fields)
        for source in thing.fields.get("sources", ()):
            part = self.number()
            self.parts.append((thing, part, source))
            add("part", part, thing.id)
            inner = schema["properties"]["sources"]["items"]
            self.says(part, flat(inner, source))
            self._names(thing, part, inner, source)
        for column in ("exercises", "findings") if thing.table == "visits" else ():
            for entry in thing.fields.get(column, ()):
                self._entry(thing, column, schema["properties"][column]["items"], entry)
        self._papers(thing)

    def _entry(self, thing: Thing, column: str, schema: dict[str, Any], entry: dict[str, Any]) -> None:
        """What an inspector tried or found, and whether a file shows how it ended."""
        number = self.number()
        entry = dict(entry)
        self.facts.add(column[:-1], number, thing.id)
        told = entry.pop("_told_in", None)
        teller = (
            thing.tellings[0] if told is None else next(one for one in thing.tellings if one.season == told)
        )
        files = teller.fields.get("evidence", ())
        if told is not None and "evidence" in thing.tellings[0].fields:
            # The later telling names its own files, and not those.
            files = ()
        files = {files} if isinstance(files, str) else set(files)
        self.says(number, flat(schema, entry))
        self._names(thing, number, schema, entry)
        for field in ("paper", "letter"):
            if entry.get(field) in files and self.farm.seasons[teller.season].holds(entry[field]):
                self.facts.add("shows", number, f":{field}")

    def says(self, number: int, told: Iterator[tuple[str, str, Any]]) -> None:
        """What a record says in its fields."""
        add = self.facts.add
        for field, kind, value in told:
            if field in _UNSAID or (kind == "text" and silent(value)) or value == []:
                continue
            name = f":{field}"
            add("said", number, name)
            if kind == "date" or (field == "last_prohibited_substance" and value != "none known"):
                add("day", number, name, day(value))
            elif kind == "whole":
                add("num", number, name, value)
            elif kind == "yes_no":
                add("says", number, name, ":yes" if value else ":no")
            elif isinstance(value, str) and kind in {"text", "word", "identifier"}:
                add("says", number, name, value)

    def _names(self, thing: Thing, number: int, schema: dict[str, Any], fields: dict[str, Any]) -> None:
        when = next((thing.day(one) for one in ("covered", "collected", "date") if one in thing.fields), None)
        apart = {"sources", "exercises", "findings", "samples"} if number == thing.id else set()
        if thing.table in {"lots", "visits"}:
            # Each of these has a number of its own.
            fields = {key: value for key, value in fields.items() if key not in apart}
        for field, tables, name in references(schema, fields):
            named = (self.farm.thing(table, name, thing.season, when) for table in tables)
            found = [one for one in named if one is not None]
            for one in found:
                self.facts.add("names", number, f":{field}", one.id)
            if not found and thing.table not in {"rounds", "letters"}:
                self.facts.add("unknown", number, f":{field}")

    def _papers(self, thing: Thing) -> None:
        add = self.facts.add
        if thing.repeated:
            add("repeated", thing.id)
        if thing.differs and thing.table not in {"blocks", "trees"}:
            add("told_differently", thing.id)
        if all(record.season in self.alien for record in thing.tellings):
            add("alien", thing.id)
        main = _MAIN_DAY.get(thing.table, "")
        if main and not any(self._in_season(record, main) for record in thing.tellings):
            add("outside", thing.id)
        last = self.farm.seasons[thing.season].end
        if thing.table == "lots" and day(thing.fields["packed"]) > last:
            add("packed_late", thing.id)
        for record in thing.tellings:
            season = self.farm.seasons[record.season]
            sources = [*record.fields.get("sources", ()), record.fields.get("origin", {})]
            if not all(season.holds(one["packet"]) for one in sources if "packet" in one):
                add("evidence_absent", thing.id)
            for field in ("evidence", "non_gm_statement", "search_log"):
                files = record.fields.get(field, ())
                files = [files] if isinstance(files, str) else list(files)
                if any(season.holds(file) for file in files):
                    add("shown_by", thing.id, f":{field}")
                    if field == "evidence":
                        add("shown", thing.id)
                if not all(season.holds(file) for file in files):
                    add("evidence_absent", thing.id)

    def _in_season(self, record: Record, main: str) -> bool:
        season = self.farm.seasons[record.season]
        # What belongs to the year may be filed with either; beyond that the year is a slip of the pen.
        return season.start - _YEAR <= day(record.fields[main]) <= season.end + _YEAR

    def _unread(self, unread: Unread) -> None:
        """What a record that was left out may speak against: what it names, else everything."""
        if unread.table == "explanations":
            return
        raw = unread.raw if isinstance(unread.raw, dict) else {}
        told = False
        for _field, tables, name in references(schema_of(unread.table, None), raw):
            for table in tables:
                thing = self.farm.thing(table, name, unread.season)
                if thing is not None:
                    self.facts.add("unread_names", thing.id)
                    told = True
        own = raw.get(key_of(unread.table) or "")
        numbered = isinstance(own, str) and re.fullmatch(r"[A-Za-z0-9._/-]{1,40}", own) is not None
        if not told and not (numbered and unread.table in _LINE):
            self.facts.add("all_lots")
