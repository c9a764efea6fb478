"""Folders of records that several commands are tried on."""

from __future__ import annotations

from pathlib import Path
from types import ModuleType

import pytest

from certgen.rules.example_seasons import load_example


@pytest.fixture
def empty(seasons: ModuleType, tmp_path: Path) -> str:
    """The folder of a season without a single record."""
    seasons.write_season(tmp_path)
    return str(tmp_path)


@pytest.fixture
def clean(tmp_path: Path) -> str:
    """The folder of a small season without a gap."""
    return str(load_example("parent-unscreened", "good").write(tmp_path))
