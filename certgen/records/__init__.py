"""Reading: a folder of YAML records to a typed `Season`, strict, with every value's place known."""

from __future__ import annotations

from typing import TYPE_CHECKING

from certgen.records.places import Place, ReadingError

if TYPE_CHECKING:
    from certgen.records.reading import read_season
    from certgen.records.season import Operation, Season, SeasonDetails, Source

__all__ = ["Operation", "Place", "ReadingError", "Season", "SeasonDetails", "Source", "read_season"]


def __getattr__(name: str) -> object:
    # pandas and the schemas cost start-up time that only a command which reads should pay.
    if name == "read_season":
        from certgen.records.reading import read_season

        return read_season
    if name in {"Operation", "Season", "SeasonDetails", "Source"}:
        from certgen.records import season

        return getattr(season, name)
    raise AttributeError(name)
