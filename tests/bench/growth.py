"""Measures of growth: what a record costs in a large season of an awkward shape, against a small one.

    python tests/bench/growth.py

takes these alone; `run.py` takes them with the others. A ratio of 1 is a straight line; the goal is 1.38, an
exponent of 1.2 over five times the records.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from bench.shapes import shapes, write_shape
from harness import Material, Ratio, aiming, python

SMALL, LARGE = 1_000, 5_000
#: An exponent of 1.2 over five times the records.
GOAL = 1.38
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
    aiming(times=GOAL)(growth)


for each in shapes():
    register(each)

if __name__ == "__main__":
    from run import main

    if "--only" not in sys.argv:
        sys.argv += ["--only", *(f"growth-of-{each}" for each in shapes())]
    sys.exit(main())
