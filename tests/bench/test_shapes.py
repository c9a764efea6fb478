"""Awkward seasons: what they hold is read, and what a check of them costs grows no faster than they do."""

from __future__ import annotations

import cProfile
import pstats
from datetime import date
from pathlib import Path

import pytest
from bench.shapes import shapes, write_shape

COVERS = ("tests/bench/shapes", "tests/bench/growth.py")
#: Shapes whose records have a slip that leaves them out.
LEFT_OUT = {"records-left-out", "lots-left-out", "lots-and-lots-left-out"}
FEW, TIMES = 30, 4
#: Shapes that show only from so many records on how they grow, and why.
LATER = {
    # A tree of halves is one level deeper at each of so few.
    "blends-of-halves": 60,
    # A few of each of eight tables are so few that each more tells.
    "absent-references": 60,
    # All lots are named at each: in full while that is little, and then the first of them.
    "cycle-of-blends": 150,
    # With fewer every disagreement between letters and samples is told by itself, which is a square.
    "letters-over-all-samples": 300,
    # With fewer every stage of a lot is told apart.
    "one-lot-counted-daily": 300,
}
#: What is worked out in full while it is little costs more than a square would: here nothing is, so that the
#: rest shows from few records on.
BOUNDS = {
    ("certgen.lineage.weighing", "EXACT_ENTRIES"): 0,
    ("certgen.lineage.weighing", "MOST_LOOKS"): 5_000,
    ("certgen.lineage.closure", "MOST_PAIRS"): 300,
    ("certgen.records.joining.sayings", "MOST_LOOKS"): 300,
    ("certgen.records.joining.sayings", "MOST_KEPT"): 300,
    ("certgen.rules.gathering", "MOST_LISTED"): 300,
}
#: A step of calls that come and go, as when a list is first long enough to be sorted another way.
SLACK = 3_000
GROWTH = 1.2


def steps(name: str, folder: Path, records: int) -> int:
    """The calls of a check of so many records of a shape, told as JSON."""
    from certgen.dossier.search import select
    from certgen.examination import examine
    from certgen.exchange.interchange.check import build_check
    from certgen.exchange.interchange.layout import render_json

    write_shape(name, folder, records)
    with cProfile.Profile() as profile:
        render_json(build_check(select(examine(folder, date(2026, 12, 31)))))
    return pstats.Stats(profile).total_calls


@pytest.fixture(scope="module")
def standing(tmp_path_factory: pytest.TempPathFactory) -> int:
    """The calls of a check that has next to nothing to look at."""
    place = tmp_path_factory.mktemp("standing")
    steps("bare-samples", place / "warm", 5)
    return steps("bare-samples", place / "base", 5)


@pytest.mark.parametrize("name", shapes())
def test_every_record_of_a_shape_is_read(tmp_path: Path, name: str) -> None:
    """But where it is the shape that its records aren't; the same arguments give the same bytes."""
    from certgen.records import read_season

    size = write_shape(name, tmp_path / "first", 40)
    again = write_shape(name, tmp_path / "again", 40)
    season, errors = read_season(tmp_path / "first")

    assert size == again == sum(path.stat().st_size for path in (tmp_path / "first").iterdir())
    assert (name in LEFT_OUT) == bool(errors)
    assert season is not None
    assert sum(season.counts.values()) > 3


@pytest.mark.parametrize("name", shapes())
def test_work_grows_no_faster_than_the_records(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, standing: int, name: str
) -> None:
    """Four times the records take at most 4 to the power of 1.2 times the calls; no clock is asked."""
    for (module, bound), least in BOUNDS.items():
        monkeypatch.setattr(f"{module}.{bound}", least)
    few = LATER.get(name, FEW)
    small = steps(name, tmp_path / "small", few) - standing
    large = steps(name, tmp_path / "large", few * TIMES) - standing

    assert large <= small * TIMES**GROWTH + SLACK
