"""What the documents tell a reader must be so: commands, paths, targets and the sample season."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from datetime import date
from pathlib import Path

import grimp
import pytest

COVERS = ("certgen", "README.md", "DEVELOPERS.md", "SECURITY.md", "CHANGELOG.md")
ROOT = Path(__file__).resolve().parents[1]
DOCUMENTS = ("README.md", "DEVELOPERS.md", "SECURITY.md", "example_season/README.md")


def command_lines(document: str) -> list[str]:
    """Every line that a document's code shows with a `certgen` command in it, from the command on."""
    text = (ROOT / document).read_text(encoding="utf-8")
    blocks = re.findall(r"(?ms)^```(\w*)\n(.*?)^```$", text)
    code = [block for language, block in blocks if language in {"", "sh", "console", "text"}]
    code += re.findall(r"`([^`\n]+)`", text)
    code += re.findall(r"(?m)^    (certgen .*)$", text)
    return [line for part in code for line in re.findall(r"(?m)^\s*(?:\$ )?certgen ([a-z].*)", part)]


def commands_in(document: str) -> set[str]:
    """The commands that a document shows."""
    return {line.split()[0] for line in command_lines(document)}


@pytest.mark.parametrize("document", DOCUMENTS)
def test_documents_use_commands_that_exist(document: str) -> None:
    """Every command shown to a reader can be typed."""
    from certgen.cli import COMMANDS

    assert set() == commands_in(document) - set(COMMANDS)


@pytest.mark.parametrize("document", DOCUMENTS)
def test_documents_use_options_that_exist(document: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Every option shown stands in the command's own help."""
    from certgen.cli import run

    shown = {
        (line.split()[0], option)
        for line in command_lines(document)
        for option in re.findall(r"--[a-z-]+", line)
    }
    helps: dict[str, str] = {}
    for command in {command for command, _ in shown}:
        run([command, "--help"])
        helps[command] = capsys.readouterr().out

    assert [] == sorted((command, option) for command, option in shown if option not in helps[command])


@pytest.mark.parametrize("document", DOCUMENTS)
def test_documents_name_rules_that_exist(document: str) -> None:
    """A slug that a reader copies into a command is known."""
    from certgen.rules import RULES

    text = (ROOT / document).read_text(encoding="utf-8")
    asked = re.findall(r"--only ([a-z][a-z-]+)", text) + re.findall(
        r"(?m)^\|[^|]*\| `([a-z]+(?:-[a-z]+)+)` \|", text
    )

    assert set() == set(asked) - set(RULES)


def test_the_readme_shows_every_command() -> None:
    """No command is left for the reader to discover by chance."""
    from certgen.cli import COMMANDS

    assert set() == set(COMMANDS) - commands_in("README.md")


@pytest.mark.parametrize("document", ["README.md", "DEVELOPERS.md", "SECURITY.md", "CHANGELOG.md"])
def test_documents_name_files_and_targets_that_exist(document: str) -> None:
    """A path or a make target in a document leads somewhere."""
    text = (ROOT / document).read_text(encoding="utf-8")
    paths = re.findall(
        r"`((?:certgen|schemas|templates|tests|example_season|example_coop|\.ci)/[\w./\-]*)`", text
    )
    links = [link for link in re.findall(r"\]\(([^)#]+)\)", text) if "://" not in link]
    targets = set(re.findall(r"(?m)^([a-z\-]+):", (ROOT / "Makefile").read_text(encoding="utf-8")))

    assert [] == [path for path in paths + links if not (ROOT / path).exists()]
    assert set() == set(re.findall(r"`make ([a-z\-]+)`", text)) - targets


@pytest.fixture
def sample(tmp_path: Path) -> Path:
    """The season that the README shows, as a folder."""
    (text,) = re.findall(r"```yaml\n(.*?)```", (ROOT / "README.md").read_text(encoding="utf-8"), re.DOTALL)
    (tmp_path / "season.yaml").write_text(text, encoding="utf-8")
    return tmp_path


def test_the_sample_season_can_be_read(sample: Path) -> None:
    """Someone who copies the README's records gets no reading error."""
    from certgen.records import read_season

    season, errors = read_season(sample)

    assert () == errors
    assert season is not None
    assert ["B-0031", "B-0032"] == season.table("bagging")["bag"].tolist()


def test_the_sample_season_shows_a_lot_whose_line_holds(sample: Path) -> None:
    """The README's lot is traced to the last gram, as it says."""
    from certgen import examine

    result = examine(sample, date(2026, 12, 31))

    assert [] == [(gap.rule, gap.message) for gap in result.gaps if gap.weight != "advice"]
    assert {"CB-26-01": 18_800} == {name: lot.traced_mg for name, lot in result.lots.items()}


def test_the_sample_program_runs_and_is_typed(sample: Path, tmp_path_factory: pytest.TempPathFactory) -> None:
    """The README's lines for Python, over the README's season; mypy has nothing against them."""
    (text,) = re.findall(r"```python\n(.*?)```", (ROOT / "README.md").read_text(encoding="utf-8"), re.DOTALL)
    place = tmp_path_factory.mktemp("program")
    shutil.copytree(sample, place / "my-season")
    (place / "program.py").write_text(text, encoding="utf-8")
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    told = [
        subprocess.run(
            [sys.executable, *call], cwd=folder, env=environment, capture_output=True, text=True, check=False
        )
        for folder, call in (
            (place, ["program.py"]),
            (ROOT, ["-m", "mypy", "--strict", "--no-error-summary", str(place / "program.py")]),
        )
    ]

    assert [
        "CB-26-01: traced, 18.8 g traced\n0 findings against the claim, 0 records that can't be read\n",
        "",
    ] == [one.stdout for one in told], [one.stderr for one in told]


@pytest.mark.parametrize("gone", ["R-4410", "W-1", "W-3"])
def test_the_sample_lot_is_not_traced_without_its_letter_or_a_walk(sample: Path, gone: str) -> None:
    """As the README says beside it."""
    from certgen import examine

    file = sample / "season.yaml"
    entries = re.split(r"(?m)^(?=  - |\w)", file.read_text(encoding="utf-8"))
    kept = [entry for entry in entries if f"letter: {gone}" not in entry and f"round: {gone}" not in entry]
    assert len(entries) == len(kept) + 1
    file.write_text("".join(kept).replace("letters:\nbagging", "bagging"), encoding="utf-8")
    result = examine(sample, date(2026, 12, 31))

    assert "traced" != result.lots["CB-26-01"].standing


def test_public_names_come_from_where_they_live() -> None:
    """The package's few public names are there, and a wrong one is refused in the usual way."""
    import certgen

    assert set(certgen.__all__) <= set(dir(certgen))
    assert [True] * len(certgen.__all__) == [getattr(certgen, name) is not None for name in certgen.__all__]
    with pytest.raises(AttributeError, match="no attribute 'exmaine'"):
        _ = certgen.exmaine


def draw_rooms() -> str:
    """The rooms as a Mermaid drawing, the uppermost first: each with an arrow to those that it imports.

    A room that is imported through another one as well gets no arrow of its own: the drawing stays readable,
    and every import still runs along its arrows.
    """
    graph = grimp.build_graph("certgen", exclude_type_checking_imports=True, cache_dir=None)
    rooms = sorted(graph.find_children("certgen") - {"certgen.__main__"})
    for room in rooms:
        graph.squash_module(room)
    # The package's own front gathers names of many rooms; who asks it for the version imports none of them.
    for gathered in graph.find_modules_directly_imported_by("certgen"):
        graph.remove_import(importer="certgen", imported=gathered)
    below = {room: graph.find_upstream_modules(room) & set(rooms) for room in rooms}
    lines = ["graph TD"]
    for room in sorted(rooms, key=lambda room: (-len(below[room]), room)):
        nearest = below[room] - {far for near in below[room] for far in below[near]}
        if nearest:
            names = sorted(name.removeprefix("certgen.") for name in nearest)
            lines.append(f"  {room.removeprefix('certgen.')} --> {' & '.join(names)}")
    return "\n".join(lines)


def test_the_map_of_the_rooms_is_what_the_imports_say() -> None:
    """DEVELOPERS.md draws the rooms as they are; where it doesn't, the failure shows the map to put there."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    (shown,) = re.findall(r"```mermaid\n(.*?)\n```", text, re.DOTALL)
    drawn = draw_rooms()

    assert drawn == shown, f"the map in DEVELOPERS.md should be:\n{drawn}"


def test_each_claim_of_security_names_a_test_that_is_there() -> None:
    """SECURITY.md says what a test holds, and names it."""
    text = (ROOT / "SECURITY.md").read_text(encoding="utf-8")
    named = re.findall(r"`(tests/[^`]+)`", text)

    assert [] == [name for name in named if not (ROOT / name).exists()]
    assert len(named) > 15
