"""Setting up: the list of targets, and what is said when the system lacks a library."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
SCRIPTS = ("run", "lock", "system-libraries")


def system_libraries(*options: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """The script's run, with these variables laid over the environment."""
    return subprocess.run(
        [shutil.which("bash") or "bash", str(ROOT / ".ci" / "system-libraries"), *options],
        env={**os.environ, **environment},
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.fixture
def bare_python(tmp_path: Path) -> str:
    """A Python without venv, on a system without any of the libraries."""
    python = tmp_path / "bare-python"
    python.write_text(
        '#!/bin/sh\ncase "$2" in *print*) echo python3.11-venv ;; *) exit 1 ;; esac\n', encoding="utf-8"
    )
    python.chmod(0o755)
    return str(python)


def test_make_alone_lists_every_target_that_is_described() -> None:
    """A newcomer types `make` and sees what there is."""
    described = re.findall(r"(?m)^([a-z-]+):.*## ", (ROOT / "Makefile").read_text(encoding="utf-8"))
    finished = subprocess.run(["make"], cwd=ROOT, capture_output=True, text=True, check=True)

    assert {"demo", "test", "lint", "docs", "bless", "bench", "clean"} <= set(described)
    assert described == re.findall(r"(?m)^  make ([a-z-]+)  +\S", finished.stdout)


@pytest.mark.parametrize("name", SCRIPTS)
def test_scripts_are_whole_and_can_be_run(name: str) -> None:
    """Each script parses, stops at its first failing command, and is executable."""
    script = ROOT / ".ci" / name
    parsed = subprocess.run(["bash", "-n", str(script)], capture_output=True, text=True, check=False)

    assert "" == parsed.stderr
    assert os.access(script, os.X_OK)
    assert "set -euo pipefail" in script.read_text(encoding="utf-8")


@pytest.mark.skipif(os.uname().sysname != "Linux", reason="names Debian's packages")
def test_a_dry_run_names_what_is_missing_and_the_command_that_installs_it(bare_python: str) -> None:
    """Nothing is installed behind anyone's back: a dry run only says what would be."""
    finished = system_libraries("--dry-run", PYTHON=bare_python)

    assert 0 == finished.returncode
    missing, command = finished.stdout.splitlines()
    packages = missing.removeprefix("missing: ").split()
    assert {"python3.11-venv", "libpango-1.0-0", "libharfbuzz-subset0"} <= set(packages)
    assert command.endswith(f"apt-get install --yes --no-install-recommends {' '.join(packages)}")


@pytest.mark.skipif(os.uname().sysname != "Linux", reason="names Debian's packages")
def test_without_a_known_package_manager_the_way_out_is_named(bare_python: str, tmp_path: Path) -> None:
    """On another system the missing pieces are named, and the run ends with 1."""
    (tmp_path / "tools").mkdir()
    for tool in ("uname", "dirname", "env"):
        (tmp_path / "tools" / tool).symlink_to(shutil.which(tool) or tool)
    finished = system_libraries(PYTHON=bare_python, PATH=str(tmp_path / "tools"))

    assert (1, "") == (finished.returncode, finished.stdout)
    assert "libpango-1.0-0" in finished.stderr
    assert "then run make again" in finished.stderr


def test_an_unknown_option_is_refused() -> None:
    """A misspelt option installs nothing."""
    finished = system_libraries("--everthing")

    assert (2, "unknown option: --everthing\n") == (finished.returncode, finished.stderr)
