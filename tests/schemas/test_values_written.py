"""How many values the example season takes to write down: a bag, a leaf sample, and the whole of it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from datetime import date
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
import yaml

from certgen.examination import Result, examine
from certgen.records import read_season
from certgen.records.joining.rounds import RoundMembers
from certgen.records.rows import plain_record

COVERS = ("example_season",)
ROOT = Path(__file__).resolve().parents[2]
SEASONS = {"2026": ROOT / "example_season", "2025": ROOT / "example_season" / ".season-2025"}
#: Bags whose story is an exception, written out whole: a photographed tag, the storm, tags that read alike.
WRITTEN_OUT = {"B26-001", "B26-038", "B26-051", "B26-054", "B26-064", "B26-121", "B26-125"}

#: Samples with a story: a faint stain, one repeated by another method, one told by telephone, a pool.
SAMPLES_APART = {"S26-028", "S26-043", "S26-044", "S26-047"}


#: Tables that came later and tell what nothing told before.
SINCE = {"submissions", "materials", "compost", "scouting", "water_tests", "visits", "recalls"}


def count(value: Any) -> int:
    """The scalars that somebody wrote: lists and mappings are worth what they hold."""
    if isinstance(value, dict):
        return sum(count(child) for child in value.values())
    return sum(count(child) for child in value) if isinstance(value, list) else 1


def tables(folder: Path) -> Iterator[tuple[str, Any]]:
    """Each table of each file of one season, values kept as text."""
    for path in sorted(folder.rglob("*.yaml")):
        if not any(part.startswith(".") for part in path.relative_to(folder).parts):
            yield from yaml.load(path.read_text(encoding="utf-8"), Loader=yaml.CBaseLoader).items()


def records(folder: Path, name: str) -> list[dict[str, Any]]:
    """All records of one table."""
    return [record for table, found in tables(folder) if table == name for record in found]


def own_values(folder: Path, table: str) -> dict[str, int]:
    """How many values stand in the record of each bag (or sample) itself."""
    key = {"bagging": "bag", "screening": "sample"}[table]
    return {record[key]: count(record) for record in records(folder, table)}


def shared_values(folder: Path, table: str) -> dict[str, Fraction]:
    """What each bag or sample costs besides: an equal part of every round and letter on it, and of an
    exception only where it is about that bag or sample.
    """
    season, errors = read_season(folder)
    assert season is not None
    assert () == errors
    members = RoundMembers(season)
    key = {"bagging": "bag", "screening": "sample"}[table]
    names = season.table(table)[key].tolist()
    shares: Counter[str] = Counter()
    for kind, identifier in (("rounds", "round"), ("letters", "letter")):
        written = {record[identifier]: record for record in records(folder, kind)}
        frame = season.table(kind)
        for row in range(len(frame)):
            entry = plain_record(frame, row)
            about, covered = members.covered(kind, entry)
            if about != table:
                continue
            whole = written[entry[identifier]]
            parts = [({**whole, "exceptions": []}, covered)]
            parts += [
                (one, members.rows_of(table, one.get("about") or one["samples"]))
                for one in whole.get("exceptions", ())
            ]
            for part, rows in parts:
                shares.update({names[one]: Fraction(count(part), len(rows)) for one in rows})
    return shares


@pytest.fixture(scope="module")
def result() -> Result:
    """What the example comes to."""
    return examine(SEASONS["2026"], date(2026, 12, 31))


def without_findings(result: Result, table: str, names: Iterable[str]) -> list[str]:
    """Those of which no finding speaks and which aren't written out as a story of their own."""
    spoken_of = {gap.id for gap in result.gaps if gap.table == table}
    return [name for name in names if name not in spoken_of | WRITTEN_OUT]


def picked(folder: Path) -> list[str]:
    """The bags whose fruit a picking took."""
    return [name for harvest in records(folder, "harvests") for name in harvest["bags"]]


def mean(values: Iterable[Fraction]) -> Fraction:
    """Their mean, exactly."""
    every = list(values)
    return sum(every, Fraction(0)) / len(every)


def test_a_clean_bag_takes_five_values_at_most(result):
    """Its own record has two to four. With its part of each walk (put on, looked at, taken off) it is 4.8
    on the whole. Written bag by bag, a record of January to March had 17.6, and 15.7 all year.
    """
    own, shared = own_values(SEASONS["2026"], "bagging"), shared_values(SEASONS["2026"], "bagging")
    names = without_findings(result, "bagging", picked(SEASONS["2026"]))

    assert 117 == len(names)
    assert 4 == max(own[name] for name in names)
    assert Fraction(48, 10) == round(mean(own[name] + shared[name] for name in names), 1)


def test_a_clean_sample_takes_three_values_at_most(result):
    """Its own record has three: number, tree, stalk. With its part of the walk and of the letter it
    is 4.6 on the whole: a letter of thirteen values on eight leaves is 1.6 for each. Written one by one, a
    record of January had 15.2.
    """
    own, shared = own_values(SEASONS["2026"], "screening"), shared_values(SEASONS["2026"], "screening")
    lettered = [name for name in own if name in shared]
    names = [name for name in without_findings(result, "screening", lettered) if name not in SAMPLES_APART]

    assert 66 == len(names)
    assert 3 == max(own[name] for name in names)
    assert Fraction(46, 10) == round(mean(own[name] + shared[name] for name in names), 1)


def test_the_season_before_takes_as_little():
    """Two values a bag and three a sample, of 15.8 and 15 when each was written out."""
    for table, most in (("bagging", 2), ("screening", 3)):
        assert {most} == set(own_values(SEASONS["2025"], table).values())


def test_the_whole_year_is_written_in_three_fifths():
    """5,586 values before rounds and letters, and 1,125 for the season before: what could be told then."""
    whole = {
        year: sum(count(found) for table, found in tables(folder) if table not in SINCE)
        for year, folder in SEASONS.items()
    }

    assert 3500 > whole["2026"]
    assert 700 > whole["2025"]


def test_every_other_bag_is_written_out_for_its_story():
    """What a round says of them too, they say themselves, with what was otherwise."""
    own = own_values(SEASONS["2026"], "bagging")

    assert WRITTEN_OUT == {name for name, values in own.items() if values > 5}
