"""`certgen coop` from the command line."""

from __future__ import annotations

import csv
import io
import json
import shutil
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from certgen.cli import run

if TYPE_CHECKING:
    from collections.abc import Callable

COVERS = ("certgen.cli.writers.coop",)
pytestmark = pytest.mark.all_cores
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
    members = ("ALDER", "HOLLOW", "MARROW", "OFFICE", "RUSH", "THISTLE")
    assert {f"{key}.{form}" for key in members for form in ("txt", "pdf")} == {
        path.name for path in letters.iterdir()
    }
    assert 2 == run(["coop", folder, *ON, "--cache", cache, "--format", "json"])
    content = json.loads(capsys.readouterr().out)
    assert {"ready": 1, "evidence missing": 4, "against the claim": 0, "not read": 1} == content["readiness"]
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


def visits(capsys: pytest.CaptureFixture[str], folder: str, *more: str) -> dict[str, Any]:
    """Whom to visit, as JSON."""
    assert 2 == run(["coop", folder, *ON, "--no-cache", "--format", "json", *more])
    found: dict[str, Any] = json.loads(capsys.readouterr().out)["sample"]
    return found


def test_visits_are_drawn_by_a_text_told_after_the_fingerprint(
    root: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The first run prints it, the second draws by both; more lots or another day are another fingerprint."""
    folder = str(root / "example_coop")
    noted = visits(capsys, folder)["fingerprint"]
    drawn = visits(capsys, folder, "--frozen", noted, "--seed", "Dice: 4 4 1 6 2 5 3")
    assert (noted, True, "dice4416253") == (
        drawn["fingerprint"], drawn["frozen_first"], drawn["seed_as_hashed"],
    )  # fmt: skip
    for other in (["--visit-lots", "2"], ["--on", "2026-11-26"]):
        assert 2 == run(["coop", folder, *ON, "--frozen", noted, "--seed", "Dice: 4 4 1 6 2 5 3", *other])
        shown = capsys.readouterr()
        assert ("", True) == (shown.out, "isn't what is here" in " ".join(shown.err.split()))


def test_what_a_member_hands_in_afterwards_is_found(
    root: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A blank line in one member's records, and the noted fingerprint is another's."""
    folder = Path(shutil.copytree(root / "example_coop", tmp_path / "coop"))
    noted = visits(capsys, str(folder))["fingerprint"]
    with next((folder / "members" / "alder" / "2026").glob("*.yaml")).open("a", encoding="utf-8") as file:
        file.write("\n")
    assert 2 == run(["coop", str(folder), *ON, "--no-cache", "--frozen", noted, "--seed", "dice 4416253"])
    assert "something that a member handed in changed since" in " ".join(capsys.readouterr().err.split())


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--seed", "x"], "8 letters or digits"),
        (["--frozen", "0" * 64], "give it with --seed"),
        (["--frozen", "3f2a", "--seed", "rain at noon"], "64 digits"),
        (["--visit-lots", "0"], "--visit-lots"),
    ],
)
def test_a_wrong_draw_is_explained(
    arguments: list[str], said: str, root: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Before any member is examined: exit code 2 and a way out."""
    assert 2 == run(["coop", str(root / "example_coop"), *arguments])
    assert said in " ".join(capsys.readouterr().err.split())
