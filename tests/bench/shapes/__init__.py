"""Seasons of awkward shapes: what nobody keeps, and what must end soon all the same.

    python tests/bench/shapes SHAPE FOLDER RECORDS

Each shape writes about so many records (of a dense shape: references) that all lean on one thing, and gives
the bytes written. The same arguments give the same bytes.
"""

from __future__ import annotations

from pathlib import Path

from bench.seasons import SEASON
from bench.shapes import bags, blends, rounds, stock
from bench.shapes.registry import SHAPES

__all__ = ["bags", "blends", "rounds", "shapes", "stock", "write_shape"]


def shapes() -> tuple[str, ...]:
    """The names of all shapes."""
    return tuple(SHAPES)


def write_shape(name: str, folder: Path, records: int) -> int:
    """Writes a season of a shape into a new folder; gives the bytes written."""
    folder.mkdir(parents=True)
    text = "".join(
        f"{table}:\n{''.join(f'- {{{record}}}' + chr(10) for record in lines)}"
        for table, lines in SHAPES[name](records).items()
    )
    return (folder / "season.yaml").write_bytes(SEASON.encode()) + (folder / "records.yaml").write_bytes(
        text.encode()
    )
