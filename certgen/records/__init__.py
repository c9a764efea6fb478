"""Reading: a folder of YAML records to a typed `Season`, strict, with every value's place known.

`record_files` goes from a file's bytes to sound records, `reading` makes a season of a folder, and `joining`
completes it by its rounds and letters and joins all seasons in reach into one farm.

Why it is as it is:

- libyaml's parser composes nodes, and a strict constructor of our own builds values from them under the
  schemas. PyYAML's loaders lose places and guess types (`NO` becomes false); the constructor is ours to keep.
- Two validators. `jsonschema_rs` decides, a hundred times as fast; `jsonschema` explains the records that
  fail. They agree while the schemas keep to the keywords that DEVELOPERS.md names.
- Tables are asked as plain arrays (`columns`): the checks put some ten thousand small questions to a season,
  and pandas takes about 100 µs for one of a dozen rows, numpy two. The example season took 2.8 million calls
  of functions to examine, and takes 0.6 million.
- A table becomes a pandas DataFrame when something asks for it, to join, add up or show it; `rows` is the one
  way from there back to plain values.
- A row keeps its file and its index; line and column are looked up when something is shown, for a handful of
  records out of thousands. The source text is kept until then.
- All equal texts of a season are one text, and places lie in one array: a season of 20,000 bags takes 4.4
  times its YAML in memory, and took 7.7.
"""

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
