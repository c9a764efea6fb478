"""Decline of germination: a probit line against a reference library, its limits, and how far it is read."""

from __future__ import annotations

import math
from datetime import date, timedelta

import numpy as np
import pytest
import statsmodels.api as sm
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy import optimize, stats

from certgen.figures.viability import FEW_TESTS, Germinated, find_fall, fit_decline, share_on

FIRST = date(2025, 1, 1)
FALLING = ((0, 360, 400), (120, 340, 400), (240, 310, 400), (400, 250, 400))


def measured(points):
    """Tests from (days since the first of January, grown, seeds)."""
    return [Germinated(FIRST + timedelta(since), grown, seeds) for since, grown, seeds in points]


@st.composite
def declines(draw):
    """Points of three to eight days, mixed ones among them, that a line fits."""
    days = draw(st.lists(st.integers(0, 900), min_size=3, max_size=8, unique=True))
    points = []
    for since in sorted(days):
        seeds = draw(st.sampled_from([50, 100, 200, 400]))
        points.append((since - min(days), draw(st.integers(1, seeds - 1)), seeds))
    return tuple(points)


@given(declines())
def test_statsmodels_fits_the_same_line(points):
    """Level, slope, their standard errors and Pearson's chi-square of a binomial model with a probit link."""
    found = fit_decline(measured(points))
    days, grown, seeds = (np.array(column, dtype=float) for column in zip(*points, strict=True))
    assume(len(set(grown / seeds)) > 1)  # all alike, it warns of a perfect fit
    model = sm.GLM(
        np.column_stack([grown, seeds - grown]),
        sm.add_constant(days / days.max()),
        family=sm.families.Binomial(link=sm.families.links.Probit()),
    ).fit(tol=1e-12, maxiter=200)
    assume(model.converged)  # where tests stray far from any line, its steps go to and fro
    level, slope = model.params
    spread = model.pearson_chi2 / (len(points) - 2)
    strays = stats.chi2.sf(model.pearson_chi2, len(points) - 2) < 0.05
    # Statsmodels weighs once before its last step, so its errors settle a little later than its line.
    assert (level, slope / days.max()) == pytest.approx((found.level, found.slope), rel=1e-5, abs=1e-8)
    assert (spread if strays else 1.0) == pytest.approx(found.spread, rel=1e-4)
    errors = [math.sqrt(variance / found.spread) for variance in found.variances[:2]]
    assert list(model.bse * [1, 1 / days.max()]) == pytest.approx(errors, rel=1e-3)
    deviate = stats.t.ppf(0.95, len(points) - 2) if strays else stats.norm.ppf(0.95)
    assert deviate == pytest.approx(found.deviate, rel=1e-9)


def test_scipy_finds_the_same_likeliest_line():
    """A search that knows nothing of weights ends where the scoring does."""

    def misfit(line):
        shares = stats.norm.cdf([line[0] + line[1] * since / 400 for since, _, _ in FALLING])
        return -sum(
            stats.binom.logpmf(grown, seeds, share)
            for (_, grown, seeds), share in zip(FALLING, shares, strict=True)
        )

    best = optimize.minimize(
        misfit, [0.5, 0.0], method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-12}
    )
    found = fit_decline(measured(FALLING))

    assert (best.x[0], best.x[1] / 400) == pytest.approx((found.level, found.slope), rel=1e-5)


def test_limits_cover_what_they_say():
    """Two thousand lots that die by a known line (seed 7): the lower limit lies above it in one of twenty."""
    random = np.random.default_rng(7)
    days = (0, 90, 180, 270)
    truth = stats.norm.cdf([1.4 - 0.003 * since for since in days])
    beyond = 0
    for _ in range(2000):
        counted = random.binomial(400, truth)
        line = fit_decline(
            measured([(since, int(grown), 400) for since, grown in zip(days, counted, strict=True)])
        )
        beyond += share_on(line, FIRST + timedelta(300)).low > stats.norm.cdf(1.4 - 0.003 * 300)

    # Student's deviates, used where tests stray, make it a little rarer than 100 of 2000.
    assert 55 <= beyond <= 120


@given(declines(), st.floats(0.3, 0.95))
def test_it_falls_when_the_line_and_its_limit_fall(points, share):
    """The days found are the first of the last stretch below; the limit falls no later than the line."""
    line = fit_decline(measured(points))
    fall = find_fall(line, share)
    days = [line.first + timedelta(at) for at in range((line.bears_until - line.first).days + 1)]

    def stays_below(below):
        last = next((at for at in reversed(range(len(days))) if not below(share_on(line, days[at]))), -1)
        return days[last + 1] if last + 1 < len(days) else None

    assert stays_below(lambda found: found.low < share) == fall.earliest
    assert stays_below(lambda found: found.estimate < share) == fall.likeliest
    assert fall.likeliest is None or fall.earliest <= fall.likeliest


def test_a_line_is_not_read_beyond_what_its_tests_bear():
    """Half as long again as the tests cover, and not before the first of them."""
    line = fit_decline(measured(FALLING))
    assert line.bears_until == line.last + timedelta(200)

    assert share_on(line, line.bears_until).low < share_on(line, line.bears_until).estimate
    for day in (line.first - timedelta(1), line.bears_until + timedelta(1)):
        with pytest.raises(ValueError, match="lies outside"):
            share_on(line, day)
    # It falls below 30 % some day, but not within what these tests bear.
    assert find_fall(line, 0.3).likeliest is None


def test_a_fall_is_found_by_hand():
    """90, 85, 77.5 and 62.5 % at 0, 120, 240 and 400 days: below 70 % after about 324."""
    fall = find_fall(fit_decline(measured(FALLING)), 0.7)

    assert (date(2025, 10, 24), date(2025, 11, 21), date(2026, 8, 24)) == (
        fall.earliest,
        fall.likeliest,
        fall.until,
    )


@pytest.mark.parametrize(
    ("points", "words"),
    [
        (((0, 90, 100), (90, 80, 100)), "three days"),
        (((0, 90, 100), (0, 91, 100), (90, 80, 100)), "three days"),
        (((0, 100, 100), (90, 100, 100), (180, 100, 100)), "as steep as you like"),
        (((0, 0, 100), (90, 0, 100), (180, 0, 100)), "as steep as you like"),
        (((0, 100, 100), (30, 100, 100), (60, 95, 100)), "as steep as you like"),
        (((0, 100, 100), (30, 50, 100), (60, 0, 100)), "as steep as you like"),
        (((0, 90, 100), (30, 101, 100), (60, 50, 100)), "more found than tested"),
        (((0, 90, 100), (30, 80, 100), (40000, 50, 100)), "days between the tests"),
    ],
)
def test_what_bears_no_line_gets_none(points, words):
    """With the reason."""
    with pytest.raises(ValueError, match=words):
        fit_decline(measured(points))


@given(declines())
def test_the_order_of_tests_is_irrelevant(points):
    """And few tests are said to be few."""
    line, other = fit_decline(measured(points)), fit_decline(measured(points[::-1]))

    assert (line.level, line.slope) == pytest.approx((other.level, other.slope), rel=1e-6, abs=1e-9)
    assert line.few == (len(points) < FEW_TESTS)


@given(declines(), st.integers(2, 9))
def test_more_seeds_make_a_surer_line(points, times):
    """The same shares of more seeds: the same line, and errors that shrink by the root, unless they stray."""
    line = fit_decline(measured(points))
    surer = fit_decline(measured([(since, times * grown, times * seeds) for since, grown, seeds in points]))
    assume(line.spread == surer.spread == 1.0)

    assert (line.level, line.slope) == pytest.approx((surer.level, surer.slope), rel=1e-6, abs=1e-9)
    assert line.variances[1] / times == pytest.approx(surer.variances[1], rel=1e-5)


@pytest.mark.parametrize("share", [0, 1, -0.1, 1.5, math.nan])
def test_a_share_to_stay_above_is_a_share(share):
    """Nothing and all are none."""
    with pytest.raises(ValueError, match=r"between|must lie|not a number"):
        find_fall(fit_decline(measured(FALLING)), share)


def test_a_leap_of_one_day_is_refused():
    """All of fifty, 47 of fifty 314 days later, and one of a hundred on the day after."""
    with pytest.raises(ValueError, match="leap too far in too few days"):
        fit_decline(measured([(0, 50, 50), (314, 47, 50), (315, 1, 100)]))
