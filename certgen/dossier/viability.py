"""How each lot's germination went down over its own tests, of all seasons on record, as far as they bear."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from certgen.figures.germination import compare_range
from certgen.figures.viability import (
    BEYOND,
    Decline,
    Fall,
    Germinated,
    ShareOnDay,
    find_fall,
    fit_decline,
    share_on,
)
from certgen.records.rows import plain_rows
from certgen.rules.seed.departures import tests_of
from certgen.rules.seed.germination import expect_germination
from certgen.rules.wording import count, day, join, name

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import date

    from certgen.examination import Result
    from certgen.standards import Practice

NO_FORECAST: Final = "A line through the tests on record, no forecast: a warm month in the store changes it."
_CONFIDENCE: Final = 0.95


@dataclass(frozen=True, slots=True)
class GerminationTest:
    """One test behind a line: its number, day, and the normal seedlings of the seeds that were sown."""

    test: str
    tested: Germinated
    ways: tuple[str, ...]

    @property
    def percent(self) -> float:
        """The germination that it found, in per cent."""
        return 100 * self.tested.grown / self.tested.seeds


@dataclass(frozen=True, slots=True)
class LotDecline:
    """A lot's germination tests on end, and the line through them.

    `left_out` are tests whose replicates lie further apart than chance allows, which count for nothing.
    `alike` says whether all that count were made in one way, in one place. `decline` is None where no line
    can be drawn, and `fault` says why. `now` is the share by the line on the day of the examination, None
    where the tests don't bear that far; `fall` when it falls below what the trade expects (`least`), which is
    no standard.
    """

    lot: str
    tests: tuple[GerminationTest, ...]
    left_out: tuple[str, ...]
    alike: bool
    decline: Decline | None
    fault: str
    now: ShareOnDay | None
    least: Practice | None
    fall: Fall | None


def follow_germination(result: Result, only: str | None = None) -> dict[str, LotDecline]:
    """The decline of each lot with germination tests on two days at least, by lot; or of one lot `only`."""
    tests: dict[str, list[GerminationTest]] = {}
    left_out: dict[str, list[str]] = {}
    for lot, test, counts in _list_tests(result, only):
        if counts is None:
            left_out.setdefault(lot, []).append(test)
        else:
            tests.setdefault(lot, []).append(counts)
    return {
        lot: _follow(result, lot, tuple(own), tuple(left_out.get(lot, ())))
        for lot, own in tests.items()
        if len({one.tested.day for one in own}) > 1
    }


def _list_tests(result: Result, only: str | None) -> Iterator[tuple[str, str, GerminationTest | None]]:
    """Lot, test, and what it counted; None where its replicates contradict one another."""
    import pandas as pd

    frame = tests_of(result.case, "germination")
    frame = frame if only is None else frame[frame["lot"] == only]
    columns = ("lot", "test", "date", "replicates", "per_replicate", "temperature", "substrate", "laboratory")
    frame = frame[frame["lot"].notna() & (frame["date"] <= pd.Timestamp(result.on))]
    for lot, test, when, counts, seeds, *ways in plain_rows(frame, *columns):
        if not counts or not seeds or max(counts) > seeds:
            continue
        if len(counts) > 1 and not compare_range(counts, seeds).passes:
            yield lot, test, None
        else:
            told = tuple(way or "" for way in ways)
            yield lot, test, GerminationTest(test, Germinated(when, sum(counts), seeds * len(counts)), told)


def _follow(
    result: Result, lot: str, tests: tuple[GerminationTest, ...], left_out: tuple[str, ...]
) -> LotDecline:
    least = expect_germination(result.case, lot)
    alike = len({one.ways for one in tests}) == 1
    told: dict[str, Any] = {"lot": lot, "tests": tests, "left_out": left_out, "alike": alike, "least": least}
    try:
        decline = fit_decline([one.tested for one in tests], _CONFIDENCE)
    except ValueError as error:
        return LotDecline(**told, decline=None, fault=str(error), now=None, fall=None)
    now = share_on(decline, result.on) if result.on <= decline.bears_until else None
    fall = None
    if least is not None and least.low is not None and 0 < least.low < 100:
        fall = find_fall(decline, least.low / 100)
    return LotDecline(**told, decline=decline, fault="", now=now, fall=fall)


def tell_tests(one: LotDecline) -> str:
    """`85 % on 25 August 2025, 82 % on 9 February 2026`."""
    return ", ".join(f"{test.percent:.3g} % on {day(test.tested.day)}" for test in one.tests)


def tell_decline(one: LotDecline) -> str:
    """Whether the tests show a decline, and how sure they are of it."""
    if one.decline is None:
        return f"No line is drawn. {one.fault}"
    shown = "a decline" if one.decline.shown else "no decline beyond what chance makes of so many seeds"
    said = [f"{count(one.decline.tests, 'test').capitalize()} show {shown}"]
    if one.decline.few:
        said.append("they are few")
    if one.decline.spread > 1:
        said.append("they stray from the line more than chance makes them, which the limits hold")
    if not one.alike:
        said.append("they were not all made in one way and place")
    if one.left_out:
        said.append(f"{name('tests', one.left_out)}, whose replicates lie too far apart, left out")
    return "; ".join(said) + "."


def tell_fall(one: LotDecline) -> str:
    """When germination falls below what the trade expects, at the earliest and by the line."""
    if one.decline is None or one.fall is None or one.least is None:
        return ""
    fall, least = one.fall, one.least
    bears = f"the tests bear no line beyond {day(fall.until)}"
    likeliest = (
        f"likeliest from {_on(fall.likeliest, one)}" if fall.likeliest else f"likeliest later: {bears}"
    )
    earliest = f"at the earliest from {_on(fall.earliest, one)}" if fall.earliest else ""
    when = join([part for part in (earliest, likeliest) if part])
    return f"Below {least.low:g} %, which the trade expects ({least.mark}): {when} (one-sided 95 %)."


def _on(when: date, one: LotDecline) -> str:
    """A day; the first of the tests' days stands for any before it."""
    first = one.tests[0].tested.day
    return "the first test on" if when <= first else day(when)


def tell_bearing() -> str:
    """How far beyond the last test a line is read, and on whose word."""
    return (
        f"A line is read no further beyond the last test than {float(BEYOND):g} of the days that the tests"
        " cover (assumed; no source was read)."
    )
