"""Runs the logic program over the facts."""

from __future__ import annotations

from collections import defaultdict
from functools import cache
from pathlib import Path

import clingo

_RULES = ("screening", "bagging", "picking", "land", "runs", "lots", "sales", "papers", "visits", "reach")
_WORST = {"unproven": 1, "rejects": 2}


@cache
def _program() -> str:
    home = Path(__file__).parent
    return "\n".join((home / f"{name}.lp").read_text(encoding="utf-8") for name in _RULES)


class Answer:
    """What the program says of runs, parts, lots and movements."""

    def __init__(self) -> None:
        self.touched: dict[tuple[str, int], dict[str, int]] = defaultdict(dict)
        self.custody: dict[int, set[str]] = defaultdict(set)
        self.rests_on: dict[int, set[int]] = defaultdict(set)
        self.mixed_from: list[tuple[int, int]] = []
        self.unsealed: set[int] = set()
        self.other_status: set[int] = set()
        self.against: set[int] = set()

    def worst(self, kind: str, number: int) -> int:
        """0 where nothing touches it, 1 where it is unproven, 2 where it is rejected."""
        return max(self.touched.get((kind, number), {}).values(), default=0)

    def take(self, atom: clingo.Symbol) -> None:
        """Notes one atom of the answer."""
        name, arguments = atom.name, atom.arguments
        if name.endswith("_touched"):
            told = self.touched[name.removesuffix("_touched"), arguments[0].number]
            slug = str(arguments[2])
            told[slug] = max(told.get(slug, 0), _WORST[str(arguments[1])])
        elif name == "custody":
            self.custody[arguments[0].number].add(str(arguments[1]))
        elif name == "rests_on":
            self.rests_on[arguments[0].number].add(arguments[1].number)
        elif name == "mixed_from":
            self.mixed_from.append((arguments[0].number, arguments[1].number))
        else:
            getattr(self, name).add(arguments[0].number)


def solve(facts: str) -> Answer:
    """The program's one answer. It is stratified, so there is always exactly one."""
    control = clingo.Control(["--warn=none"], logger=_listen)
    control.add("base", [], _program())
    control.add("base", [], facts)
    control.ground([("base", [])])
    answer = Answer()
    with control.solve(yield_=True) as handle:
        model = handle.model()
        if model is None:
            raise RuntimeError("the program has no answer")
        for atom in model.symbols(shown=True):
            answer.take(atom)
    return answer


def _listen(code: clingo.MessageCode, message: str) -> None:
    """Errors of the program are errors here; the rest is nobody's concern."""
    if code == clingo.MessageCode.RuntimeError:
        raise RuntimeError(message)
