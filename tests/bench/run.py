"""Runs the measures and prints a table.

    python tests/bench/run.py [--bags N] [--only NAME ...] [--out FILE.md] [--list]

A measure that cannot be taken ends the run with its reason: a table with holes would look like a result.
"""

from __future__ import annotations

import argparse
import platform
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import examination as _examination  # noqa: F401  the same for small seasons
import exchange as _exchange  # noqa: F401  the same for workbooks
import growth as _growth  # noqa: F401  registers the measures of growth
import measures as _measures  # noqa: F401  registers the measures
import records as _records  # noqa: F401  the same for reading
import report as _report  # noqa: F401  the same for the report
from harness import Material, Measure, Ratio, registered
from seasons import write_season


def table(rows: Sequence[tuple[Measure, Ratio]], material: Material) -> str:
    """The results as Markdown, which reads well in a terminal too."""
    lines = [
        (
            f"{material.bags:,} bags, {material.size_bytes / 1e6:.1f} MB of YAML; "
            f"Python {platform.python_version()}."
        ),
        "",
        "| measure | ratio | goal | ours | against | what is compared |",
        "|---|---:|---|---:|---:|---|",
    ]
    lines += [
        f"| {entry.name} | {ratio.value:.2f}× | {entry.goal(ratio)} | {ratio.ours:.2f} {ratio.unit} "
        f"| {ratio.other:.2f} {ratio.unit} | {entry.meaning} |"
        for entry, ratio in rows
    ]
    return "\n".join(lines) + "\n"


def main() -> int:
    """Takes the chosen measures, one after the other."""
    parser = argparse.ArgumentParser(description="Measures certgen as ratios taken in one run.")
    parser.add_argument("--bags", type=int, default=20_000, help="size of the generated season")
    parser.add_argument("--only", nargs="+", metavar="NAME", default=[], help="take only these measures")
    parser.add_argument("--out", type=Path, help="also write the table to this Markdown file")
    parser.add_argument("--list", action="store_true", help="name the measures and end")
    options = parser.parse_args()
    known = registered()
    if options.list:
        print("\n".join(f"{entry.name}: {entry.meaning}" for entry in known.values()))
        return 0
    unknown = [name for name in options.only if name not in known]
    if unknown:
        print(f"unknown: {', '.join(unknown)}; there are {', '.join(known)}", file=sys.stderr)
        return 2
    rows: list[tuple[Measure, Ratio]] = []
    with tempfile.TemporaryDirectory() as folder:
        season = Path(folder) / "season"
        material = Material(season, options.bags, write_season(season, options.bags))
        for name in options.only or known:
            print(f"measuring {name} …", file=sys.stderr)
            rows.append((known[name], known[name].takes(material)))
    text = table(rows, material)
    print(text)
    if options.out:
        options.out.write_text(text, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
