"""New records go where their table lives, and into a file of their own when nothing has room."""

from __future__ import annotations

from typing import TYPE_CHECKING

from certgen.exchange.importing.assembly import Incoming
from certgen.exchange.importing.placing import place_records
from certgen.records import Season, read_season

if TYPE_CHECKING:
    from pathlib import Path

SEASON = """season: {operation: {name: X}, label: '1', from: 2026-01-01, to: 2026-12-31,
  crop: papaya, standards: [us-nop]}
"""
BLOCK = "blocks:\n  - {block: A, status: organic}\n"


def season_of(folder: Path, **files: str) -> Season:
    """A season of the files given."""
    for name, text in {"season": SEASON, **files}.items():
        path = folder / f"{name.replace('__', '/')}.yaml"
        path.parent.mkdir(exist_ok=True)
        path.write_text(text)
    season, errors = read_season(folder)
    assert [] == [error.text() for error in errors]
    assert season is not None
    return season


def new(table: str, **values: object) -> Incoming:
    """A record on its way in."""
    return Incoming(table, values, "sheet", "A2")


def files_of(folder: Path, season: Season, *records: Incoming) -> list[str]:
    """The files that would change."""
    return sorted(place_records(folder, season, records, []).contents)


def test_records_follow_the_last_of_their_table(tmp_path: Path) -> None:
    """Of two files with blocks, the later takes the new one."""
    season = season_of(tmp_path, blocks__2025=BLOCK, blocks__2026=BLOCK.replace("A", "B"))

    assert ["blocks/2026.yaml"] == files_of(tmp_path, season, new("blocks", block="C", status="organic"))


def test_a_file_with_room_comes_before_a_new_one(tmp_path: Path) -> None:
    """An empty list laid out for the table takes its records."""
    season = season_of(tmp_path, land="blocks: []\nplantings:\n")

    assert ["land.yaml"] == files_of(tmp_path, season, new("blocks", block="C", status="organic"))


def test_a_new_file_is_named_by_its_table(tmp_path: Path) -> None:
    """And never overwrites one of that name: the list in brackets is left to its owner."""
    season = season_of(tmp_path, blocks="blocks: [{block: A, status: organic}]\n")
    record = new("blocks", block="C", status="organic")

    placed = place_records(tmp_path, season, [record], [])

    assert {"blocks-2.yaml": b"blocks:\n  - block: C\n    status: organic\n"} == placed.contents
    assert [("blocks C", "blocks-2.yaml")] == placed.added
