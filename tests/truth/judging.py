"""Plants faults in clean seasons and holds what is found against what must be found."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from random import Random
from typing import NamedTuple

from generator import examine_truth, grow_season
from planted import FAULTS
from plot import Expected, Plot, Unsuited
from truths import KEYS

#: Seasons tried before a fault is given up as having no place in any.
TRIES = 400


class Found(NamedTuple):
    """A gap's place: rule, table and number of the record, field, file and line."""

    rule: str
    table: str
    id: str
    steps: tuple[str | int, ...]
    file: str
    line: int | None


@dataclass(frozen=True)
class Judgement:
    """What was expected, what was found, of which seed, with which faults."""

    seed: int
    slugs: tuple[str, ...]
    expected: frozenset[Found]
    found: frozenset[Found]

    @property
    def missed(self) -> frozenset[Found]:
        """Places at which nothing was found."""
        return self.expected - self.found

    @property
    def extra(self) -> frozenset[Found]:
        """Places at which nothing is wrong."""
        return self.found - self.expected


def judge(slugs: Sequence[str], seed: int, *, crop: str | None = None) -> Judgement:
    """Plants the faults in the first season from the seed on that has a place for each."""
    for number in range(seed, seed + TRIES):
        random = Random(number)
        truth = grow_season(random, crop=crop)
        plot = Plot(truth, random)
        try:
            expected = [one for slug in slugs for one in FAULTS[slug](plot)]
        except Unsuited:
            continue
        except KeyError:
            # One of several faults has taken away what another looks at.
            if len(slugs) == 1:
                raise
            continue
        result, lines = examine_truth(truth)
        found = set()
        places = {place for gap in result.gaps for place in (gap.place, *gap.others)}
        where = result.locate(places)
        for gap in result.gaps:
            for place in (gap.place, *gap.others):
                line = where[place][0] if place in where else None
                steps = tuple(place.path[2:] if gap.table != "season" else place.path[1:])
                table, name = gap.table, gap.id
                if place.path and gap.table in KEYS:
                    # A gap of several records names each of them.
                    record = truth.tables[gap.table][int(place.path[1])]
                    name = str(record[KEYS[gap.table]])
                    assert name in gap.ids
                found.add(Found(gap.rule, table, name, steps, place.file, line))
        told = frozenset(_place(plot, one, lines) for one in expected)
        return Judgement(number, tuple(slugs), told, frozenset(found))
    raise Unsuited(f"no season has a place for {', '.join(slugs)}")


def _place(plot: Plot, one: Expected, lines: dict[tuple[str | int, ...], tuple[str, int]]) -> Found:
    """The expected place, with the line on which it was written; a missing field is at its record."""
    if one.file:
        return Found(one.rule, one.table, one.file.partition("/")[2], one.steps, one.file, None)
    path: tuple[str | int, ...] = (one.table, *one.steps)
    name = str(plot.truth.season["label"])
    if one.record is not None:
        at = next(at for at, record in enumerate(plot.truth.tables[one.table]) if record is one.record)
        path = (one.table, at, *one.steps)
        name = str(one.record[KEYS[one.table]])
    while path not in lines:
        path = path[:-1]
    return Found(one.rule, one.table, name, one.steps, *lines[path])


def pairs(random: Random) -> Iterator[tuple[str, str]]:
    """Two different faults, again and again."""
    while True:
        first, second = random.sample(sorted(FAULTS), 2)
        yield first, second
