"""A small sound season that the desk has open, and a browser at it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from desk_client import hold, visit

if TYPE_CHECKING:
    from starlette.testclient import TestClient

    from certgen.desk.held_season import HeldSeason

#: With comments and a layout of its own, which nobody but its grower may change.
BAGS = """\
# Bags of the north rows. The string is drawn tight.
bagging:
  # The first of the year.
  - bag: B-1
    tree: "01"
    covered: 2026-01-12   # dry, no wind
    flower: hermaphrodite
    stage: closed bud

  - {bag: B-2, tree: "02", covered: 2026-01-13}
"""
SEASON = """\
season:
  label: "2026"
  from: 2025-11-01
  to: 2026-12-31
  crop: papaya
  standards: [us-nop]
  scale_step: 0.1 g
  operation: {name: Larkfold Seed Orchard}
blocks:
  - {block: East, status: organic}
plantings:
  - planting: P1
    block: East
    variety: Amber Kestrel
    planted: 2025-02-10
    material: seed
    material_status: organic
trees:
  - {tree: "01", planting: P1, row: "1", position: "1", sex: hermaphrodite}
  - {tree: "02", planting: P1, row: "1", position: "2", sex: female}
lots:
  - lot: AK-26-1
    variety: Amber Kestrel
    packed: 2026-09-01
    sources: [{batch: X1, weight: 20 g}]
    weight: 20 g
    status: organic
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A season's folder, its bags in a file of their own."""
    place = tmp_path / "season"
    place.mkdir()
    (place / "season.yaml").write_text(SEASON, encoding="utf-8")
    (place / "bags.yaml").write_text(BAGS, encoding="utf-8")
    return place


@pytest.fixture
def held(folder: Path) -> HeldSeason:
    """The season, held in memory."""
    return hold(folder)


@pytest.fixture
def desk(held: HeldSeason) -> TestClient:
    """A browser that was let in."""
    return visit(held)
