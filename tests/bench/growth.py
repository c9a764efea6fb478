"""Measures of growth: what a record costs in a large season of an awkward shape, against a small one.

    python tests/bench/growth.py [--records N] [SHAPE ...]

takes these alone and prints the exponents; `run.py` takes them with the others. A ratio of 1 is a straight
line; the goal is an exponent of 1.2: 1.38 over five times the records, 2.51 over a hundred times as many.
Of a dense shape, in which each names all others, the references are the records.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Iterable
from math import log
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from bench.shapes import shapes, write_shape
from harness import Material, Ratio, aiming, python

SMALL, LARGE = 1_000, 5_000
EXPONENT = 1.2
CHECK = """
import sys, time
from datetime import date
from pathlib import Path
from certgen.dossier.search import select
from certgen.examination import examine
from certgen.exchange.interchange.check import build_check
from certgen.exchange.interchange.layout import render_json

def check(folder):
    start = time.process_time()
    render_json(build_check(select(examine(Path(folder), date(2026, 12, 31)))))
    return time.process_time() - start

check(sys.argv[1])
print(min(check(sys.argv[2]) for _ in range(2)))
"""


def seconds_of(shape: str, records: int) -> float:
    """Processor seconds of a check told as JSON, by a Python that has checked another season before."""
    with tempfile.TemporaryDirectory() as place:
        first, season = Path(place) / "first", Path(place) / "season"
        write_shape(shape, first, 20)
        write_shape(shape, season, records)
        return float(python(["-c", CHECK, str(first), str(season)])())


def register(shape: str) -> None:
    """Registers the measure of a shape."""

    def growth(_: Material) -> Ratio:
        large, small = seconds_of(shape, LARGE), seconds_of(shape, SMALL)
        return Ratio(large / LARGE * 1e6, small / SMALL * 1e6, "µs")

    growth.__name__ = f"growth_of_{shape.replace('-', '_')}"
    growth.__doc__ = (
        f"Microseconds a record of a check of {LARGE:,} records of the shape {shape}, against {SMALL:,}."
    )
    aiming(times=round((LARGE / SMALL) ** (EXPONENT - 1), 2))(growth)


for each in shapes():
    register(each)


def main() -> int:
    """Takes the growth of the chosen shapes, one after the other; a shape that fails ends the run."""
    parser = argparse.ArgumentParser(description="Measures what a record costs in large awkward seasons.")
    parser.add_argument("--records", type=int, default=LARGE, help=f"against {SMALL:,}, {LARGE:,} by default")
    parser.add_argument("shapes", nargs="*", metavar="SHAPE", default=shapes(), help="take only these")
    options = parser.parse_args()
    large = options.records
    if large <= SMALL or unknown_shapes(options.shapes):
        parser.error(f"more than {SMALL:,} records are needed, of shapes among {', '.join(shapes())}")
    print(f"| shape | {SMALL:,} | {large:,} | exponent | goal |\n|---|---:|---:|---:|---|")
    for name in options.shapes:
        few, many = seconds_of(name, SMALL), seconds_of(name, large)
        exponent = log(many / few) / log(large / SMALL)
        met = "met" if exponent <= EXPONENT else "MISSED"
        print(f"| {name} | {few:.2f} s | {many:.2f} s | {exponent:.2f} | ≤ {EXPONENT} {met} |", flush=True)
    return 0


def unknown_shapes(names: Iterable[str]) -> set[str]:
    """Those that no shape is called."""
    return set(names).difference(shapes())


if __name__ == "__main__":
    sys.exit(main())
