"""When the results were in that had cleared the parents of each lot's seed."""

from __future__ import annotations

from bisect import bisect_right
from datetime import date
from operator import itemgetter
from typing import TYPE_CHECKING, Any, Final

from certgen.rules.samples.soundness import find_sound

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from certgen.rules.case import Case

#: Later than any day: of a result of which nothing says when it came.
NEVER: Final = date(2999, 12, 31)
#: Days in order, and from each on the day on which results were in for every event; None while some weren't.
_Steps = tuple[list[date], list[date | None]]
_NO_STEPS: Final[_Steps] = ([date.min], [None])


def list_cleared(case: Case) -> dict[str, date]:
    """By lot, the day on which results that clear all of its parents were in, NEVER where nothing says when.
    Through blended lots; a lot without a bag whose parents are cleared is left out."""
    picked, processed, packed = case.joined("picked"), case.joined("processed"), case.joined("packed")
    of_harvest = _latest(picked.values("harvest_row"), picked.values("bag"), _in_hand(case))
    of_batch = _latest(processed.values("batch"), processed.values("harvest_row"), of_harvest)
    found = _latest(packed.values("lot"), packed.values("batch"), of_batch)
    into: dict[str, list[str]] = {}
    for _, lot, source in packed.rows("lot", "source_lot", where=packed.known("source_lot")):
        into.setdefault(source, []).append(lot)
    # The latest day first, so that no lot is told twice.
    for source in sorted(found, key=found.__getitem__, reverse=True) if into else ():
        ahead = [source]
        while ahead:
            for lot in into.get(ahead.pop(), ()):
                if found.get(lot, date.min) < found[source]:
                    found[lot] = found[source]
                    ahead.append(lot)
    return found


def _in_hand(case: Case) -> dict[str, date]:
    """By bag the day on which the results were in that had cleared its parents before it was put on."""
    bags, steps = case.columns("bagging"), _list_steps(case)
    covered = bags.values("covered")
    found: dict[str, date] = {}
    for parent in map(bags.values, ("tree", "pollen_parent")):
        for bag, row in bags.first("bag").items():
            days, told = steps.get(parent[row], _NO_STEPS)
            when = told[bisect_right(days, covered[row] or date.min) - 1]
            if when is not None:
                found[bag] = max(when, found.get(bag, when))
    return found


def _list_steps(case: Case) -> dict[str, _Steps]:
    """By tree what leaves that were taken until a day had shown, once the results were in."""
    samples, methods = case.joined("samples"), case.profile.methods
    reported = case.columns("screening").values("reported", samples["row"])
    wanted = set(case.events_of_concern)
    taken: dict[str, list[tuple[Any, ...]]] = {}
    for row, *sample in samples.rows("collected", "tree", "method", "targets", where=find_sound(case)):
        # What a result rules out is known from the day of its letter, not from that of its leaf.
        taken.setdefault(sample[1], []).append((*sample, reported[row] or NEVER))
    steps: dict[str, _Steps] = {}
    for tree, told in taken.items():
        days, known = steps[tree] = [date.min], [None]
        first: dict[str, date] = {}
        for collected, _, method, targets, when in sorted(told, key=itemgetter(0)):
            sees = methods[method].sees(targets) & wanted if method in methods else set()
            # Where no event is to be ruled out, any result is enough.
            for event in sees if wanted else ("",):
                first[event] = min(when, first.get(event, when))
            days.append(collected)
            known.append(max(first.values()) if len(first) == max(1, len(wanted)) else None)
    return steps


def _latest(names: Iterable[Any], parts: Iterable[Any], days: Mapping[Any, date]) -> dict[Any, date]:
    """By name the latest of the days of its parts."""
    found: dict[Any, date] = {}
    for name, part in zip(names, parts, strict=True):
        when = days.get(part)
        if when is not None and found.get(name, date.min) < when:
            found[name] = when
    return found
