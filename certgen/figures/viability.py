"""How germination goes down from test to test of one lot: a line with limits, and how far the tests bear it.

On the probit scale, on which seed that dies at normally distributed ages falls in a straight line (Ellis and
Roberts 1980, from memory). The line is fitted by maximum likelihood, as in Finney's probit analysis. It is a
line through tests and no forecast that any law knows: a warm month changes it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction
from statistics import NormalDist
from typing import TYPE_CHECKING, NamedTuple

from certgen.figures.arguments import Number, check_confidence, check_count, check_positives, exact
from certgen.figures.distributions import chi_square_above, normal_quantile, t_quantile

if TYPE_CHECKING:
    from collections.abc import Sequence

LEAST_TESTS = 3
"""A line through two points says nothing of how sure it is."""
FEW_TESTS = 5
"""Fewer tests than this are said to be few (assumed; no source was read)."""
BEYOND = Fraction(1, 2)
"""How far beyond the last test a line is read, as a share of the days that the tests cover (assumed)."""
_HETEROGENEOUS = 0.05
_MOST_TESTS = 1_000
_MOST_DAYS = 36_525
_STEPS = 500
_SETTLED = 1e-9
_NOISE = 1e-7
_TINY = 1e-290
_UNSETTLED = "No line settles through these tests: they leap too far in too few days."
_NORMAL = NormalDist()


class Germinated(NamedTuple):
    """One germination test: its day, the normal seedlings counted, and the seeds that were sown."""

    day: date
    grown: int
    seeds: int


@dataclass(frozen=True, slots=True)
class Decline:
    """The line probit(share) = level + slope · days since `first`, with what its limits rest on.

    `variances` are those of level and slope and their covariance, all on that scale and in days: those of
    drawing seeds, times `spread` where the tests stray from the line by more (Pearson's chi-square over its
    degrees of freedom, where its chance is below 5 %; Finney 1971, from memory). `deviate` is how many
    standard errors a one-sided limit at `confidence` lies away: the normal's, or Student's where they stray.
    """

    first: date
    last: date
    tests: int
    level: float
    slope: float
    variances: tuple[float, float, float]
    spread: float
    deviate: float
    confidence: float

    @property
    def few(self) -> bool:
        """Whether there are so few tests that it has to be said."""
        return self.tests < FEW_TESTS

    @property
    def shown(self) -> bool:
        """Whether the tests show a decline at all: the slope's upper limit lies below nothing."""
        return self.slope + self.deviate * math.sqrt(self.variances[1]) < 0

    @property
    def bears_until(self) -> date:
        """The last day for which the line is read."""
        beyond = math.floor(BEYOND * (self.last - self.first).days)
        return self.last + timedelta(min(beyond, (date.max - self.last).days - 1))


@dataclass(frozen=True, slots=True)
class ShareOnDay:
    """The share of seed that germinates on a day, by the line, between two one-sided limits."""

    estimate: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Fall:
    """When germination falls below a share: at the earliest, by the lower limit, and likeliest, by the line.

    None where that isn't until `until`, beyond which the tests bear nothing.
    """

    earliest: date | None
    likeliest: date | None
    until: date


def fit_decline(tests: Sequence[Germinated], confidence: float = 0.95) -> Decline:
    """The line through the germination tests of one lot, with what its limits need.

    Maximum likelihood by Newton's steps; Fisher's weights n·φ²/(p·q) for the limits. Standard. Raises
    ValueError for tests of fewer than three days, or of fewer than two on which some seed grew and some did
    not, and for tests a hundred years apart.
    """
    check_confidence(confidence)
    check_count(len(tests), "The number of tests", most=_MOST_TESTS)
    points = [(test.day, *check_positives(test.grown, test.seeds)) for test in tests]
    days = sorted({day for day, _, _ in points})
    if len(days) < LEAST_TESTS:
        raise ValueError("A line needs germination tests of three days at least.")
    both = [_is_mixed([(grown, seeds) for at, grown, seeds in points if at == day]) for day in days]
    if sum(both) < 2:
        raise ValueError(
            "A line needs tests of two days at least in which some seed grew and some did not: without them"
            " it could be as steep as you like."
        )
    grown, seeds = sum(grown for _, grown, _ in points), sum(seeds for _, _, seeds in points)
    span = check_count((days[-1] - days[0]).days, "The days between the tests", most=_MOST_DAYS)
    scaled = [((day - days[0]).days / span, grown, seeds) for day, grown, seeds in points]
    level, slope, information = _fit(scaled, _NORMAL.inv_cdf(grown / seeds))
    spread, deviate = _judge_spread(scaled, level, slope, confidence)
    weight, moment, square = information
    determinant = weight * square - moment**2
    if determinant <= 0:
        raise ValueError(_UNSETTLED)
    variances = (
        spread * square / determinant,
        spread * weight / determinant / span**2,
        -spread * moment / determinant / span,
    )
    return Decline(
        days[0], days[-1], len(points), level, slope / span, variances, spread, deviate, confidence
    )


def _below(deviate: float) -> float:
    """The chance of a standard normal value below this; exact in the tails, where 1 + erf is nothing."""
    return math.erfc(-deviate / math.sqrt(2)) / 2


def _is_mixed(tests: Sequence[tuple[int, int]]) -> bool:
    """Whether some seed of a day's tests grew and some did not."""
    return 0 < sum(grown for grown, _ in tests) < sum(seeds for _, seeds in tests)


_Point = tuple[float, int, int]


def _fit(points: Sequence[_Point], level: float) -> tuple[float, float, tuple[float, float, float]]:
    """Level and slope of the likeliest line, and its information, as _inform has it."""
    slope, likeliest = 0.0, _likelihood(points, level, 0.0)
    for _ in range(_STEPS):
        curve, pull, turn = _differentiate(points, level, slope)
        determinant = curve[0] * curve[2] - curve[1] ** 2
        up = (curve[2] * pull - curve[1] * turn) / determinant
        on = (curve[0] * turn - curve[1] * pull) / determinant
        if max(abs(up), abs(on)) < _SETTLED:
            return level, slope, _inform(points, level, slope)
        # No test moves by more than a standard deviation at once, and a step too far is halved; noise in the
        # last digits is no step too far.
        step = min(1.0, 1 / (abs(up) + abs(on)))
        while (found := _likelihood(points, level + step * up, slope + step * on)) < likeliest - _NOISE:
            step /= 2
        level, slope, likeliest = level + step * up, slope + step * on, found
    raise ValueError(_UNSETTLED)


def _inform(points: Sequence[_Point], level: float, slope: float) -> tuple[float, float, float]:
    """Fisher's information: weights n·φ²/(p·q), summed by themselves, times x and times x²."""
    sums = [0.0] * 3
    for x, _, seeds in points:
        probit = level + slope * x
        weight = seeds * _fall_off(probit) * _fall_off(-probit)
        for power in range(3):
            sums[power] += weight * x**power
    return sums[0], sums[1], sums[2]


def _differentiate(
    points: Sequence[_Point], level: float, slope: float
) -> tuple[tuple[float, float, float], float, float]:
    """How the likelihood bends, as sums like those of _inform, and how it pulls at level and slope."""
    sums, pulls = [0.0] * 3, [0.0] * 2
    for x, grown, seeds in points:
        probit = level + slope * x
        alive, dead = _fall_off(probit), _fall_off(-probit)
        pull = grown * alive - (seeds - grown) * dead
        bend = grown * alive * (alive + probit) + (seeds - grown) * dead * (dead - probit)
        for power in range(3):
            sums[power] += bend * x**power
        pulls[0] += pull
        pulls[1] += pull * x
    return (sums[0], sums[1], sums[2]), pulls[0], pulls[1]


def _fall_off(probit: float) -> float:
    """The normal density over the chance below it; far below nothing by the tail's first terms."""
    below = _below(probit)
    return _NORMAL.pdf(probit) / below if below > _TINY else -probit - 1 / probit


def _likelihood(points: Sequence[_Point], level: float, slope: float) -> float:
    total = 0.0
    for x, grown, seeds in points:
        probit = level + slope * x
        total += grown * _log_below(probit) + (seeds - grown) * _log_below(-probit)
    return total


def _log_below(deviate: float) -> float:
    """The logarithm of the chance below a deviate; far below nothing by the tail's first term."""
    below = _below(deviate)
    if below > _TINY:
        return math.log(below)
    return -deviate * deviate / 2 - math.log(-deviate * math.sqrt(2 * math.pi))


def _judge_spread(
    points: Sequence[_Point], level: float, slope: float, confidence: float
) -> tuple[float, float]:
    """By how much the tests stray more than seeds drawn by chance, and the deviate for limits then."""
    freedom = len(points) - 2
    squares = 0.0
    for x, grown, seeds in points:
        share = _below(level + slope * x)
        squares += (grown - seeds * share) ** 2 / max(seeds * share * (1 - share), 1e-300)
    if chi_square_above(squares, freedom) < _HETEROGENEOUS:
        return squares / freedom, abs(t_quantile(confidence, freedom))
    return 1.0, normal_quantile(confidence)


def share_on(decline: Decline, day: date) -> ShareOnDay:
    """The share that germinates on a day by the line, each limit one-sided at the line's confidence.

    Raises ValueError before the first test and beyond what the tests bear.
    """
    if not decline.first <= day <= decline.bears_until:
        raise ValueError(
            f"Tests from {decline.first} to {decline.last} bear a line from {decline.first} to"
            f" {decline.bears_until}, and {day} lies outside."
        )
    since = (day - decline.first).days
    own, of_slope, together = decline.variances
    probit = decline.level + decline.slope * since
    error = decline.deviate * math.sqrt(max(0.0, own + since * (2 * together + since * of_slope)))
    return ShareOnDay(_below(probit), _below(probit - error), _below(probit + error))


def find_fall(decline: Decline, share: Number) -> Fall:
    """When germination falls below a share (0 to 1) and stays there, as far as the tests bear.

    Raises ValueError for a share outside 0 to 1.
    """
    least = exact(share)
    if not 0 < least < 1:
        raise ValueError(f"The share to stay above must lie above 0 and below 1, and is {float(least):g}.")
    wanted = float(least)
    days = (decline.bears_until - decline.first).days
    earliest: date | None = None
    likeliest: date | None = None
    # From the last day back: where the limits are wide at first and narrow later, the later fall counts.
    for since in range(days, -1, -1):
        day = decline.first + timedelta(since)
        found = share_on(decline, day)
        if found.low >= wanted:
            break
        earliest = day
        if found.estimate < wanted and (since == days or likeliest == day + timedelta(1)):
            likeliest = day
    return Fall(earliest, likeliest, decline.bears_until)
