"""Measures as ratios: two things timed in one run on one machine, so that they mean something elsewhere."""

from __future__ import annotations

import gc
import os
import subprocess
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

ROOT = Path(__file__).resolve().parents[2]
MEASURES: dict[str, Measure] = {}


@dataclass(frozen=True)
class Material:
    """What every measure may use: a generated season and its size."""

    season: Path
    bags: int
    size_bytes: int


@dataclass(frozen=True)
class Ratio:
    """Ours against what it is checked against, in one unit."""

    ours: float
    other: float
    unit: str

    @property
    def value(self) -> float:
        """How many times the other ours takes."""
        return self.ours / self.other


@dataclass(frozen=True)
class Measure:
    """A named measure; its function's docstring says what is compared with what."""

    name: str
    takes: Callable[[Material], Ratio]
    #: At most so many times the other, and at most so much of the unit by itself, where that is wanted.
    times: float | None = None
    amount: float | None = None

    def goal(self, ratio: Ratio) -> str:
        """What is wanted, and whether it is met; empty where nothing is."""
        wanted = []
        if self.times is not None:
            wanted.append((f"{self.times:g}×", ratio.value <= self.times))
        if self.amount is not None:
            wanted.append((f"{self.amount:g} {ratio.unit}", ratio.ours <= self.amount))
        return ", ".join(f"≤ {goal} {'met' if met else 'MISSED'}" for goal, met in wanted)

    @property
    def meaning(self) -> str:
        """What is compared with what, on one line."""
        return " ".join((self.takes.__doc__ or "").split())


def measure(takes: Callable[[Material], Ratio]) -> Callable[[Material], Ratio]:
    """Registers a measure without a goal under its function's name with hyphens."""
    return aiming()(takes)


def aiming(
    times: float | None = None, amount: float | None = None
) -> Callable[[Callable[[Material], Ratio]], Callable[[Material], Ratio]]:
    """Registers a measure with its goal: at most so many times the other, or so much by itself."""

    def register(takes: Callable[[Material], Ratio]) -> Callable[[Material], Ratio]:
        name = takes.__name__.replace("_", "-")
        if name in MEASURES or not takes.__doc__:
            message = f"measure {name} needs a name of its own and a docstring"
            raise ValueError(message)
        MEASURES[name] = Measure(name, takes, times, amount)
        return takes

    return register


def registered() -> Mapping[str, Measure]:
    """All measures, in the order they stand in."""
    return MappingProxyType(MEASURES)


def best_seconds(work: Callable[[], object], repeats: int) -> float:
    """The shortest of several runs: noise only ever adds.

    What is alive already is frozen, so that neither side pays for collecting what the other one imported.
    """
    shortest = float("inf")
    for _ in range(repeats):
        gc.collect()
        gc.freeze()
        start = time.perf_counter()
        work()
        shortest = min(shortest, time.perf_counter() - start)
        gc.unfreeze()
    return shortest


def python(arguments: Sequence[str], allowed: Sequence[int] = (0,)) -> Callable[[], str]:
    """A run of a fresh Python that sees this checkout; gives what it printed.

    Exit codes other than the allowed ones end the measuring, so that a crash is never timed as a fast run.
    """
    # As of an installed program, its modules are compiled once and not at each start.
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONDONTWRITEBYTECODE": ""}

    def run() -> str:
        finished = subprocess.run(
            [sys.executable, *arguments], env=environment, capture_output=True, text=True, check=False
        )
        if finished.returncode not in allowed:
            command = " ".join(arguments)[:200]
            message = f"python {command} ended with {finished.returncode}:\n{finished.stderr[-2000:]}"
            raise RuntimeError(message)
        return finished.stdout

    return run


def peak_mebibytes(program: str, *arguments: str) -> float:
    """The largest resident memory of a fresh Python that runs the program.

    Linux hands `ru_maxrss` down to child processes, so there the kernel's own high-water mark is read.
    """
    report = """
import resource, sys
from pathlib import Path
status = Path("/proc/self/status")
if status.exists():
    print([line.split()[1] for line in status.read_text().splitlines() if line.startswith("VmHWM")][0])
else:
    print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // (1024 if sys.platform == "darwin" else 1))
"""
    return int(python(["-c", program + report, *arguments])().split()[-1]) / 1024
