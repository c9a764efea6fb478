"""Plants faults in clean seasons and holds what is found against what must be found."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from random import Random
from typing import TYPE_CHECKING, NamedTuple

from generator import examine_truth, grow_season
from planted import FAULTS
from plot import Expected, Plot, Unsuited
from truths import KEYS, Truth

if TYPE_CHECKING:
    from certgen.examination import Result
    from certgen.rules.findings import Gap

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
        following = set()
        told = [gap for gap in result.gaps if not _is_noted(gap, truth)]
        places = {place for gap in told for place in (gap.place, *gap.others)}
        where = result.locate(places)
        for gap in told:
            for place in (gap.place, *gap.others):
                line = where[place][0] if place in where else None
                steps = tuple(place.path[2:] if gap.table != "season" else place.path[1:])
                table, name = gap.table, gap.id
                if place.path and gap.table in truth.tables and not place.file.startswith("../"):
                    # A gap of several records names each of them.
                    record = truth.tables[gap.table][int(place.path[1])]
                    name = str(record[KEYS[gap.table]])
                    assert name in gap.ids
                at = following if _follows(gap, result) else found
                at.add(Found(gap.rule, table, name, steps, place.file, line))
        wanted = frozenset(_place(plot, one, lines) for one in expected)
        return Judgement(number, tuple(slugs), wanted, frozenset(found | following & wanted))
    raise Unsuited(f"no season has a place for {', '.join(slugs)}")


#: What follows from a fault wherever doubtful seed was sold or sown, beside the gap of the fault itself.
_CONSEQUENCES = {"suspect-seed-left", "planting-seed-unproven"}


def _is_noted(gap: Gap, truth: Truth) -> bool:
    """Whether it is advice that the season carried before anything was planted in it."""
    return all((gap.rule, one) in truth.noted for one in gap.ids)


def _follows(gap: Gap, result: Result) -> bool:
    """Whether a gap is what a planted fault makes of seed that was sold or sown: its lot is in doubt indeed.

    Where it has to be found, a fault says so; elsewhere it may be.
    """
    if gap.place.file.startswith("../") and gap.rule == "lot-without-source":
        # The lot of an earlier year that was planted for its number alone: what is said of it is true.
        return True
    lots = [result.lots[lot].standing for lot in gap.lots if lot in result.lots]
    return gap.rule in _CONSEQUENCES and bool(lots) and "traced" not in lots


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
