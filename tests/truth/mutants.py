"""Changes one thing in the code at a time, and sees whether that room's own tests notice.

    python tests/truth/mutants.py --sample 150 [--seed 1] [--rooms rules lineage figures] [--wide]

A copy of the checkout is changed, never the checkout. Each mutant is tried in a process of its own, forked
from one that has the heavy libraries loaded. Prints the survivors with file, line and change, and the share
that was killed. Texts that people read are left alone: tests of wording are not tests of truth.
"""

# ruff: noqa: T201 (a program that prints)
from __future__ import annotations

import argparse
import ast
import os
import resource
import shutil
import sys
import tempfile
import traceback
from collections.abc import Iterator
from copy import deepcopy
from dataclasses import dataclass
from pathlib import Path
from random import Random

ROOT = Path(__file__).resolve().parents[2]
#: What one mutant may use up of a processor and of memory: one that never ends, or grows, is noticed, too.
SECONDS = 40
BYTES = 4 * 2**30
_COMPARED = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.In: ast.NotIn, ast.NotIn: ast.In, ast.Is: ast.IsNot, ast.IsNot: ast.Is,
}  # fmt: skip
_COUNTED = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Add, ast.Div: ast.Mult, ast.FloorDiv: ast.Mult,
    ast.BitAnd: ast.BitOr, ast.BitOr: ast.BitAnd, ast.Pow: ast.Mult, ast.Mod: ast.Mult,
}  # fmt: skip


@dataclass(frozen=True)
class Mutant:
    """One change: in which file, on which line, from what to what, and the whole changed source."""

    path: str
    line: int
    before: str
    after: str
    source: str


def places(path: str) -> int:
    """How many mutants of a file there are."""
    return len(_changeable(ast.parse((ROOT / path).read_text(encoding="utf-8"))))


def mutate(path: str, number: int) -> Mutant:
    """One mutant of a file, by its number."""
    tree = ast.parse((ROOT / path).read_text(encoding="utf-8"))
    node = _changeable(tree)[number]
    before = ast.unparse(node)
    changed = _change(node)
    assert changed is not None
    if changed is not node:
        _replace(tree, node, changed)
    return Mutant(path, node.lineno, before, ast.unparse(changed), ast.unparse(tree))


def _changeable(tree: ast.AST) -> list[ast.expr]:
    return [node for node in _walk(tree) if _change(deepcopy(node)) is not None]


def _walk(tree: ast.AST) -> Iterator[ast.expr]:
    """Expressions that do something: no annotations, named or not, no decorators, no messages."""
    for name, value in ast.iter_fields(tree):
        if name in {"annotation", "returns", "decorator_list", "type_comment"} or isinstance(
            tree, ast.JoinedStr
        ):
            continue
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, ast.If) and ast.unparse(child.test) == "TYPE_CHECKING":
                continue
            if isinstance(child, ast.Subscript) and ast.unparse(child.value) == "Literal":
                continue
            if isinstance(child, ast.AST):
                if isinstance(child, ast.expr):
                    yield child
                yield from _walk(child)


def _change(node: ast.expr) -> ast.expr | None:
    if isinstance(node, ast.Compare) and type(node.ops[0]) in _COMPARED:
        node.ops[0] = _COMPARED[type(node.ops[0])]()
    elif isinstance(node, ast.BinOp) and type(node.op) in _COUNTED and not _is_text(node):
        node.op = _COUNTED[type(node.op)]()
    elif isinstance(node, ast.BoolOp):
        node.op = ast.Or() if isinstance(node.op, ast.And) else ast.And()
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, (ast.Not, ast.Invert)):
        return node.operand
    elif isinstance(node, ast.Constant) and isinstance(node.value, bool):
        node.value = not node.value
    elif isinstance(node, ast.Constant) and isinstance(node.value, int):
        node.value += 1
    else:
        return None
    return node


def _is_text(node: ast.BinOp) -> bool:
    return any(
        isinstance(side, ast.JoinedStr) or (isinstance(side, ast.Constant) and isinstance(side.value, str))
        for side in (node.left, node.right)
    )


def _replace(tree: ast.AST, old: ast.expr, new: ast.expr | None) -> None:
    for parent in ast.walk(tree):
        for name, value in ast.iter_fields(parent):
            if value is old:
                setattr(parent, name, new)
            elif isinstance(value, list):
                setattr(parent, name, [new if one is old else one for one in value])


def tests_for(path: str, *, wide: bool) -> list[str]:
    """What pytest is asked to run for a file: the tests on its path and those that say they cover it.

    Besides, those of `tests/outside/` on it, and for rules their examples and planted faults. If `wide`, then
    the rest of the room's tests, too, and those of `tests/outside/` that name the room.
    """
    _, room, *rest = Path(path).with_suffix("").parts
    name = rest[-1]
    module = ".".join(("certgen", room, *rest))
    own = Path("tests", room, *rest[:-1], f"test_{name}.py").as_posix()
    found = [own] if (ROOT / own).exists() else []
    found += [test for test in _naming("", f'"{module}"') if test != own]
    if room == "rules":
        text = (ROOT / path).read_text(encoding="utf-8")
        slugs = [
            node.name.replace("_", "-") for node in ast.parse(text).body
            if isinstance(node, ast.FunctionDef) and node.decorator_list
        ]  # fmt: skip
        if slugs:
            cases = ("test_bad_example_has_the_marked_gaps_and_no_other", "test_good_example_is_clean")
            examples = "tests/rules/test_examples.py"
            found += [f"{examples}::{case}[{slug}]" for slug in slugs for case in cases]
            case = "test_a_planted_fault_is_found_where_it_stands_and_nothing_else"
            found += [f"tests/truth/test_planted_faults.py::{case}[{slug}]" for slug in slugs]
            return found + (_naming("rules", name) if wide else [])
    if wide:
        return [*found, f"tests/{room}", *_naming("outside", room)]
    return [*(found or [f"tests/{room}"]), *_naming("outside", f"{module} import")]


def _naming(room: str, word: str) -> list[str]:
    """The tests of a room that speak of a module, or of another room."""
    return [
        path.relative_to(ROOT).as_posix()
        for path in sorted((ROOT / "tests" / room).rglob("test_*.py"))
        if word in path.read_text(encoding="utf-8")
    ]


def survives(mutant: Mutant, copy: Path, *, wide: bool = False) -> bool:
    """Whether all tests pass with the change."""
    target = copy / mutant.path
    sound = target.read_text(encoding="utf-8")
    target.write_text(mutant.source, encoding="utf-8")
    child = os.fork()
    if child == 0:
        _try(copy, tests_for(mutant.path, wide=wide))
    try:
        return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0
    finally:
        target.write_text(sound, encoding="utf-8")


def _left_behind(folder: str, names: list[str]) -> set[str]:
    """The checkout's own hidden folders. A season's are records: the season before lies in one.

    What has been compiled goes along, for it is the half of a short test; a changed file is newer than that.
    """
    return {name for name in names if Path(folder) == ROOT and name.startswith(".")}


def _try(copy: Path, asked: list[str]) -> None:
    """In the forked process: runs the tests and ends with their verdict."""
    resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS))
    resource.setrlimit(resource.RLIMIT_AS, (BYTES, BYTES))
    import pytest

    told = os.open(os.environ.get("MUTANT_LOG", os.devnull), os.O_WRONLY | os.O_CREAT | os.O_APPEND)
    os.dup2(told, 1)
    os.dup2(told, 2)
    os.chdir(copy)
    sys.path.insert(0, str(copy))
    sys.dont_write_bytecode = True
    verdict = 1
    try:
        verdict = int(pytest.main(["-x", "-q", "-p", "no:cacheprovider", *asked]))
    except BaseException:  # noqa: BLE001 (this process ends here, whatever happened)
        traceback.print_exc()
    finally:
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(verdict)


def main() -> int:
    """Draws the sample, tries each, and prints what lived."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--sample", type=int, default=150)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--baseline", action="store_true", help="first see that the tests pass unchanged")
    parser.add_argument("--rooms", nargs="*", default=["rules", "lineage", "figures"])
    parser.add_argument("--wide", action="store_true", help="ask the whole room's tests, too")
    asked = parser.parse_args()
    import jsonschema  # noqa: F401
    import pandas as pd  # noqa: F401
    import pytest  # noqa: F401

    files = sorted(
        path.relative_to(ROOT).as_posix()
        for room in asked.rooms for path in (ROOT / "certgen" / room).glob("*.py")
        if path.name not in {"__init__.py", "pages.py", "wording.py"}
    )  # fmt: skip
    everything = [(path, number) for path in files for number in range(places(path))]
    drawn = Random(asked.seed).sample(everything, min(asked.sample, len(everything)))
    chosen = [mutate(*one) for one in drawn]
    print(f"{len(everything)} mutants in {len(files)} files; {len(chosen)} are tried", flush=True)
    lived = []
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "copy"
        copy.mkdir()
        shutil.copytree(ROOT, copy, ignore=_left_behind, dirs_exist_ok=True)
        for path in dict.fromkeys(one.path for one in chosen):
            sound = (ROOT / path).read_text(encoding="utf-8")
            if asked.baseline and not survives(Mutant(path, 0, "", "", sound), copy, wide=asked.wide):
                print(f"  {path}: its tests fail as it stands, or take too long; not counted", flush=True)
                chosen = [one for one in chosen if one.path != path]
        for number, one in enumerate(chosen, start=1):
            if survives(one, copy, wide=asked.wide):
                lived.append(one)
                print(f"  lived: {one.path}:{one.line}: {one.before}  ->  {one.after}", flush=True)
            if number % 10 == 0:
                print(f"  {number} tried, {len(lived)} lived", file=sys.stderr, flush=True)
    killed = len(chosen) - len(lived)
    print(f"{killed} of {len(chosen)} killed: {killed / len(chosen):.1%}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
