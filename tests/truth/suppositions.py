"""Every tree of a season supposed positive, by both ways: the one fault more, and the whole season anew.

    python tests/truth/suppositions.py [SEASON] [--on DAY]

Says which trees come out apart; the exit code is 1 if any does.
"""

from __future__ import annotations

import argparse
import sys
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from certgen.dossier.supposed import Supposed, suppose_positive
from certgen.examination import Result, examine, examine_season
from certgen.lineage import suppose
from certgen.standards.season_reading import read_case

if TYPE_CHECKING:
    from collections.abc import Sequence

EXAMPLE = Path(__file__).parents[2] / "example_season"
_WEIGHED = {"unproven": 1, "rejects": 2}


def list_left(result: Result) -> dict[str, int]:
    """The deliveries that a finding calls suspect, and how heavy it is."""
    return {gap.id: _WEIGHED[gap.weight] for gap in result.gaps if gap.rule == "suspect-seed-left"}


def suppose_anew(folder: Path, on: date, tree: str, before: Result) -> Supposed:
    """What `certgen trace --suppose` tells: the season's lots that change, and deliveries that get worse."""
    season, errors = read_case(folder)
    after = examine_season(suppose(season, f"tree:{tree}=positive"), on, errors)
    changed = tuple(after.lots[name] for name in before.lots if after.lots[name] != before.lots[name])
    now = list_left(before)
    worse = sorted(one for one, weight in list_left(after).items() if weight > now.get(one, 0))
    return Supposed(changed, tuple(worse))


def apart(folder: Path, on: date, trees: Sequence[str] | None = None) -> dict[str, tuple[Supposed, Supposed]]:
    """The trees (None: all) that come out apart, each with what the whole season anew and the one fault
    say."""
    before = examine(folder, on)
    told = suppose_positive(before)
    found = {}
    for tree in trees if trees is not None else before.season.table("trees")["tree"].tolist():
        one = told.get(tree, Supposed((), ()))
        quick = Supposed(one.lots, tuple(sorted(one.deliveries)))
        anew = suppose_anew(folder, on, tree, before)
        if anew != quick:
            found[tree] = (anew, quick)
    return found


def main() -> int:
    """Runs it over a season and tells what came out apart."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("season", nargs="?", type=Path, default=EXAMPLE)
    parser.add_argument("--on", type=date.fromisoformat, default=date(2026, 11, 25))
    given = parser.parse_args()
    found = apart(given.season, given.on)
    for tree, (anew, quick) in found.items():
        sys.stdout.write(f"{tree}: {anew} against {quick}\n")
    sys.stdout.write(f"{len(found)} trees come out apart\n")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
