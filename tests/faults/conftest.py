"""The folder that things go wrong with."""

from __future__ import annotations

from pathlib import Path

import pytest

from certgen.rules.example_seasons import load_example


@pytest.fixture
def season(tmp_path: Path) -> Path:
    """A small clean season."""
    return load_example("parent-unscreened", "good").write(tmp_path)
