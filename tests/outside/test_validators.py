"""What goes out, shown to programs that nobody here wrote.

ajv judges by the schema of EPCIS 2.0 as it was published, and by our own; check-jsonschema asks whether ours
are schemas at all; the SARIF multitool asks what code hosts ask. axe looks at pages where those are tested.
"""

from __future__ import annotations

import datetime as dt
import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from validators import judge_by_schema, judge_sarif, published_epcis

from certgen.cli import run as certgen
from certgen.examination import Result, examine
from certgen.exchange.interchange.epcis import build_epcis
from certgen.exchange.interchange.layout import render_json
from certgen.exchange.interchange.sarif import build_sarif
from certgen.records.names import Names

COVERS = (".ci/validators/judge.cjs", ".ci/validators/package.json", "schemas", "tests/validators.py")
ON = dt.date(2026, 11, 25)
DAY = ["--on", ON.isoformat()]


@pytest.fixture(scope="module")
def results(example_season: Path) -> dict[str, Result]:
    """The example's two seasons, examined."""
    folders = {"2026": example_season, "2025": example_season / ".season-2025"}
    return {label: examine(folder, ON) for label, folder in folders.items()}


def as_read(document: Any) -> Any:
    """A document as whoever reads the file has it."""
    return json.loads(render_json(document))


def test_every_event_is_valid_by_the_published_schema(results: dict[str, Result]) -> None:
    """EPCIS of both seasons, with the formats of dates and addresses checked."""
    documents = {label: as_read(build_epcis(result, Names(result.farm))) for label, result in results.items()}

    assert {label: [] for label in documents} == judge_by_schema(published_epcis(), documents)


def test_a_wrong_event_is_found(results: dict[str, Result]) -> None:
    """The judge is awake: a step that the vocabulary doesn't know, a date that is none."""
    document = as_read(build_epcis(results["2026"], Names(results["2026"].farm)))
    document["epcisBody"]["eventList"][0] |= {"bizStep": "harvesting", "eventTime": "yesterday"}

    told = " ".join(judge_by_schema(published_epcis(), {"wrong": document})["wrong"])

    assert "eventList/0/eventTime" in told
    assert "eventList/0/bizStep" in told


def test_the_log_has_no_fault_for_the_multitool(results: dict[str, Result], tmp_path: Path) -> None:
    """Neither an error nor a warning."""
    assert [] == judge_sarif(as_read(build_sarif(results["2026"])), tmp_path)


def test_a_wrong_log_is_found(results: dict[str, Result], tmp_path: Path) -> None:
    """The multitool is awake: a rule's name that is a number."""
    log = as_read(build_sarif(results["2026"]))
    log["runs"][0]["results"][0]["ruleId"] = 4

    assert any("JSON1001" in one for one in judge_sarif(log, tmp_path))


@pytest.mark.parametrize(
    ("name", "arguments"),
    [
        ("balance", ["balance", *DAY]),
        ("check", ["check", *DAY]),
        ("due", ["due", *DAY]),
        ("evidence", ["evidence"]),
        ("history", ["history"]),
        ("trace", ["trace", "AK-26-1", *DAY]),
    ],
)
def test_json_is_what_its_schema_says(
    name: str, arguments: list[str], root: Path, example_season: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """ajv comes to the same verdict as the validators that the suite uses elsewhere."""
    command, *more = arguments
    certgen([command, str(example_season), *more, "--format", "json"])
    schema = json.loads((root / "schemas" / "output" / f"{name}.json").read_text(encoding="utf-8"))

    assert {name: []} == judge_by_schema(schema, {name: json.loads(capsys.readouterr().out)})


def test_our_schemas_are_schemas(root: Path) -> None:
    """Each holds what JSON Schema 2020-12 asks of a schema."""
    files = sorted(str(file) for file in (root / "schemas").rglob("*.json"))
    ran = subprocess.run(
        [sys.executable, "-m", "check_jsonschema", "--check-metaschema", *files],
        capture_output=True,
        text=True,
        check=False,
    )

    assert len(files) > 40
    assert (0, "") == (ran.returncode, ran.stderr), ran.stdout
