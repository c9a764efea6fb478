"""The bundle's recipe: it takes along what certgen needs, and leaves nothing out that it would miss.

That it runs where there is nothing is tried by `make bundle bundle-test`, which takes minutes.
"""

from __future__ import annotations

import ast
import re
import subprocess
import sys
import tomllib
from importlib.machinery import SourceFileLoader
from importlib.util import module_from_spec, spec_from_loader
from pathlib import Path
from types import ModuleType

import pytest

from certgen.typeset import engines, faces

COVERS = (
    ".ci/bundle/build",
    ".ci/bundle/certgen.spec",
    ".ci/bundle/start.py",
    ".ci/bundle/try",
    ".gitignore",
)
ROOT = Path(__file__).resolve().parents[1]
RECIPE = ROOT / ".ci" / "bundle" / "certgen.spec"


def listed(name: str) -> tuple[str, ...]:
    """What the recipe lists under a name."""
    for node in ast.parse(RECIPE.read_text(encoding="utf-8")).body:
        if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == name:
            return tuple(ast.literal_eval(node.value))
    raise LookupError(name)


@pytest.fixture
def trial() -> ModuleType:
    """The script that tries the bundle."""
    loader = SourceFileLoader("try_bundle", str(ROOT / ".ci" / "bundle" / "try"))
    spec = spec_from_loader("try_bundle", loader)
    assert spec is not None
    module = module_from_spec(spec)
    cached, sys.dont_write_bytecode = sys.dont_write_bytecode, True
    loader.exec_module(module)
    sys.dont_write_bytecode = cached
    return module


def test_every_version_that_a_manifest_names_comes_along() -> None:
    """Else the bundle's packets couldn't say what set them."""
    assert sorted(engines._PACKAGES) == sorted(listed("NAMED"))


def test_every_face_comes_along() -> None:
    """All that `make` installs: the two families and those of the extra `scripts`."""
    packages = {script.package for script in faces.OTHER_SCRIPTS if "cjk" not in script.package}
    packages |= {face.path.parents[1].name for face in faces.own_faces()}

    assert packages == set(listed("FONTS"))


def test_nothing_is_left_out_that_certgen_asks_for() -> None:
    """What is left out serves tests and tools."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = project["optional-dependencies"]
    wanted = [*project["dependencies"], *extras["signing"], *extras["desk"], *extras["scripts"]]
    names = {re.split(r"[^\w.\-]", one)[0].replace("-", "_").lower() for one in wanted}

    assert set() == names & {name.lower() for name in listed("LEFT_OUT")}


def test_what_is_made_is_no_part_of_the_project() -> None:
    """Folder, archive and what lies between are ignored, and cleaned away."""
    ignored = subprocess.run(
        ["git", "check-ignore", "dist/certgen/certgen", "build/bundle/lent.txt"],
        cwd=ROOT, capture_output=True, text=True, check=True,
    ).stdout  # fmt: skip
    (cleaned,) = re.findall(
        r"(?m)^clean:.*\n\t@rm -rf (.+)$", (ROOT / "Makefile").read_text(encoding="utf-8")
    )

    assert 2 == len(ignored.splitlines())
    assert {"build", "dist"} <= set(cleaned.split())


def test_without_a_bundle_the_trial_says_how_to_make_one(
    trial: ModuleType, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nothing is passed over in silence."""
    monkeypatch.setattr(trial, "BUNDLE", tmp_path / "none")
    monkeypatch.setattr(sys, "argv", ["try"])

    with pytest.raises(SystemExit, match="make bundle"):
        trial.main()


def test_where_the_root_can_t_be_changed_the_trial_says_so(
    trial: ModuleType, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """It names what is missing, and is no failure of the bundle."""
    monkeypatch.setattr(trial, "BUNDLE", tmp_path)
    monkeypatch.setattr(trial.shutil, "which", lambda name: None if name == "unshare" else name)
    monkeypatch.setattr(sys, "argv", ["try"])

    assert 0 == trial.main()
    assert capsys.readouterr().out == (
        "The bundle was not tried: unshare is missing.\n"
        if sys.platform == "linux"
        else "The bundle was not tried: only Linux has roots to change to.\n"
    )


def test_an_answer_that_differs_is_told(trial: ModuleType) -> None:
    """Other bytes, another exit code."""
    ran = subprocess.CompletedProcess([], 3, b"", b"out of memory")

    assert [
        "check ended with 3: out of memory",
        "check gave 1 bytes that aren't the checkout's 2: a",
    ] == trial.compare("check", ran, b"a", b"ab", 1)
    assert [] == trial.compare("check", ran, b"a", b"a", 3)
