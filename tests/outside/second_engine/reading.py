"""Reads a season's folder and those before it: records, what was left out, what lies as evidence."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import yaml

from second_engine.contract import demands_of, key_of, profile_of, sound, table_names
from second_engine.values import RefusedError, day, milligrams, plain, silent

_LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_MOST_SEASONS = 13


@dataclass
class Record:
    """One record as it was typed, in the season (0 is this one, 1 the one before) that tells it."""

    table: str
    season: int
    fields: dict[str, Any]

    @property
    def key(self) -> str:
        """Its number."""
        return str(self.fields.get(key_of(self.table) or "", ""))


@dataclass
class Unread:
    """A record that was left out: its raw fields may still tell what it is about."""

    table: str
    season: int
    raw: Any


@dataclass
class Season:
    """One season's folder as read."""

    at: int
    folder: Path
    details: dict[str, Any]
    records: dict[str, list[Record]] = field(default_factory=dict)
    unread: list[Unread] = field(default_factory=list)
    #: Something that can't be told at all: a broken file, an unknown table, a season before that isn't there.
    broken: list[str] = field(default_factory=list)

    @property
    def start(self) -> int:
        """The first day."""
        return day(self.details["from"])

    @property
    def end(self) -> int:
        """The last day."""
        return day(self.details["to"])

    @property
    def profile(self) -> dict[str, Any]:
        """The crop profile."""
        return profile_of(self.details["crop"])

    def demand(self, name: str) -> list[Any]:
        """What the season's standards ask for under a name, one answer a standard that asks."""
        return [
            found[name] for one in self.details["standards"] if name in (found := demands_of(one))
        ]  # fmt: skip

    @property
    def step(self) -> int:
        """The smallest weight that the scale shows: the season's own, at most 1 g, or 0.1 g."""
        if "scale_step" in self.details:
            return min(milligrams(self.details["scale_step"]), 1000)
        told = self.profile["practice"].get("scale_step_g", {})
        return round(told.get("usual", told.get("high", 0.1)) * 1000)

    def holds(self, name: str) -> bool:
        """Whether a file of that name lies in the evidence folder and isn't empty."""
        path = self.evidence(name)
        return path is not None and path.stat().st_size > 0

    def evidence(self, name: str) -> Path | None:
        """Where the file lies, if it lies in the evidence folder."""
        home = (self.folder / "evidence").resolve()
        try:
            path = (home / name).resolve()
            return path if path.is_relative_to(home) and path.is_file() else None
        except (OSError, ValueError):
            return None


def read_seasons(folder: Path) -> list[Season]:
    """The season in a folder and those before it, latest first. `RefusedError` if it can't be read at all."""
    seasons = [_read_season(folder, 0)]
    seen = {folder.resolve()}
    while seasons[-1].details.get("previous"):
        last = seasons[-1]
        before = Path(last.folder, last.details["previous"])
        try:
            if not before.is_dir() or before.resolve() in seen or len(seasons) == _MOST_SEASONS:
                raise RefusedError(f"no season before at {last.details['previous']}")
            seen.add(before.resolve())
            seasons.append(_read_season(before, len(seasons)))
        except (RefusedError, OSError, ValueError) as error:
            last.broken.append(str(error))
            break
    return seasons


def _read_season(folder: Path, at: int) -> Season:
    details: dict[str, Any] | None = None
    broken: list[str] = []
    tables: list[tuple[str, Any]] = []
    for path in _files(folder):
        try:
            content = _load(path)
        except (RefusedError, yaml.YAMLError, OSError, UnicodeError, RecursionError) as error:
            broken.append(f"{path.name}: {error}")
            continue
        for name, value in content:
            if name == "season":
                if details is None:
                    details = _details(value)
                else:
                    broken.append(f"{path.name}: a second season")
            elif name not in table_names() or not isinstance(value, (list, type(None))):
                broken.append(f"{path.name}: {name}")
            else:
                tables.append((name, value or []))
    if details is None:
        raise RefusedError(f"no file says whose season this is: {broken}")
    season = Season(at, folder, details, broken=broken)
    for name, rows in tables:
        for raw in rows:
            try:
                fields = sound(name, details["crop"], raw)
            except RefusedError:
                season.unread.append(Unread(name, at, raw))
            else:
                season.records.setdefault(name, []).append(Record(name, at, fields))
    return season


def _details(raw: Any) -> dict[str, Any]:
    """The season's own mapping; without a sound one nothing can be said."""
    details = sound("season", None, raw)
    profile_of(details["crop"])
    details = sound("season", details["crop"], raw)
    for standard in details["standards"]:
        demands_of(standard)
    if day(details["from"]) > day(details["to"]):
        raise RefusedError("the season ends before it begins")
    return details


def _files(folder: Path) -> list[Path]:
    found = []
    for path in sorted(folder.rglob("*")):
        steps = path.relative_to(folder).parts
        if any(step.startswith(".") for step in steps) or steps[0] in {"evidence", "out"}:
            continue
        if path.suffix in {".yaml", ".yml"} and path.is_file():
            found.append(path)
    if not found:
        raise RefusedError(f"no record file in {folder.name}")
    return found


def _load(path: Path) -> list[tuple[str, Any]]:
    """A file's tables. Scalars stay text; an empty value or a bare tilde is `None`."""
    text = path.read_text(encoding="utf-8-sig")
    events = iter(yaml.parse(text, Loader=_LOADER))
    for event in events:
        if isinstance(event, yaml.DocumentStartEvent):
            break
    else:
        raise RefusedError("nothing stands in it")
    first = next(events)
    if not isinstance(first, yaml.MappingStartEvent):
        raise RefusedError("begins without a table's name")
    built = _build(first, events)
    next(events)
    if isinstance(next(events), yaml.DocumentStartEvent):
        raise RefusedError("a second document")
    if not isinstance(built, dict):
        raise RefusedError("a table begins twice")
    return list(built.items())


def _build(event: yaml.Event, events: Any) -> Any:
    """The value that begins with an event."""
    if isinstance(event, yaml.AliasEvent) or event.anchor is not None or event.tag is not None:
        raise RefusedError("a YAML reference or tag")
    if isinstance(event, yaml.ScalarEvent):
        return None if event.style in {None, ""} and event.value in {"", "~"} else event.value
    if isinstance(event, yaml.SequenceStartEvent):
        items = []
        while not isinstance(event := next(events), yaml.SequenceEndEvent):
            items.append(_build(event, events))
        return items
    made: dict[str, Any] = {}
    doubled = False
    while not isinstance(event := next(events), yaml.MappingEndEvent):
        name = _build(event, events)
        value = _build(next(events), events)
        doubled = doubled or not isinstance(name, str) or name in made or name == "<<"
        made[str(name)] = value
    if doubled:
        # No record has such a field, so whatever holds this is left out; what it says may still be looked at.
        return {**made, "<twice>": "twice"}
    return made


def same_operation(one: Season, other: Season) -> bool:
    """Whether two seasons are of one operation: by certificate, or by name where certificates are silent."""
    mine, theirs = (
        (season.details["operation"].get("certificate", ""), season.details["operation"]["name"])
        for season in (one, other)
    )
    if not silent(mine[0]) and not silent(theirs[0]):
        return plain(mine[0]) == plain(theirs[0])
    return plain(mine[1]) == plain(theirs[1])
