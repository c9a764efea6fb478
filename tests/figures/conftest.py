"""The builder of seasons, for tests of the stock book."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

import pytest


@pytest.fixture(scope="session")
def seasons():
    """`tests/seasons.py`, which is part of no package."""
    path = Path(__file__).resolve().parents[1] / "seasons.py"
    spec = importlib.util.spec_from_file_location("built_seasons", path)
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module
