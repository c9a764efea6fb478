"""What a test of a lot's own seed for transgenes can bear, by its own record and what stands beside it.

A negative bounds the share of seed that carries something only if the run was sound, one seed in a pool was
enough to be found, the targets are those of an event to be ruled out, and the sample is of this seed. Silence
on any of these bounds nothing either.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Any, Final

from certgen.figures.arguments import exact
from certgen.figures.pools import largest_pool
from certgen.records.nouns import count
from certgen.records.quantities import parse_quantity
from certgen.rules.wording import day, join

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from datetime import date

    from certgen.rules.case import Case

#: The figure of the crop that stands in for a detection limit that nobody wrote down.
POOL_LIMIT: Final = "seeds_per_pool_max"
_LEAST_LIMIT: Final = Fraction(1, 10**9)
_OF_CONTROLS: Final = {
    "failed": "its controls failed, so it says nothing",
    "not run": "its controls were not run, so it says nothing",
}


@dataclass(frozen=True, slots=True)
class Assay:
    """One test of a lot's seed in pools, and what it can bear.

    `doubts` are the reasons, in words that follow "no bound:", why a negative of it bounds nothing; empty if
    it does. `seen` and `unseen` are the events to be ruled out that carry a target and that don't. `limit` is
    the assay's detection limit as a share of seeds, None where none is known; `limit_source` is its source.
    `sampling` says in a sentence who drew the sample, when and how, as far as it is written.
    """

    test: str
    targets: tuple[str, ...]
    seen: tuple[str, ...]
    unseen: tuple[str, ...]
    limit: Fraction | None
    limit_source: str
    sampling: str
    doubts: tuple[str, ...]

    @property
    def largest_pool(self) -> int | None:
        """The most seeds in a pool among which the assay finds one; None where no limit is known."""
        return None if self.limit is None else largest_pool(self.limit)


def judge_assay(case: Case, record: Mapping[str, Any]) -> Assay:
    """What a transgene test can bear; `record` as the season has it."""
    targets = tuple(record.get("targets") or ())
    sees = events_seen(case, targets)
    limit, source = find_limit(case, record)
    found = Assay(
        test=record["test"],
        targets=targets,
        seen=tuple(event for event in case.events_of_concern if event in sees),
        unseen=tuple(event for event in case.events_of_concern if event not in sees),
        limit=limit,
        limit_source=source,
        sampling=_tell_sampling(record),
        doubts=(),
    )
    doubts = (
        *_doubt_run(record),
        *_doubt_pool(record, found),
        *_doubt_targets(found),
        *_doubt_sample(case, record),
    )
    return Assay(found.test, targets, found.seen, found.unseen, limit, source, found.sampling, doubts)


def events_seen(case: Case, targets: tuple[str, ...]) -> frozenset[str]:
    """The events that carry one of the targets, by whichever of the crop's methods looks for it by name."""
    methods = [method for method in case.profile.methods.values() if method.needs_targets]
    return frozenset().union(*(method.sees(targets) for method in methods))


def find_limit(case: Case, record: Mapping[str, Any]) -> tuple[Fraction | None, str]:
    """The assay's detection limit as a share of seeds, and its source: the record, else the crop's figure."""
    told = record.get("detection_limit")
    if told is not None:
        # Exactly as written: one in 250 is what 0.4 % means.
        share = exact(parse_quantity(told, "percent").si) / 100
        return (share if _LEAST_LIMIT <= share <= 1 else None), f"of test {record['test']}"
    usual = case.practice(POOL_LIMIT)
    if usual is None or usual.high is None or usual.high < 1:
        return None, ""
    source = f"the crop's figure: {usual.source[0].lower()}{usual.source[1:]} ({usual.mark})"
    return Fraction(1, int(usual.high)), source


def _doubt_run(record: Mapping[str, Any]) -> Iterator[str]:
    controls = record.get("controls")
    if controls != "passed":
        yield _OF_CONTROLS.get(controls or "", "nothing is written about its controls")


def _doubt_pool(record: Mapping[str, Any], assay: Assay) -> Iterator[str]:
    seeds = int(record["seeds_per_pool"])
    if assay.limit is None:
        told = record.get("detection_limit")
        yield (
            f"a detection limit of {told} can't be right"
            if told
            else "no detection limit of the assay is known"
        )
    elif seeds * assay.limit > 1:
        yield (
            f"one in a pool of {count(seeds, 'seed')} is {100 / seeds:.3g} %, and the assay finds"
            f" {float(100 * assay.limit):.3g} % and more (its limit, {assay.limit_source})"
        )


def _doubt_targets(assay: Assay) -> Iterator[str]:
    if not assay.seen:
        events = (
            f"the events to be ruled out ({join(assay.unseen)})"
            if assay.unseen
            else "an event to be ruled out"
        )
        yield f"{join(assay.targets, 'or') or 'what it looked for'} is known of none of {events}"


def _doubt_sample(case: Case, record: Mapping[str, Any]) -> Iterator[str]:
    drawn = record.get("sampled")
    if drawn is None:
        yield "on which day its sample was drawn isn't written"
    elif drawn > record["date"]:
        yield f"its sample is said to be drawn on {day(drawn)}, after the test"
    else:
        later = [came for came in _came_in(case, str(record.get("lot", ""))) if came > drawn]
        if later:
            yield f"its sample was drawn on {day(drawn)}, and seed came into the lot on {day(max(later))}"


def _came_in(case: Case, lot: str) -> Iterator[date]:
    """The days on which seed of a lot was taken out of its fruit, blended or bought in, or received."""
    parts, batches, moves = case.joined("packed"), case.columns("batches"), case.columns("movements")
    dates = batches.values("date")
    for _, batch, packed in parts.rows("batch", "packed", where=parts["lot"] == lot):
        row = batches.first("batch").get(batch)
        yield from filter(None, [packed if batch is None else None if row is None else dates[row]])
    received = (moves["lot"] == lot) & (moves["kind"] == "received")
    yield from filter(None, moves.values("date", received))


def _tell_sampling(record: Mapping[str, Any]) -> str:
    drawn, by, how = (record.get(field) for field in ("sampled", "sampled_by", "sampling"))
    said = "drawn" + (f" on {day(drawn)}" if drawn else "") + (f" by {by}" if by else "")
    lacking = [word for word, told in (("when", drawn), ("by whom", by), ("how", how)) if not told]
    told = f": {how}" if how else ""
    silent = f"; {join(lacking)} isn't written" if lacking else ""
    return f"{said}{told}{silent}"
