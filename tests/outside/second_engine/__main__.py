"""Prints a season's lots and their grams: `python -m second_engine FOLDER [--on DATE] [--why]`."""

# ruff: noqa: T201, DTZ011 (a program that prints, and asks the day where none is given)
from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from datetime import date
from pathlib import Path

from second_engine.standings import standings


def main(arguments: Sequence[str] | None = None) -> int:
    """A line a lot."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--on", type=date.fromisoformat, default=date.today())
    parser.add_argument("--why", action="store_true", help="say what touches each lot")
    asked = parser.parse_args(arguments)
    print(f"{'lot':<16} {'standing':<9}" + "".join(
        f"{title:>13}" for title in ("weight_g", "traced_g", "unproven_g", "rejected_g", "nowhere_g")
    ))  # fmt: skip
    for lot, one in standings(asked.folder, asked.on).items():
        print(f"{lot:<16} {one.standing:<9}"
              + "".join(f"{mg / 1000:13.3f}" for mg in (one.weight, *one.masses)))  # fmt: skip
        if asked.why:
            for reason in one.why:
                print(f"    {reason}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
