"""Measures that no season has a cliff: each awkward shape, as large as it gets below 1 MB of YAML.

    python tests/bench/below_a_megabyte.py [SHAPE ...]

Prints core seconds and the largest memory of `certgen check`, start-up and all, against the goal. A check
that takes ten times the goal is ended.
"""

from __future__ import annotations

import argparse
import os
import resource
import subprocess
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from bench.shapes import shapes, write_shape
from harness import ROOT

MOST_BYTES = 1_000_000
SECONDS, MEBIBYTES = 3, 400
START = 400
PROGRAM = """
import contextlib, io, resource, sys
from certgen import cli
with contextlib.redirect_stdout(io.StringIO()):
    code = cli.run(["check", sys.argv[1], "--format", "json", "--no-cache"])
used = resource.getrusage(resource.RUSAGE_SELF)
print(code, used.ru_utime + used.ru_stime, used.ru_maxrss)
"""


def fill(shape: str, place: Path) -> int:
    """Write the shape with as many records as stay below the size; gives how many."""
    small, large = 1, START
    while write_shape(shape, place / str(large), large) < MOST_BYTES:
        small, large = large, large * 2
    while large - small > max(1, small // 100):
        middle = (small + large) // 2
        if write_shape(shape, place / str(middle), middle) < MOST_BYTES:
            small = middle
        else:
            large = middle
    write_shape(shape, place / "season", small)
    return small


def check(season: Path) -> tuple[float, float] | None:
    """Core seconds and MiB of a check; None where it was ended.

    Raises RuntimeError where it failed.
    """
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONDONTWRITEBYTECODE": ""}
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM, str(season)],
        env=environment, capture_output=True, text=True, check=False,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_CPU, (SECONDS * 10, SECONDS * 10)),
    )  # fmt: skip
    if done.returncode < 0:
        return None
    told = done.stdout.split()
    if done.returncode or told[0] not in {"0", "1", "2"}:
        raise RuntimeError(done.stderr[-2000:])
    return float(told[1]), int(told[2]) / 1024


def main() -> int:
    """Takes the chosen shapes, one after the other."""
    parser = argparse.ArgumentParser(description="Checks awkward seasons just below 1 MB.")
    parser.add_argument("shapes", nargs="*", metavar="SHAPE", default=shapes(), help="take only these")
    names = parser.parse_args().shapes
    if unknown := set(names).difference(shapes()):
        parser.error(f"no shape is called {', '.join(sorted(unknown))}; there are {', '.join(shapes())}")
    print(f"| shape | records | core time (goal {SECONDS} s) | memory (goal {MEBIBYTES} MiB) | |")
    print("|---|---:|---:|---:|---|")
    for name in names:
        with tempfile.TemporaryDirectory() as place:
            records = fill(name, Path(place))
            found = check(Path(place) / "season")
        met = found is not None and found[0] <= SECONDS and found[1] <= MEBIBYTES
        told = f"{found[0]:.1f} s | {found[1]:.0f} MiB" if found else f"over {SECONDS * 10} s | "
        print(f"| {name} | {records:,} | {told} | {'met' if met else 'MISSED'} |", flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
