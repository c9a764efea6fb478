"""The example season, examined once a module."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from types import ModuleType

import pytest

from certgen.examination import Result, examine


@pytest.fixture(scope="module")
def result(example_season: Path) -> Result:
    """The example season, examined."""
    return examine(example_season, dt.date(2026, 12, 31))


@pytest.fixture(scope="module")
def treated(seasons: ModuleType, tmp_path_factory: pytest.TempPathFactory) -> Result:
    """Lots out of treated batches: L1 of one that harms, L2 of one that doesn't, L3 a blend of both with a
    treatment that isn't named, L4 not treated, L5 of which nothing is said, L6 of which nothing more is.
    """
    folder = tmp_path_factory.mktemp("treated")
    tables = seasons.one_line()
    tables["batches"] = [
        seasons.batch("X1", ["H1"], treatment={"treated": True, "with": "thiram", "harmful": True}),
        seasons.batch("X2", ["H1"], treatment={"treated": True, "with": "hot water", "harmful": False}),
        seasons.batch("X3", ["H1"]),
    ]
    tables["lots"] = [
        seasons.lot("L1", [{"batch": "X1", "weight": "4 g"}], 4),
        seasons.lot("L2", [{"batch": "X2", "weight": "4 g"}], 4),
        seasons.lot(
            "L3",
            [{"lot": "L1", "weight": "1 g"}, {"lot": "L2", "weight": "1 g"}],
            2,
            treatment={"treated": True},
        ),
        seasons.lot("L4", [{"batch": "X3", "weight": "2 g"}], 2, treatment={"treated": False}),
        seasons.lot("L5", [{"batch": "X3", "weight": "2 g"}], 2),
        seasons.lot("L6", [{"batch": "X3", "weight": "2 g"}], 2, treatment={"treated": True}),
    ]
    seasons.write_season(folder, **tables)
    return examine(folder, dt.date(2026, 12, 1))
