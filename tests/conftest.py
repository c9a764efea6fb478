"""What every test may lean on: the folders of the checkout, the builder of seasons, and `--bless`."""

from __future__ import annotations

import importlib.util
import os
import sys
from pathlib import Path
from types import ModuleType

import pytest
from hypothesis import settings

# No test may fail for being slow, and CI must give the same verdict twice.
settings.register_profile("certgen", deadline=None, derandomize=bool(os.environ.get("CI")))
settings.load_profile("certgen")

ROOT = Path(__file__).resolve().parents[1]


def pytest_addoption(parser: pytest.Parser) -> None:
    """`pytest --bless` writes the golden files anew instead of comparing with them."""
    parser.addoption(
        "--bless", action="store_true", help="accept what is printed now as the new golden files"
    )


@pytest.fixture(scope="session")
def bless(request: pytest.FixtureRequest) -> bool:
    """True when golden files are to be written anew."""
    return bool(request.config.getoption("--bless"))


@pytest.fixture(scope="session")
def root() -> Path:
    """The top of the checkout."""
    return ROOT


@pytest.fixture(scope="session")
def example_season() -> Path:
    """The invented farm's season that `make demo` prints."""
    return ROOT / "example_season"


@pytest.fixture(scope="session")
def seasons() -> ModuleType:
    """`tests/seasons.py`, which is part of no package."""
    path = Path(__file__).resolve().parent / "seasons.py"
    spec = importlib.util.spec_from_file_location("built_seasons", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module
