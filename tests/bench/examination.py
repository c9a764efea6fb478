"""Measures of what people wait for again and again: small seasons, and one more look after one edit."""

from __future__ import annotations

import json
import tempfile
from datetime import date
from pathlib import Path

from harness import ROOT, Material, Ratio, aiming, best_seconds
from measures import check_plainly
from seasons import write_season

ON = date(2026, 12, 31)
#: So many records come with each bag of a generated season.
RECORDS_A_BAG = 1.27


def against_plain_pipeline(records: int) -> Ratio:
    """Seconds of a whole examination of so many records, against the plain pipeline's for the same files."""
    from certgen import examine

    with tempfile.TemporaryDirectory() as folder:
        season = Path(folder) / "season"
        write_season(season, max(10, round(records / RECORDS_A_BAG)))
        examine(season, ON)
        ours = best_seconds(lambda: examine(season, ON), 7)
        return Ratio(ours, best_seconds(lambda: check_plainly(season), 3), "s")


@aiming(amount=0.09)
def examining_50_records_against_plain_pipeline(_: Material) -> Ratio:
    """A season of 50 records examined in a warm process, against loader, jsonschema and loops."""
    return against_plain_pipeline(50)


@aiming(amount=0.09)
def examining_500_records_against_plain_pipeline(_: Material) -> Ratio:
    """A season of 500 records examined in a warm process, against loader, jsonschema and loops."""
    return against_plain_pipeline(500)


@aiming(times=1.0)
def examining_the_example_against_plain_pipeline(_: Material) -> Ratio:
    """The example season, two years of every table, against loader, jsonschema and loops for its files."""
    from certgen import examine

    example = ROOT / "example_season"
    ours = best_seconds(lambda: examine(example, ON), 5)
    return Ratio(ours, best_seconds(lambda: check_plainly(example), 3), "s")


@aiming(amount=0.25)
def looking_again_at_2000_bags_against_a_first_look(_: Material) -> Ratio:
    """What the desk and `--watch` do after one edit among 2,000 bags, against reading and checking all."""
    from certgen import examine
    from certgen.desk.held_season import HeldSeason

    with tempfile.TemporaryDirectory() as folder:
        season = Path(folder) / "season"
        write_season(season, 2_000)
        held = HeldSeason(season, lambda: ON, cache=Path(folder) / "cache")
        held.look()
        shortest = float("inf")
        for edited in range(1, 6):
            (season / "notes.yaml").write_text(_one_more(edited), encoding="utf-8")
            shortest = min(shortest, best_seconds(held.look, 1))
        return Ratio(shortest, best_seconds(lambda: examine(season, ON), 3), "s")


def _one_more(number: int) -> str:
    record = {
        "cleaning": f"C-NEW-{number}", "date": "2026-10-01", "equipment": ["extractor"], "method": "washed",
    }  # fmt: skip
    return json.dumps({"cleaning": [record]})
