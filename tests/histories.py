"""A season whose records are changed again and again: what its files hold, without what is hidden."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

#: A season's own mapping and a table, with comments of the grower's.
BASE = b"""\
season:
  label: 2026
  from: 2026-01-01
  to: 2026-12-31
  crop: papaya
  standards: [us-nop]
  operation: {name: Two Streams Seed Garden}
"""
TREES = b"""\
# walked in January
trees:
  - tree: T1   # by the gate
    planting: P1
    sex: hermaphrodite
"""
SECOND = b"  - tree: T2\n    planting: P1\n    sex: female\n"
THIRD = b"  - tree: T3\n    planting: P1\n    sex: male\n"


def list_files(season: Path) -> dict[str, bytes]:
    """Every file below a season's folder that isn't hidden, by its path."""
    names = {path.relative_to(season): path for path in season.rglob("*") if path.is_file()}
    return {
        name.as_posix(): path.read_bytes()
        for name, path in sorted(names.items())
        if not any(part.startswith(".") for part in name.parts)
    }
