"""A system without Pango: what still works, and what is said of the rest."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from certgen.typeset import pango
from certgen.typeset.engines import list_engines

#: Laid over Python's start: whoever asks for these libraries hears what the system says of one that it lacks.
WITHOUT = """
import cffi
import ctypes

WORDS = ("pango", "gobject", "harfbuzz", "fontconfig")


class Library(ctypes.CDLL):
    def __init__(self, name, *more, **named):
        if any(word in str(name) for word in WORDS):
            raise OSError(f"{name}: cannot open shared object file: No such file or directory")
        super().__init__(name, *more, **named)


def open_library(self, name, *more, known=cffi.FFI.dlopen):
    if any(word in str(name) for word in WORDS):
        raise OSError(f"cannot load library '{name}'")
    return known(self, name, *more)


ctypes.CDLL = Library
cffi.FFI.dlopen = open_library
"""


@pytest.fixture(scope="module")
def bare(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder that takes the libraries away from each process that has it on its path."""
    folder = tmp_path_factory.mktemp("bare")
    (folder / "sitecustomize.py").write_text(WITHOUT, encoding="utf-8")
    return folder


def certgen(bare: Path, folder: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    """A command's run without the libraries, in a folder."""
    root = Path(pango.__file__).parents[2]
    return subprocess.run(
        [sys.executable, "-m", "certgen", *arguments],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": f"{bare}{os.pathsep}{root}", "CERTGEN_CACHE": "off"},
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.mark.parametrize("command", ["report", "coop"])
def test_what_is_set_with_it_is_refused_at_once(command: str, bare: Path, root: Path, tmp_path: Path) -> None:
    """Before anything is read: Pango by its name, a command that brings it, and the way without it."""
    season = {"report": "example_season", "coop": "example_coop"}[command]
    ran = certgen(bare, tmp_path, command, str(root / season), "--out", "out.pdf")

    assert (2, "") == (ran.returncode, ran.stdout)
    assert ran.stderr.startswith(f"certgen {command}: the pages of a PDF are set with Pango")
    assert "nstall" in ran.stderr
    assert "--html" in ran.stderr
    assert "Traceback" not in ran.stderr
    assert [] == list(tmp_path.iterdir())


@pytest.mark.parametrize(
    "arguments",
    [
        ["report", "SEASON", "--html", "out.html"],
        ["card", "SEASON", "AK-26-1", "--out", "out.pdf"],
        ["labels", "SEASON", "--kind", "tags", "--out", "out.pdf"],
        ["export", "SEASON", "--format", "xlsx", "--out", "out.xlsx"],
    ],
)
def test_all_else_is_written_without_it(
    arguments: list[str], bare: Path, example_season: Path, tmp_path: Path
) -> None:
    """A binder, a lot's card, tags and a workbook need none."""
    ran = certgen(bare, tmp_path, *(str(example_season) if one == "SEASON" else one for one in arguments))

    assert ran.returncode in {0, 1}, ran.stderr
    assert [arguments[-1]] == [file.name for file in tmp_path.iterdir()]
    assert "Pango" not in ran.stdout + ran.stderr


def test_a_packet_is_not_called_false_for_want_of_it(
    bare: Path, example_season: Path, tmp_path: Path
) -> None:
    """Where neither its pages nor those of a supplier's packet inside can be made anew, nothing is judged."""
    packet = tmp_path / "packet.pdf"
    made = [sys.executable, "-m", "certgen", "report", str(example_season), "--out", str(packet)]
    subprocess.run([*made, "--on", "2026-11-25", "--short"], capture_output=True, check=False)

    ran = certgen(bare, tmp_path, "verify", packet.name, "--quick")

    assert (2, "") == (ran.returncode, ran.stdout)
    assert ran.stderr.startswith("certgen verify: the pages of a PDF are set with Pango")


def test_a_maker_without_it_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    """What was made without Pango is told from what was made with it."""

    def lack() -> None:
        raise pango.PangoMissingError

    monkeypatch.setattr("certgen.typeset.engines.find_library", lambda _names: None)
    monkeypatch.setattr("certgen.typeset.engines.hold_pango", lack)

    assert ("missing", "unknown") == tuple(list_engines.__wrapped__()[name] for name in ("pango", "harfbuzz"))


@pytest.mark.parametrize("system", [*pango.COMMANDS, ""])
def test_each_system_hears_its_own_command(system: str) -> None:
    """Whoever has one that isn't known hears what to look for; what nobody tried is said to be so."""
    said = pango.say_missing(["pango"], system)

    assert pango.COMMANDS.get(system, "Install what your system calls Pango") in said
    assert (system in {"debian", ""}) != ("not tried" in said)
    assert said.endswith("`verify`")


@pytest.mark.parametrize(
    ("release", "system"),
    [
        ({"ID": "debian"}, "debian"),
        ({"ID": "linuxmint", "ID_LIKE": "ubuntu debian"}, "debian"),
        ({"ID": "rocky", "ID_LIKE": "rhel centos fedora"}, "fedora"),
        ({"ID": "nixos"}, ""),
        (None, ""),
    ],
)
def test_a_system_is_known_by_what_it_is_like(
    release: dict[str, str] | None, system: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What a system says of itself, if it says anything."""

    def read() -> dict[str, str]:
        if release is None:
            raise OSError
        return release

    monkeypatch.setattr(pango.sys, "platform", "linux")
    monkeypatch.setattr(pango.platform, "freedesktop_os_release", read)

    assert system == pango._name_system()
