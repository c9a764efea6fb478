"""The rules of the house that a machine can keep."""

from __future__ import annotations

import ast
import re
import subprocess
from collections import Counter
from functools import cache
from graphlib import TopologicalSorter
from pathlib import Path

COVERS = ("certgen", "tests", "pyproject.toml", ".ci/requirements.txt", ".ci/requirements-dev.txt")
ROOT = Path(__file__).resolve().parents[1]
TOP_LEVEL = {
    "CHANGELOG.md",
    "DEVELOPERS.md",
    "LICENSE",
    "Makefile",
    "README.md",
    "SECURITY.md",
    "certgen",
    "example_coop",
    "example_season",
    "pyproject.toml",
    "schemas",
    "templates",
    "tests",
}
#: Characters of a helper's body, without its docstring, that may stand in several test files.
SHORT_HELPER = 60
VAGUE_NAMES = {"utils", "util", "helpers", "helper", "manager", "managers", "common", "base", "misc"}
# Put together here, so that this file does not hold what it looks for.
UNFINISHED = re.compile(
    "|".join(rf"\b{first}{second}\b" for first, second in (("TO", "DO"), ("FIX", "ME"), ("X", "XX")))
)
MACHINE_PATH = re.compile(r"(?<![\w.\-/:])/(home|root|work|tmp|Users|mnt)/[\w.]")
REGISTRY_HOST = re.compile(
    r"pypi\.org|pythonhosted\.org|debian\.org|npmjs\.(org|com)|^(-i|--(extra-)?index-url) ", re.IGNORECASE
)
ROW_LOOP = re.compile(r"\.(iterrows|itertuples)\(|\.apply\(\s*lambda")


@cache
def tracked() -> tuple[str, ...]:
    """Every file that is, or is about to be, part of the project; ignored ones are not."""
    listing = subprocess.run(
        ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT,
        check=True,
        capture_output=True,
        text=True,
    )
    return tuple(sorted(name for name in listing.stdout.split("\0") if name and (ROOT / name).is_file()))


def texts(*suffixes: str) -> list[tuple[str, str]]:
    """Name and text of the project's files with these endings (all text files, when none is given)."""
    found = []
    for name in tracked():
        if suffixes and not name.endswith(suffixes):
            continue
        data = (ROOT / name).read_bytes()
        if b"\0" not in data:
            found.append((name, data.decode("utf-8", errors="replace")))
    return found


def lines_matching(pattern: re.Pattern[str], *suffixes: str) -> list[str]:
    """`file:line` of every line on which the pattern is found."""
    return [
        f"{name}:{number}"
        for name, text in texts(*suffixes)
        for number, line in enumerate(text.splitlines(), 1)
        if pattern.search(line)
    ]


def modules() -> list[str]:
    """The package's modules, as paths from the top."""
    return [name for name in tracked() if name.startswith("certgen/") and name.endswith(".py")]


def dotted(module: str) -> str:
    """A module's name as it is imported, from its path."""
    return ".".join(Path(module).with_suffix("").parts).removesuffix(".__init__")


def suites() -> list[str]:
    """The files that pytest collects, as paths from the top."""
    return [name for name in tracked() if re.search(r"^tests/(.+/)?test_[^/]+\.py$", name)]


def mirrored(test: str) -> str:
    """The module whose path a test file mirrors: `tests/rules/test_case.py` that of `certgen.rules.case`.

    A file named after its own folder mirrors the package: `tests/cli/test_cli.py` that of `certgen.cli`.
    """
    *folders, name = Path(test).with_suffix("").parts[1:]
    name = name.removeprefix("test_")
    return ".".join(["certgen", *folders, *([] if folders and folders[-1] == name else [name])])


def covered(test: str) -> tuple[str, ...]:
    """What a test file says it covers besides: the names in its `COVERS`, modules or files of the project."""
    for node in ast.parse((ROOT / test).read_text(encoding="utf-8")).body:
        if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "COVERS":
            return tuple(ast.literal_eval(node.value))
    return ()


def is_front(module: str) -> bool:
    """Whether it only says what its package is and gathers names from it: nothing that a test could hold."""
    tree = ast.parse((ROOT / module).read_text(encoding="utf-8"))
    return module.endswith("__init__.py") and not any(isinstance(node, ast.FunctionDef) for node in tree.body)


def test_the_top_level_holds_only_what_it_may() -> None:
    """A newcomer sees a dozen names, and each has its place; everything else is a dotfile."""
    standing = {name.split("/")[0] for name in tracked()}

    assert set() == {name for name in standing if not name.startswith(".")} - TOP_LEVEL


def test_modules_are_named_by_their_subject() -> None:
    """No drawer for odds and ends."""
    assert [] == [name for name in modules() if set(Path(name).with_suffix("").parts) & VAGUE_NAMES]


def test_packages_have_an_init_and_tests_have_none() -> None:
    """Tests are collected by path: two files of one name may stand in two folders."""
    packages = {Path(name).parent for name in modules()}

    assert [] == [str(path) for path in sorted(packages) if f"{path.as_posix()}/__init__.py" not in tracked()]
    tested = {str(Path(name).parent) for name in tracked() if Path(name).name.startswith("test_")}
    assert set() == {name for name in tested if f"{name}/__init__.py" in tracked()}


def imported_at_once(module: str) -> set[str]:
    """What a module imports as soon as it is imported itself: not within functions, not for types alone."""
    names: set[str] = set()
    for node in ast.parse((ROOT / module).read_text(encoding="utf-8")).body:
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            names |= {node.module, *(f"{node.module}.{alias.name}" for alias in node.names)}
    return names


def test_no_module_needs_itself() -> None:
    """Any module can be imported first: what it imports at once never leads back to it."""
    paths = {dotted(module): module for module in modules()}
    needs = {name: imported_at_once(path) & set(paths) for name, path in paths.items()}
    # A package's front gathers names of what lies in it, which may ask for the package's name.
    needs = {name: below for name, below in needs.items() if not paths[name].endswith("__init__.py")}
    order = TopologicalSorter({name: below & set(needs) for name, below in needs.items()})

    assert len(needs) == len(list(order.static_order()))


def test_every_module_has_a_test() -> None:
    """From a module one finds its tests: they stand on the same path, or name it in their `COVERS`."""
    tested = {name for test in suites() for name in (mirrored(test), *covered(test))}
    untested = [name for name in modules() if dotted(name) not in tested and not is_front(name)]

    assert [] == untested, (
        "mirror these under tests/, or name them in the COVERS of the test that covers them"
    )


def test_every_test_says_what_it_covers() -> None:
    """From a test one finds what it holds: a module on its own path, or what its `COVERS` names."""
    known = {dotted(name) for name in modules()}
    silent = [test for test in suites() if mirrored(test) not in known and not covered(test)]

    assert [] == silent, "these mirror no module: give them a COVERS"
    assert {} == {
        test: gone
        for test in suites()
        if (gone := [name for name in covered(test) if name not in known and not (ROOT / name).exists()])
    }, "their COVERS names what isn't there"
    assert {} == {
        test: twice
        for test in suites()
        if (twice := [name for name, count in Counter((mirrored(test), *covered(test))).items() if count > 1])
    }, "their COVERS names these twice, or their path names them already"


def test_no_helper_is_copied() -> None:
    """What several test files need stands once, where they can import it; only a line may stand twice."""
    places: dict[str, set[str]] = {}
    for name, text in texts(".py"):
        for node in ast.walk(ast.parse(text)) if name.startswith("tests/") else ():
            if isinstance(node, ast.FunctionDef) and not node.name.startswith("test_"):
                body = node.body[ast.get_docstring(node) is not None :]
                done = "\n".join(map(ast.unparse, body))
                if len(done) > SHORT_HELPER:
                    places.setdefault(done, set()).add(f"{name} {node.name}")

    assert [] == [sorted(copies) for copies in places.values() if len({one.split()[0] for one in copies}) > 1]


def test_nothing_is_marked_as_unfinished() -> None:
    """What is not done is an issue, not a mark in a file."""
    assert [] == lines_matching(UNFINISHED)


def test_no_file_knows_the_machine_it_was_made_on() -> None:
    """Absolute paths of somebody's machine work nowhere else."""
    assert [] == [
        place for place in lines_matching(MACHINE_PATH) if not place.startswith("tests/test_layout.py:")
    ]


def test_no_file_names_a_registry() -> None:
    """Where packages come from is the machine's business, so an ordinary pip with its own settings serves."""
    assert [] == [
        place
        for place in lines_matching(REGISTRY_HOST)
        if not place.startswith(("tests/test_layout.py:", "LICENSE:"))
    ]


def test_tables_are_not_walked_row_by_row() -> None:
    """Work on a table is a merge, a group or a mask: a loop over its rows is a hundred times slower."""
    assert [] == [place for place in lines_matching(ROW_LOOP, ".py") if place.startswith("certgen/")]


def test_every_module_is_imported_with_postponed_annotations() -> None:
    """`from __future__ import annotations` stands in every module that holds code."""
    missing = []
    for name in modules():
        tree = ast.parse((ROOT / name).read_text(encoding="utf-8"))
        code = [
            node
            for node in tree.body
            if not (isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant))
        ]
        if code and not any(
            isinstance(node, ast.ImportFrom) and node.module == "__future__" for node in code
        ):
            missing.append(name)

    assert [] == missing


def test_every_pinned_package_has_a_hash() -> None:
    """What CI installs is what was chosen, byte for byte."""
    for lock in ("requirements.txt", "requirements-dev.txt"):
        text = (ROOT / ".ci" / lock).read_text(encoding="utf-8")
        pins = re.findall(r"^[a-z0-9][^\n]*==[^\n]*\\\n +--hash=sha256:[0-9a-f]{64}", text, re.MULTILINE)
        named = re.findall(r"^[a-zA-Z0-9]", text, re.MULTILINE)

        assert len(named) > 30
        assert len(named) == len(pins)


def test_the_two_locks_agree() -> None:
    """Tests run against the very versions that the demo installs."""

    def versions(lock: str) -> dict[str, str]:
        text = (ROOT / ".ci" / lock).read_text(encoding="utf-8")
        return dict(re.findall(r"^([a-zA-Z0-9_.\-\[\],]+)==([^ ;\\]+)", text, re.MULTILINE))

    tools = versions("requirements-dev.txt")

    assert {} == {
        name: (version, tools.get(name))
        for name, version in versions("requirements.txt").items()
        if tools.get(name) != version
    }
