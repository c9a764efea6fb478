"""The folder that things go wrong with."""

from __future__ import annotations

from pathlib import Path

import pytest

from certgen.rules.exhibits import load_exhibit


@pytest.fixture
def season(tmp_path: Path) -> Path:
    """A small clean season."""
    return load_exhibit("parent-unscreened", "good").write(tmp_path)
