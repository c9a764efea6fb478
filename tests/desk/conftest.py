"""A small sound season that the desk has open, and a browser at it."""

from __future__ import annotations

import shutil
from collections import OrderedDict
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from desk_client import BAGS, SEASON, hold, visit

from certgen.desk import held_season
from certgen.examination import examine_season

if TYPE_CHECKING:
    from datetime import date

    from starlette.testclient import TestClient

    from certgen.desk.held_season import HeldSeason
    from certgen.examination import Result
    from certgen.records import Season
    from certgen.records.supplied import PacketReader


#: So many examinations are kept: most tests begin with the same few seasons.
_KEPT = 8
_EXAMINED: OrderedDict[tuple[Any, ...], Result] = OrderedDict()


def _goes_by(season: Season | None) -> tuple[Any, ...]:
    """All that the examination of a season goes by: where it lies, its files' bytes, what is refused."""
    if season is None:
        return ()
    sources = tuple((name, source.sha256) for name, source in season.sources.items())
    papers = (season.evidence_files, season.empty_evidence)
    return (season.folder, sources, papers, season.refused, season.lost, _goes_by(season.previous))


def _examine_once(season: Season, on: date, errors: Any, *, packets: PacketReader | None = None) -> Result:
    if packets is not None:
        return examine_season(season, on, errors, packets=packets)
    key = (_goes_by(season), on, tuple(errors))
    if key not in _EXAMINED:
        _EXAMINED[key] = examine_season(season, on, errors)
    _EXAMINED.move_to_end(key)
    while len(_EXAMINED) > _KEPT:
        _EXAMINED.popitem(last=False)
    return _EXAMINED[key]


@pytest.fixture(scope="module", autouse=True)
def shared_examinations() -> Iterator[None]:
    """A season that was examined in one test isn't in the next, if all is the same: day, folder and bytes."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(held_season, "examine_season", _examine_once)
        yield


@pytest.fixture(scope="session")
def desk_place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the seasons lie that tests begin with, each laid out anew for every test."""
    return tmp_path_factory.mktemp("desk")


@pytest.fixture
def folder(desk_place: Path) -> Path:
    """A season's folder, its bags in a file of their own."""
    place = desk_place / "small" / "season"
    shutil.rmtree(place.parent, ignore_errors=True)
    place.mkdir(parents=True)
    (place / "season.yaml").write_text(SEASON, encoding="utf-8")
    (place / "bags.yaml").write_text(BAGS, encoding="utf-8")
    return place


@pytest.fixture
def example_copy(desk_place: Path, example_season: Path) -> Path:
    """A copy of the example season that a test may change."""
    place = desk_place / "example" / "season"
    shutil.rmtree(place.parent, ignore_errors=True)
    return Path(shutil.copytree(example_season, place))


@pytest.fixture
def held(folder: Path) -> HeldSeason:
    """The season, held in memory."""
    return hold(folder)


@pytest.fixture
def desk(held: HeldSeason) -> TestClient:
    """A browser that was let in."""
    return visit(held)
