"""What is offered to pre-commit: its entries are commands that are there and that end as it is told."""

from __future__ import annotations

import re
import shlex
import subprocess
import sys
from typing import TYPE_CHECKING, Any

import pytest
import yaml

if TYPE_CHECKING:
    from pathlib import Path

COVERS = (".pre-commit-hooks.yaml",)
FORGOTTEN = "trees:\n  - {tree: T9, planting: P1, hight: 2 m}\n"


@pytest.fixture
def hooks(root: Path) -> dict[str, dict[str, Any]]:
    """Each hook by its name."""
    return {one["id"]: one for one in yaml.safe_load((root / ".pre-commit-hooks.yaml").read_text())}


def run_as_pre_commit(hook: dict[str, Any], repository: Path, *arguments: str) -> int:
    """The entry with its arguments, called from the repository's root, no file names behind."""
    command, *entry = shlex.split(hook["entry"])
    assert ("certgen", False, "python") == (command, hook["pass_filenames"], hook["language"])
    ran = subprocess.run(
        [sys.executable, "-m", "certgen", *entry, *arguments, "--on", "2026-10-31"],
        cwd=repository, capture_output=True, check=False,
    )  # fmt: skip
    return ran.returncode


def test_hooks_look_at_records_and_papers_alone(hooks: dict[str, dict[str, Any]]) -> None:
    """A commit of anything else isn't kept waiting."""
    for hook in hooks.values():
        looked_at = {
            name: bool(re.search(hook["files"], name))
            for name in (
                "2026/trees.yaml",
                "a.yml",
                "2026/evidence/letter.pdf",
                "evidence/a.txt",
                "README.md",
                "x.yaml.txt",
            )
        }
        assert [True, True, True, True, False, False] == list(looked_at.values())


def test_a_season_that_has_gaps_still_can_be_committed(
    hooks: dict[str, dict[str, Any]], seasons: Any, tmp_path: Path
) -> None:
    """What is only missing yet stops a commit where all is to be there; what can't be read stops each."""
    season = tmp_path / "2026"
    season.mkdir()
    tables = seasons.one_line()
    seasons.write_season(season, **tables)
    assert [0, 0] == [run_as_pre_commit(hook, tmp_path, "2026") for hook in hooks.values()]

    seasons.write_season(season, **{**tables, "screening": []})
    assert [0, 1] == [run_as_pre_commit(hook, tmp_path, "2026") for hook in hooks.values()]

    (season / "more.yaml").write_text(FORGOTTEN)
    assert [2, 2] == [run_as_pre_commit(hook, tmp_path, "2026") for hook in hooks.values()]
