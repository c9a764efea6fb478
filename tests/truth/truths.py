"""Seasons in memory, written as a grower would, one field a line, so that the line of each is known."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from datetime import date
from random import Random
from typing import TYPE_CHECKING, Any

from condensing import condense

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

#: What bears a record's number in each table.
KEYS = {
    "blocks": "block", "plantings": "planting", "trees": "tree", "screening": "sample", "bagging": "bag",
    "harvests": "harvest", "batches": "batch", "cleaning": "cleaning", "lots": "lot", "tests": "test",
    "movements": "movement", "inputs": "input", "incidents": "incident", "explanations": "rule",
    "rounds": "round", "submissions": "submission", "letters": "letter", "observations": "observation",
    "recalls": "recall", "visits": "visit",
    "materials": "material", "compost": "heap", "scouting": "scouting", "water_tests": "water_test",
}  # fmt: skip


@dataclass
class Truth:
    """A season as it is known to be: its mapping, its tables, and the season before.

    `files` spreads tables over files (the others stand in `season.yaml`); `evidence` are files by name;
    `on` is the day on which it is examined. `noted` is the advice that it rightly gets, by rule and record.
    With a `style`, which is a seed, it is written down in rounds, letters and a routine.
    """

    season: dict[str, Any]
    tables: dict[str, list[dict[str, Any]]]
    on: date
    files: dict[str, str] = field(default_factory=dict)
    evidence: dict[str, bytes] = field(default_factory=dict)
    previous: Truth | None = None
    noted: set[tuple[str, str]] = field(default_factory=set)
    style: int | None = None

    def record(self, table: str, identifier: str) -> dict[str, Any]:
        """The first record of a table that bears the number."""
        return next(one for one in self.tables[table] if one[KEYS[table]] == identifier)

    def write(self, folder: Path) -> dict[tuple[str | int, ...], tuple[str, int]]:
        """Writes the season's folder, and the one before beside it.

        Returns for each field's path, `(table, position, *steps)`, its file and line.
        """
        if self.previous is not None:
            before = folder.parent / f"{folder.name}-before"
            self.previous.write(before)
            self.season["previous"] = f"../{before.name}"
        names = ["season.yaml", *sorted(set(self.files.values()) - {"season.yaml"})]
        season, tables = self.season, self.tables
        if self.style is not None:
            season, tables = condense(season, tables, self.previous, Random(self.style))
        found: dict[tuple[str | int, ...], tuple[str, int]] = {}
        for name in names:
            content: dict[str, Any] = {"season": season} if name == "season.yaml" else {}
            content |= {
                table: records
                for table, records in tables.items()
                if records and self.files.get(table, "season.yaml") == name
            }
            lines: list[str] = []
            paths: dict[tuple[str | int, ...], int] = {}
            for table, value in content.items():
                _emit(lines, paths, (table,), f"{table}:", value, 0)
            path = folder / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text("\n".join(lines) + "\n", encoding="utf-8")
            found |= {steps: (name, line) for steps, line in paths.items()}
        for name, data in self.evidence.items():
            path = folder / "evidence" / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(data)
        return found


def _emit(
    lines: list[str], paths: dict[Any, int], at: tuple[str | int, ...], start: str, value: Any, depth: int
) -> None:
    """Appends `start` and the value below it; `paths` learns the line of each field."""
    pad = "  " * depth
    if isinstance(value, dict) and value:
        if start:
            lines.append(pad + start)
            paths[at] = len(lines)
        for key, inner in value.items():
            _emit(lines, paths, (*at, key), f"{key}:", inner, depth + bool(start))
    elif isinstance(value, (list, tuple)) and value and isinstance(value[0], dict):
        lines.append(pad + start)
        paths[at] = len(lines)
        for number, one in enumerate(value):
            first = len(lines)
            _emit(lines, paths, (*at, number), "", one, depth + 2)
            # A record begins where its dash stands.
            lines[first] = "  " * (depth + 1) + "- " + lines[first].lstrip()
            paths[*at, number] = first + 1
    else:
        lines.append(f"{pad}{start} {_scalar(value)}")
        paths[at] = len(lines)
        if isinstance(value, (list, tuple)):
            paths.update(dict.fromkeys(((*at, number) for number in range(len(value))), len(lines)))


def _scalar(value: Any) -> str:
    if isinstance(value, date):
        return value.isoformat()
    return json.dumps(value, ensure_ascii=False, default=str)


def steps_of(*field_steps: str | int) -> Iterator[str | int]:
    """Field steps with dotted names taken apart: `("tag.date",)` is `tag`, `date`."""
    for step in field_steps:
        yield from step.split(".") if isinstance(step, str) else (step,)
