"""The example season, examined once a module."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from certgen.examination import Result, examine


@pytest.fixture(scope="module")
def result(example_season: Path) -> Result:
    """The example season, examined."""
    return examine(example_season, dt.date(2026, 12, 31))
