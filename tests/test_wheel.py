"""The package as a grower gets it: built, installed into an empty environment, and run from elsewhere."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import venv
import zipfile
from collections import Counter
from pathlib import Path

import pytest

COVERS = ("certgen.__main__", "pyproject.toml")
PACKAGED = ("schemas", "templates")


@pytest.fixture(scope="module")
def wheel(root: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """certgen's wheel, built without asking a registry for anything."""
    folder = tmp_path_factory.mktemp("wheel")
    subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "--target", "wheel", "--directory", str(folder)],
        cwd=root,
        check=True,
        capture_output=True,
    )
    (built,) = folder.glob("certgen-*.whl")
    return built


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The Python of an environment that has the wheel, and this one's libraries but not this checkout."""
    folder = tmp_path_factory.mktemp("installed")
    venv.create(folder, with_pip=False, symlinks=True)
    python = folder / "bin" / "python"
    site = next((folder / "lib").glob("python*/site-packages"))
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(site)
    libraries = next(path for path in sys.path if path.endswith("site-packages"))
    (site / "libraries.pth").write_text(f"{libraries}\n", encoding="utf-8")
    return python


def run(python: Path, *arguments: str, folder: Path) -> subprocess.CompletedProcess[str]:
    """The finished process, run from a folder that is no checkout."""
    environment = {key: value for key, value in os.environ.items() if not key.startswith("PYTHON")}
    return subprocess.run(
        [str(python), *arguments], cwd=folder, env=environment, capture_output=True, text=True, check=False
    )


def test_the_wheel_holds_every_schema_and_template(root: Path, wheel: Path) -> None:
    """What stands in schemas/ and templates/ is in the wheel, file by file, under certgen/_data/."""
    with zipfile.ZipFile(wheel) as archive:
        names = set(archive.namelist())
    for folder in PACKAGED:
        files = [path for path in (root / folder).rglob("*") if path.is_file() and path.name[0] != "."]
        expected = {f"certgen/_data/{path.relative_to(root).as_posix()}" for path in files}

        assert files != []
        assert set() == expected - names


def test_the_wheel_holds_the_package_data_and_nothing_of_the_tests(root: Path, wheel: Path) -> None:
    """Rulebooks, crop profiles and rule examples come along; tests and the example season do not."""
    with zipfile.ZipFile(wheel) as archive:
        names = set(archive.namelist())
    data = [
        path.relative_to(root).as_posix()
        for path in (root / "certgen").rglob("*")
        if path.suffix in {".yaml", ".typed", ".csv"} and "_data" not in path.parts
    ]

    assert "certgen/py.typed" in data
    assert set() == set(data) - names
    assert [] == [name for name in names if name.startswith(("tests/", "example_season/"))]


def test_the_wheel_holds_nothing_twice(wheel: Path) -> None:
    """No name, and no file but some words of a letter that several rules' examples share."""
    with zipfile.ZipFile(wheel) as archive:
        names = archive.namelist()
        files = [name for name in names if "/rules/examples/" not in name and archive.getinfo(name).file_size]
        contents = Counter(archive.read(name) for name in files)

    assert [] == [name for name, count in Counter(names).items() if count > 1]
    assert [] == [content[:200] for content, count in contents.items() if count > 1]


def test_the_manual_page_lies_where_man_looks(wheel: Path) -> None:
    """An environment that holds certgen shows it: `man certgen`."""
    with zipfile.ZipFile(wheel) as archive:
        pages = [name for name in archive.namelist() if name.endswith(".1")]

    assert ["certgen-0.1.0.data/data/share/man/man1/certgen.1"] == pages


def test_an_installed_certgen_finds_its_own_folders(installed: Path, tmp_path: Path) -> None:
    """Away from a checkout the schemas and templates are read from inside the package."""
    program = "from certgen import resources as r; print(r.schemas_dir()); print(r.templates_dir())"
    finished = run(installed, "-c", program, folder=tmp_path)

    assert "" == finished.stderr
    home = installed.parents[1]
    found = [Path(line) for line in finished.stdout.splitlines()]
    assert ["schemas", "templates"] == [path.name for path in found]
    assert [True, True] == [path.resolve().is_relative_to(home.resolve()) for path in found]


def test_an_installed_certgen_checks_a_season(root: Path, installed: Path, tmp_path: Path) -> None:
    """The command works from any folder; the example season has gaps, which exit code 1 says."""
    finished = run(
        installed, "-m", "certgen", "check", str(root / "example_season"), "--format", "json", folder=tmp_path
    )

    assert (1, "") == (finished.returncode, finished.stderr)
    assert '"gaps"' in finished.stdout


def test_help_pays_for_no_heavy_library(installed: Path, tmp_path: Path) -> None:
    """`certgen --help` answers without importing what reads tables or lays out pages."""
    heavy = ("pandas", "weasyprint", "jsonschema", "typst", "openpyxl", "pikepdf", "pyhanko", "fontTools")
    finished = run(installed, "-X", "importtime", "-m", "certgen", "--help", folder=tmp_path)
    imported = {line.rsplit("|", 1)[-1].strip().split(".")[0] for line in finished.stderr.splitlines()}

    assert 0 == finished.returncode
    assert "certgen" in imported
    assert set() == imported & set(heavy)


def test_what_certgen_needs_does_not_include_the_tools_of_development(wheel: Path) -> None:
    """A grower who installs certgen gets no test runner and no linter."""
    with zipfile.ZipFile(wheel) as archive:
        (name,) = [name for name in archive.namelist() if name.endswith(".dist-info/METADATA")]
        lines = archive.read(name).decode("utf-8").splitlines()
    wanted = [line.removeprefix("Requires-Dist: ") for line in lines if line.startswith("Requires-Dist: ")]
    needed = {re.split(r"[^\w.\-]", line)[0].lower() for line in wanted if "extra ==" not in line}

    assert {"pandas", "weasyprint", "jinja2", "pyyaml", "jsonschema"} <= needed
    assert set() == needed & {"pyhanko", "cryptography", "aiohttp"}
    assert set() == needed & {"pytest", "ruff", "mypy", "hypothesis", "scipy", "statsmodels", "hatchling"}
