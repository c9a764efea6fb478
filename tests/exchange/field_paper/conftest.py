"""The example season, examined once a module."""

from __future__ import annotations

import datetime as dt
import shutil
from pathlib import Path

import pytest

from certgen.examination import Result, examine


@pytest.fixture(scope="module")
def result(example_season: Path, tmp_path_factory: pytest.TempPathFactory) -> Result:
    """The example season, examined."""
    folder = Path(shutil.copytree(example_season, tmp_path_factory.mktemp("s") / "season"))
    return examine(folder, dt.date(2026, 12, 31))
