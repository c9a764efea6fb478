"""The generator of seasons for measuring: what it writes must be what a season may hold."""

from __future__ import annotations

from pathlib import Path

import pytest
from bench.seasons import write_season

COVERS = ("tests/bench/seasons.py",)


def contents(folder: Path) -> dict[str, bytes]:
    """Every file below a folder."""
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*.yaml")}


def test_the_same_arguments_give_the_same_bytes(tmp_path: Path) -> None:
    """Measures of two days speak of one season."""
    first = write_season(tmp_path / "first", 300)
    second = write_season(tmp_path / "second", 300)

    assert first == second == sum(len(data) for data in contents(tmp_path / "first").values())
    assert contents(tmp_path / "first") == contents(tmp_path / "second")


@pytest.mark.parametrize("bags", [1, 37, 500])
def test_a_generated_season_is_read_without_an_error(tmp_path: Path, bags: int) -> None:
    """Every record passes its schema, and none is lost on the way into the tables."""
    from certgen.records import read_season

    write_season(tmp_path / "season", bags)
    season, errors = read_season(tmp_path / "season")

    assert () == errors
    assert season is not None
    assert bags == len(season.table("bagging"))
    assert max(1, bags // 10) == len(season.table("screening"))


def test_a_generated_season_has_no_gap_that_touches_a_lot(tmp_path: Path) -> None:
    """Timings are of a season whose records hold, so they don't depend on how gaps are shown."""
    from datetime import date

    from certgen import examine

    write_season(tmp_path / "season", 500)
    result = examine(tmp_path / "season", date(2026, 12, 31))

    assert [] == [(gap.rule, gap.message) for gap in result.gaps if gap.weight != "advice"]
    assert {"traced"} == {lot.standing for lot in result.lots.values()}
