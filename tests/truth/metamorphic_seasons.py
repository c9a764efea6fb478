"""Seasons for the metamorphic laws: clean ones, and ones with a fraud or a planted fault in them.

Each is a set of tables by year, as somebody would type them, with the files beside them, so that any field
of any record can be changed before it is written, read and judged.
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Iterator, Mapping
from copy import deepcopy
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from random import Random
from typing import TYPE_CHECKING, Any

import yaml
from condensing import condense
from fraud import ON
from frauds import FRAUDS
from frauds_records import KEYS
from frauds_seasons import PLAIN, ROUNDS, YEARS, folder_of
from generator import grow_season
from planted import FAULTS
from plot import Plot, Unsuited

from certgen.examination import ReadFailure, Result, examine

if TYPE_CHECKING:
    from truths import Truth

EXAMPLE = Path(__file__).resolve().parents[2] / "example_season"
Tables = dict[str, Any]
#: From the best to the worst.
RANKS = {"traced": 0, "unproven": 1, "rejected": 2}


@dataclass
class Story:
    """A season's folder before it is written: the tables of each year (this year's under ""), and files.

    `touched` are the records that its fault added, and fields that it changed: year, table, number, and the
    field or nothing. `on` is the day of the examination.
    """

    name: str
    years: dict[str, Tables]
    files: dict[str, bytes] = field(default_factory=dict)
    on: date = ON
    touched: frozenset[tuple[str, str, str, str]] = frozenset()

    def copy(self) -> Story:
        """The same, to be changed."""
        return Story(self.name, deepcopy(self.years), dict(self.files), self.on, self.touched)

    def records(self) -> Iterator[tuple[str, str, int, dict[str, Any]]]:
        """Every record: its year, its table, its position, itself."""
        for year, tables in self.years.items():
            for table in KEYS:
                for at, record in enumerate(tables.get(table, ())):
                    yield year, table, at, record

    def write(self, place: Path) -> Path:
        """Writes each year's folder (JSON is YAML), each year before as a hidden folder."""
        for year, tables in self.years.items():
            folder = place / f".season-{year}" if year else place
            folder.mkdir(parents=True, exist_ok=True)
            text = json.dumps({name: rows for name, rows in tables.items() if rows}, indent=1, default=str)
            (folder / "season.yaml").write_text(text, encoding="utf-8")
        for name, content in self.files.items():
            path = place / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(content)
        return place

    def examine(self) -> Result | None:
        """What comes of it; None if it can't be read at all, so that nothing is traced."""
        with tempfile.TemporaryDirectory() as place:
            try:
                return examine(self.write(Path(place) / "season"), self.on)
            except ReadFailure:
                return None


def standings_of(result: Result | None) -> dict[str, tuple[int, int]]:
    """By lot, of all years, its traced milligrams and how bad it stands."""
    if result is None or result.case.standings is None:
        return {}
    judged = result.case.standings.judge()
    return {lot: (one.traced_mg, RANKS[one.standing]) for lot, one in judged.items()}


def _touched(
    clean: Mapping[str, Tables], years: Mapping[str, Tables]
) -> frozenset[tuple[str, str, str, str]]:
    """What differs from the clean season."""
    found = set()
    for year, tables in years.items():
        for table, key in KEYS.items():
            before = {one.get(key): one for one in clean.get(year, {}).get(table, ())}
            for record in tables.get(table, ()):
                name = str(record.get(key))
                old = before.get(record.get(key))
                if old is None:
                    found.add((year, table, name, ""))
                    continue
                changed = {one for one in {*record, *old} if record.get(one) != old.get(one)}
                found |= {(year, table, name, one) for one in changed}
    return frozenset(found)


def _of_folder(name: str, folder: Any) -> Story:
    files = {path: text.encode() for path, text in folder.files.items()}
    for year in folder.years:
        place = f".season-{year}/" if year else ""
        files[f"{place}evidence/nongm.txt"] = b"not engineered"
    return Story(name, folder.years, files)


def small_seasons() -> list[Story]:
    """The clean seasons of the frauds."""
    return [_of_folder(base, folder_of(base)) for base in (PLAIN, YEARS, ROUNDS)]


def fraud_seasons() -> Iterator[Story]:
    """Each of those frauds that leave a season which can be read."""
    for slug in FRAUDS:
        yield of_fraud(slug)


def of_fraud(slug: str) -> Story:
    """A small season with a fraud in it."""
    fraud = FRAUDS[slug]
    folder = folder_of(fraud.base)
    fraud.edit.make(folder)
    story = _of_folder(f"{fraud.base} with {slug}", folder)
    story.touched = _touched(folder_of(fraud.base).years, story.years)
    return story


def _of_truth(name: str, truth: Truth) -> Story:
    years: dict[str, Tables] = {}
    files: dict[str, bytes] = {}
    at: Truth | None = truth
    place = ""
    while at is not None:
        season, tables = dict(at.season), at.tables
        if at.style is not None:
            season, tables = condense(season, tables, at.previous, Random(at.style))
        before = at.previous
        if before is not None:
            # Seen from a hidden folder the next one lies beside it.
            season["previous"] = f"{'../' if place else ''}.season-{before.season['label']}"
        years[place] = _plain({"season": season, **tables})
        folder = f".season-{place}/" if place else ""
        files |= {f"{folder}evidence/{one}": data for one, data in at.evidence.items()}
        at, place = before, "" if before is None else str(before.season["label"])
    return Story(name, years, files, truth.on)


def _plain(content: Any) -> Any:
    """A copy of plain lists, mappings and texts, without what only the generator needs."""
    return json.loads(json.dumps(content, default=str))


def grown_season(seed: int) -> Story:
    """A clean season of the generator."""
    return _of_truth(f"seed {seed}", grow_season(Random(seed)))


def planted_season(slug: str, seed: int) -> Story:
    """A season of the generator with a rule's fault in it, from the first seed that has a place for it."""
    for number in range(seed, seed + 400):
        random = Random(number)
        plot = Plot(grow_season(random), random)
        try:
            FAULTS[slug](plot)
        except Unsuited:
            continue
        story = _of_truth(f"seed {number} with {slug}", plot.truth)
        story.touched = _touched(grown_season(number).years, story.years)
        return story
    raise Unsuited(slug)


def example_season() -> Story:
    """The invented farm's season that comes with the program, with the year before."""
    years: dict[str, Tables] = {}
    files: dict[str, bytes] = {}
    for year in ("", "2025"):
        place = EXAMPLE / f".season-{year}" if year else EXAMPLE
        tables: Tables = {}
        for path in sorted(place.rglob("*")):
            within = path.relative_to(place)
            if path.is_dir() or any(part.startswith(".") for part in within.parts):
                continue
            if path.suffix == ".yaml":
                for name, rows in yaml.safe_load(path.read_text(encoding="utf-8")).items():
                    tables[name] = rows if name == "season" else [*tables.get(name, []), *rows]
            elif within.parts[0] == "evidence":
                files[str(path.relative_to(EXAMPLE))] = path.read_bytes()
        years[year] = _plain(tables)
    return Story("example season", years, files)
