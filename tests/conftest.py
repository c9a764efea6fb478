"""What every test may lean on: the folders of the checkout, the builder of seasons, and `--bless`."""

from __future__ import annotations

import gc
import os
import shutil
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path
from types import ModuleType

import pytest
import seasons as built
from hypothesis import settings

from certgen.records.record_files import files

# No test may fail for being slow, and CI must give the same verdict twice.
settings.register_profile("certgen", deadline=None, derandomize=bool(os.environ.get("CI")))
settings.load_profile("certgen")

ROOT = Path(__file__).resolve().parents[1]
#: The processor cores that the tests may use together.
ALL_CORES = os.sched_getaffinity(0) if hasattr(os, "sched_getaffinity") else set()


def pytest_addoption(parser: pytest.Parser) -> None:
    """`pytest --bless` writes the golden files anew instead of comparing with them."""
    parser.addoption(
        "--bless", action="store_true", help="accept what is printed now as the new golden files"
    )


def pytest_configure(config: pytest.Config) -> None:
    """Where Python may leave no bytecode beside the source, as in many containers, it leaves it in pytest's
    cache: hundreds of tests start a command anew, and each would compile the whole program once more.
    """
    cache = getattr(config, "cache", None)
    if cache is not None and os.environ.pop("PYTHONDONTWRITEBYTECODE", ""):
        os.environ.setdefault("PYTHONPYCACHEPREFIX", str(cache.mkdir("bytecode")))
    # Each of several test processes has a core of its own, where the system can tell it so: a command that
    # would start a second process, to use a second core, finds that core at work on other tests.
    worker = os.environ.get("PYTEST_XDIST_WORKER", "")
    if worker and ALL_CORES:
        # Where the system won't have it, nothing is lost but time.
        with suppress(OSError):
            os.sched_setaffinity(0, {sorted(ALL_CORES)[int(worker.removeprefix("gw")) % len(ALL_CORES)]})


def pytest_collection() -> None:
    """Of what is collected nothing is let go again: Python's collector needn't walk it, again and again."""
    gc.disable()


def pytest_collection_finish() -> None:
    """From here on the collector looks at what the tests make, and leaves the tests themselves alone."""
    gc.collect()
    gc.freeze()
    gc.enable()


@pytest.fixture(autouse=True)
def own_core(request: pytest.FixtureRequest) -> Iterator[None]:
    """A test marked `all_cores` may use every core, as a command of a user's does."""
    if not ALL_CORES or request.node.get_closest_marker("all_cores") is None:
        yield
        return
    own = os.sched_getaffinity(0)
    with suppress(OSError):
        os.sched_setaffinity(0, ALL_CORES)
    yield
    with suppress(OSError):
        os.sched_setaffinity(0, own)


#: How old a file must be to be at rest, as the program has it.
MOMENT = files.MOMENT


@pytest.fixture(scope="session", autouse=True)
def files_at_rest() -> Iterator[None]:
    """Nobody else writes what a test has just written: no reading waits for a file to come to rest. A test in
    which somebody does asks for `files_at_work`."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(files, "MOMENT", 0.0)
        yield


@pytest.fixture
def files_at_work(monkeypatch: pytest.MonkeyPatch) -> None:
    """Files are written while they are read: reading waits for them as it does outside the tests."""
    monkeypatch.setattr(files, "MOMENT", MOMENT)


@pytest.fixture(scope="session")
def golden(request: pytest.FixtureRequest) -> Callable[[Path, str], None]:
    """`golden(file, shown)`: what is shown is what the golden file holds; `--bless` writes it anew."""

    def hold(file: Path, shown: str) -> None:
        if request.config.getoption("--bless"):
            file.parent.mkdir(exist_ok=True)
            file.write_text(shown, encoding="utf-8")
        assert file.read_text(encoding="utf-8") == shown

    return hold


@pytest.fixture(scope="session")
def root() -> Path:
    """The top of the checkout."""
    return ROOT


@pytest.fixture(scope="session")
def example_season() -> Path:
    """The invented farm's season that `make demo` prints."""
    return ROOT / "example_season"


@pytest.fixture
def example_copy(example_season: Path, tmp_path: Path) -> Path:
    """A copy of the example season that a test may change."""
    return Path(shutil.copytree(example_season, tmp_path / "season"))


@pytest.fixture(scope="session")
def seasons() -> ModuleType:
    """`tests/seasons.py`, for tests that build a season of many records."""
    return built
