"""`certgen coop` from the command line."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from typing import TYPE_CHECKING

from certgen.cli import run

if TYPE_CHECKING:
    from collections.abc import Callable

    import pytest

COVERS = ("certgen.cli.writers.coop",)
GOLDEN = Path(__file__).parent / "golden"
ON = ("--on", "2026-11-25", "--workers", "1")


def test_the_office_reads_who_is_ready_and_what_disagrees(
    root: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    golden: Callable[[Path, str], None],
) -> None:
    """Text, JSON and CSV of one co-op say the same; the second and third run know everyone from before."""
    folder, cache = str(root / "example_coop"), str(tmp_path / "cache")
    letters = tmp_path / "letters"
    assert 2 == run(["coop", folder, *ON, "--cache", cache, "--letters", str(letters)])
    golden(GOLDEN / "coop.txt", capsys.readouterr().out)
    assert ["ALDER.txt", "HOLLOW.txt", "MARROW.txt", "THISTLE.txt"] == sorted(
        path.name for path in letters.iterdir()
    )
    assert 2 == run(["coop", folder, *ON, "--cache", cache, "--format", "json"])
    content = json.loads(capsys.readouterr().out)
    assert {"ready": 0, "evidence missing": 3, "against the claim": 0, "not read": 1} == content["readiness"]
    assert 2 == run(["coop", folder, *ON, "--cache", cache, "--format", "csv"])
    rows = list(csv.reader(io.StringIO(capsys.readouterr().out)))
    assert {one["kind"] for one in content["disagreements"]} <= {row[1] for row in rows}


def test_a_faulty_list_is_named_with_its_places(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit code 2 and file:line:column; as JSON an object with the errors."""
    (tmp_path / "coop.yaml").write_text("coop:\n  name: X\nmembers:\n  - member: A B\n")
    assert 2 == run(["coop", str(tmp_path)])
    assert "coop.yaml:4:" in capsys.readouterr().err
    assert 2 == run(["coop", str(tmp_path), "--format", "json"])
    assert "coop.yaml" == json.loads(capsys.readouterr().out)["errors"][0]["file"]


def test_a_folder_without_a_list_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Nothing to examine is an error in words."""
    assert 2 == run(["coop", str(tmp_path)])
    assert "there is no coop.yaml here" in capsys.readouterr().err
