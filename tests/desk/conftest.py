"""A small sound season that the desk has open, and a browser at it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from desk_client import BAGS, SEASON, hold, visit

if TYPE_CHECKING:
    from starlette.testclient import TestClient

    from certgen.desk.held_season import HeldSeason


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
