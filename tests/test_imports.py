"""What certgen loads, and what it needs: no more than it says, and nothing that goes out into a network."""

from __future__ import annotations

import os
import subprocess
import sys
import tomllib
from collections.abc import Iterable
from importlib.metadata import requires
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

COVERS = ("certgen", "pyproject.toml")
#: Packages that a grower gets who asks for nothing more.
MOST = 45
#: What the standard library talks to others with. (`socket` itself comes with its worker processes.)
TALKING = {
    "asyncio", "ftplib", "http.client", "http.server", "imaplib", "poplib", "smtplib", "socketserver", "ssl",
    "urllib.request", "xmlrpc",
}  # fmt: skip
CHECKING = {"click", "jsonschema", "jsonschema_rs", "msgspec", "numpy", "typing_extensions", "yaml"}
SETTING = {
    "PIL", "_brotli", "brotli", "cffi", "_cffi_backend", "cssselect2", "dateutil", "fontTools", "jinja2",
    "lxml", "markupsafe", "packaging", "pandas", "pikepdf", "pycparser", "pydyf", "pyphen", "segno", "six",
    "tinycss2", "tinyhtml5", "typst", "uharfbuzz", "weasyprint", "webencodings", "zopfli",
}  # fmt: skip
#: Runs a command and then names all modules, on standard error.
NAMING = """
import sys
from certgen.cli import run
code = run(sys.argv[1:])
sys.stderr.write("\\n".join(["MODULES", *sys.modules]))
sys.exit(code)
"""
#: Laid over the start of every process, so that whoever turns to a network is stopped.
SHUT = """
import sys

def refuse(event, arguments):
    if event in {"socket.connect", "socket.bind", "socket.getaddrinfo", "socket.sendto"}:
        raise PermissionError(f"{event} {arguments}")

sys.addaudithook(refuse)
"""


def loaded(folder: Path, season: Path, *arguments: str) -> set[str]:
    """The modules that a command loads, run where no network can be reached."""
    (folder / "sitecustomize.py").write_text(SHUT, encoding="utf-8")
    root = Path(__file__).resolve().parents[1]
    command, *more = arguments
    ran = subprocess.run(
        [sys.executable, "-c", NAMING, command, str(season), *more],
        env={**os.environ, "PYTHONPATH": f"{folder}{os.pathsep}{root}", "CERTGEN_CACHE": "off"},
        capture_output=True,
        text=True,
        check=False,
    )
    said, _, names = ran.stderr.partition("MODULES\n")
    assert (1, "") == (ran.returncode, said.strip())
    return set(names.splitlines())


def foreign(modules: set[str]) -> set[str]:
    """Those packages among them that are neither Python's nor ours, nor made up by a compiler."""
    tops = {name.split(".")[0] for name in modules}
    ours = {"certgen", "sitecustomize", "cython_runtime", "_distutils_hack"}
    return {
        name
        for name in tops - ours - set(sys.stdlib_module_names)
        if not name.startswith(("_cython_", "_cyutility", "_sysconfigdata", "__"))
    }


def test_a_check_loads_what_reads_records_and_no_more(example_season: Path, tmp_path: Path) -> None:
    """Nothing that sets pages, nothing that talks to anybody, and not pandas, which is slow to load."""
    modules = loaded(tmp_path, example_season, "check")

    assert {"numpy", "yaml", "click"} <= foreign(modules)
    assert set() == foreign(modules) - CHECKING
    assert set() == modules & TALKING


@pytest.mark.parametrize("option", ["--out", "--html"])
def test_a_report_loads_what_sets_pages_besides(option: str, example_season: Path, tmp_path: Path) -> None:
    """No client, no server, nobody's network library.

    What draws codes (segno) takes `escape` from `xml.sax.saxutils`, which imports `urllib.request` and with
    it `http.client` and `ssl`; all of them are shut here, in each process.
    """
    file = tmp_path / f"out.{option.removeprefix('--').replace('out', 'pdf')}"
    modules = loaded(tmp_path, example_season, "report", option, str(file))

    assert file.exists()
    assert set() == foreign(modules) - CHECKING - SETTING
    assert set() == modules & (TALKING - {"http.client", "ssl", "urllib.request"})


def needed(asked: Iterable[str]) -> set[str]:
    """All packages that come of what is asked for on this machine; of extras those that are named."""
    found: set[tuple[str, str]] = set()
    waiting = [("", requirement) for requirement in asked]
    while waiting:
        extra, requirement = waiting.pop()
        one = Requirement(requirement)
        if one.marker is None or one.marker.evaluate({"extra": extra}):
            wanted = {(canonicalize_name(one.name), of) for of in ("", *one.extras)} - found
            found |= wanted
            waiting += [(of, more) for name, of in wanted for more in requires(name) or ()]
    return {name for name, _ in found}


def test_the_core_is_light(root: Path) -> None:
    """Signing, the desk, a cluster and faces of further scripts are asked for by whoever wants them."""
    project = tomllib.loads((root / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    core = needed(project["dependencies"])

    # Of what WeasyPrint asks for one comes with an extra of fontTools.
    assert {"pandas", "weasyprint", "jinja2", "pyyaml", "jsonschema", "typst", "zopfli"} <= core
    assert len(core) <= MOST, sorted(core)
    assert set() == core & {"pyhanko", "cryptography", "starlette", "uvicorn", "psutil", "dask", "aiohttp"}
