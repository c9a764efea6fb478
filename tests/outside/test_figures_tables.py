"""Figures against printed tables, worked examples that many textbooks share, and reference libraries.

Beside each table stands its source. Where no copy was read it says 'from memory'; each such value was held
against scipy as well.
"""

from __future__ import annotations

import decimal
import math
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import optimize, special, stats

from certgen.figures.distributions import (
    binomial_at_most,
    chi_square_above,
    normal_quantile,
    range_quantile,
    round_half_up,
    t_quantile,
)
from certgen.figures.inheritance import compare_counts, exact_chance
from certgen.figures.pools import estimate_share
from certgen.figures.proportions import exact_limits
from certgen.figures.purity import find_purity
from certgen.figures.sampling import count_items, count_tests, miss_chance
from certgen.figures.viability import Germinated, fit_decline

COVERS = (
    "certgen.figures.distributions",
    "certgen.figures.inheritance",
    "certgen.figures.pools",
    "certgen.figures.proportions",
    "certgen.figures.purity",
    "certgen.figures.sampling",
    "certgen.figures.viability",
)

# Student 1908 as every textbook prints it (from memory): freedom, 95 %, 97.5 %.
STUDENT = [
    (1, 6.314, 12.706),
    (2, 2.920, 4.303),
    (3, 2.353, 3.182),
    (4, 2.132, 2.776),
    (5, 2.015, 2.571),
    (10, 1.812, 2.228),
    (20, 1.725, 2.086),
    (30, 1.697, 2.042),
]


@pytest.mark.parametrize(("freedom", "one_sided", "two_sided"), STUDENT)
def test_students_table(freedom, one_sided, two_sided):
    """To the three decimals that are printed."""
    assert (one_sided, two_sided) == (
        round(t_quantile(0.95, freedom), 3),
        round(t_quantile(0.975, freedom), 3),
    )


# Pearson's table of chi-square (from memory): freedom, the value that 5 % lie above, that 1 % do.
CHI_SQUARE = [
    (1, 3.841, 6.635),
    (2, 5.991, 9.210),
    (3, 7.815, 11.345),
    (4, 9.488, 13.277),
    (5, 11.070, 15.086),
    (10, 18.307, 23.209),
]


@pytest.mark.parametrize(("freedom", "five", "one"), CHI_SQUARE)
def test_pearsons_table(freedom, five, one):
    """The printed value lies where its chance is, to the last digit of either."""
    assert 0.05 == pytest.approx(chi_square_above(five, freedom), abs=2e-5)
    assert 0.01 == pytest.approx(chi_square_above(one, freedom), abs=1e-5)


# The normal table (from memory).
@pytest.mark.parametrize(
    ("share", "deviate"), [(0.95, 1.6449), (0.975, 1.96), (0.99, 2.3263), (0.995, 2.5758)]
)
def test_the_normal_table(share, deviate):
    """To four decimals, and mirrored."""
    assert (deviate, -deviate) == (round(normal_quantile(share), 4), round(normal_quantile(1 - share), 4))


# Tukey's studentised range with infinite degrees of freedom (from memory): items, 95 %, 99 %.
STUDENTISED = [(2, 2.772, 3.643), (3, 3.314, 4.120), (4, 3.633, 4.403), (5, 3.858, 4.603), (10, 4.474, 5.157)]


@pytest.mark.parametrize(("items", "five", "one"), STUDENTISED)
def test_tukeys_table(items, five, one):
    """To three decimals."""
    assert (five, one) == (round(range_quantile(0.95, items), 3), round(range_quantile(0.99, items), 3))


# Exact limits of a share, 95 % two-sided, in per cent (Documenta Geigy's table, from memory).
GEIGY = [
    (0, 10, 0, 30.85),
    (1, 10, 0.25, 44.50),
    (2, 10, 2.52, 55.61),
    (3, 10, 6.67, 65.25),
    (5, 10, 18.71, 81.29),
    (10, 10, 69.15, 100),
    (0, 20, 0, 16.84),
    (1, 20, 0.13, 24.87),
    (5, 20, 8.66, 49.10),
    (0, 50, 0, 7.11),
    (0, 100, 0, 3.62),
]


@pytest.mark.parametrize(("found", "tested", "low", "high"), GEIGY)
def test_exact_limits_as_tabled(found, tested, low, high):
    """To two decimals of a per cent."""
    limits = exact_limits(found, tested)

    assert (low, high) == (round(100 * limits.low, 2), round(100 * limits.high, 2))


# Cumulative binomial chances (any table of them; from memory): at most, trials, chance, to four decimals.
@pytest.mark.parametrize(
    ("most", "trials", "chance", "cumulative"),
    [
        (3, 10, 0.5, 0.1719),
        (2, 20, 0.1, 0.6769),
        (0, 20, 0.05, 0.3585),
        (5, 15, 0.3, 0.7216),
        (1, 5, 0.2, 0.7373),
        (10, 25, 0.4, 0.5858),
    ],
)
def test_the_binomial_table(most, trials, chance, cumulative):
    """To four decimals."""
    assert cumulative == round(binomial_at_most(most, trials, chance), 4)


# Drawing without putting back: Fisher's lady tasting tea (1935), cards and a lottery, as textbooks have them.
@pytest.mark.parametrize(
    ("items", "faults", "taken", "chance"),
    [
        (8, 4, 4, Fraction(1, 70)),
        (52, 4, 5, Fraction(35673, 54145)),
        (52, 4, 13, Fraction(6327, 20825)),
        (49, 6, 6, Fraction(6096454, 13983816)),
        (10, 1, 3, Fraction(7, 10)),
    ],
)
def test_draws_that_everybody_knows(items, faults, taken, chance):
    """None of four cups, no ace in a hand of five or of thirteen, none of six right, one of ten missed."""
    assert chance == miss_chance(items, faults, taken)


# Zero-failure sample sizes, the success-run theorem's table (from memory): reliability, confidence, size.
@pytest.mark.parametrize(
    ("reliability", "confidence", "size"),
    [
        (0.90, 0.80, 16),
        (0.90, 0.90, 22),
        (0.90, 0.99, 44),
        (0.95, 0.90, 45),
        (0.95, 0.95, 59),
        (0.95, 0.99, 90),
        (0.99, 0.90, 230),
        (0.99, 0.99, 459),
        (0.999, 0.95, 2995),
        (0.999, 0.90, 2302),
        (0.80, 0.90, 11),
        (0.70, 0.95, 9),
    ],
)
def test_zero_failure_sizes(reliability, confidence, size):
    """The smallest number that all pass."""
    assert size == count_tests(float(1 - Decimal(str(reliability))), confidence)


# Freedom-from-disease tables: of so many animals with so many infected, the number to test at 95 % (exact
# hypergeometric; Cannon and Roe's table of 1982 has the same figures, from memory).
@pytest.mark.parametrize(
    ("herd", "infected", "size"),
    [
        (10, 1, 10),
        (20, 1, 19),
        (50, 5, 22),
        (100, 10, 25),
        (200, 20, 27),
        (500, 50, 28),
        (1000, 100, 29),
        (100, 5, 45),
        (200, 10, 51),
        (1000, 50, 57),
        (1000, 10, 258),
    ],
)
def test_freedom_from_disease(herd, infected, size):
    """And one fewer isn't enough, by scipy's hypergeometric."""
    assert size == count_items(herd, infected)
    assert (
        stats.hypergeom.pmf(0, herd, infected, size)
        <= 0.05
        < stats.hypergeom.pmf(0, herd, infected, size - 1)
    )


# Mendel's peas of 1866 with chi-squares as Fisher printed them in 1936 (counts and figures from memory).
MENDEL = [
    ((5474, 1850), 0.2629),
    ((6022, 2001), 0.0150),
    ((705, 224), 0.3907),
    ((882, 299), 0.0635),
    ((428, 152), 0.4506),
    ((651, 207), 0.3497),
    ((787, 277), 0.6065),
]


@pytest.mark.parametrize(("counted", "chi_square"), MENDEL)
def test_mendels_peas(counted, chi_square):
    """Three to one, with many plants: chi-square's own chance, as scipy has it."""
    fit = compare_counts(dict(zip("Aa", counted, strict=True)), {"A": 0.75, "a": 0.25})

    assert (chi_square, False) == (round(fit.statistic, 4), fit.exact)
    assert stats.chi2.sf(fit.statistic, 1) == pytest.approx(fit.chance, rel=1e-9)


def test_mendels_two_traits():
    """315, 101, 108 and 32 against 9 : 3 : 3 : 1 give 0.470 and a chance of 0.925 (from memory)."""
    counted = dict(zip("abcd", (315, 101, 108, 32), strict=True))
    fit = compare_counts(counted, dict(zip("abcd", (9 / 16, 3 / 16, 3 / 16, 1 / 16), strict=True)))

    assert (0.470, 0.925, 3) == (round(fit.statistic, 3), round(fit.chance, 3), fit.freedom)


# The sign test's table (two-sided chances; from memory), and counts of seedlings at 2 : 1 by hand in
# twenty-sevenths: three plants have 8/27, 12/27, 6/27 and 1/27 for three, two, one and none.
@pytest.mark.parametrize(
    ("counts", "shares", "chance"),
    [
        ((5, 0), (0.5, 0.5), 0.0625),
        ((6, 0), (0.5, 0.5), 0.03125),
        ((8, 2), (0.5, 0.5), 0.109375),
        ((9, 1), (0.5, 0.5), 0.021484375),
        ((10, 2), (0.5, 0.5), 0.03857421875),
        ((3, 0), (2 / 3, 1 / 3), 15 / 27),
        ((2, 1), (2 / 3, 1 / 3), 1),
        ((1, 2), (2 / 3, 1 / 3), 7 / 27),
        ((0, 3), (2 / 3, 1 / 3), 1 / 27),
        ((3, 0, 0), (1 / 3, 1 / 3, 1 / 3), 3 / 27),
        ((1, 1, 1), (1 / 3, 1 / 3, 1 / 3), 1),
        ((2, 1, 0), (1 / 3, 1 / 3, 1 / 3), 21 / 27),
    ],
)
def test_exact_chances_of_few(counts, shares, chance):
    """Chi-square says 0.22 for three hermaphrodites of three; the exact test 0.56."""
    assert chance == pytest.approx(exact_chance(counts, shares))
    fit = compare_counts(dict(zip("abc", counts, strict=False)), dict(zip("abc", shares, strict=False)))
    assert fit.exact == (min(shares) * sum(counts) < 5)
    assert not fit.exact or chance == pytest.approx(fit.chance)


@given(st.integers(0, 60), st.integers(0, 60), st.floats(0.05, 0.95))
def test_scipy_agrees_on_the_exact_test_of_two(one, other, share):
    """`binomtest` adds up the same chances."""
    if one + other:
        expected = stats.binomtest(one, one + other, share).pvalue
        assert expected == pytest.approx(exact_chance((one, other), (share, 1 - share)), rel=1e-6)


@given(st.tuples(*[st.integers(0, 7)] * 3), st.tuples(*[st.integers(1, 9)] * 3))
def test_fractions_agree_on_the_exact_test_of_three(counts, weights):
    """Every way to count, in exact fractions."""
    total = sum(counts)
    if not total:
        return
    shares = [Fraction(weight, sum(weights)) for weight in weights]

    def chance_of(seen):
        ways = math.factorial(total)
        chance = Fraction(1)
        for count, share in zip(seen, shares, strict=True):
            ways //= math.factorial(count)
            chance *= share**count
        return ways * chance

    every = [(i, j, total - i - j) for i in range(total + 1) for j in range(total - i + 1)]
    expected = sum(chance for seen in every if (chance := chance_of(seen)) <= chance_of(counts))
    assert float(expected) == pytest.approx(exact_chance(counts, [float(share) for share in shares]))


# Pools of equal size: the share at which the count seen is likeliest, found by scipy's own search. The first
# is a usual classroom case (one of ten pools of ten: 1.05 %), the second that of mosquito surveys (three of
# thirty pools of fifty: 2.1 in a thousand); both from memory.
@pytest.mark.parametrize(
    ("pools", "seeds", "positive", "printed"),
    [
        (10, 10, 1, 0.0105),
        (30, 50, 3, 0.0021),
        (20, 25, 5, 0.0114),
        (8, 300, 2, 0.00096),
        (40, 5, 10, 0.0559),
        (12, 100, 6, 0.0069),
    ],
)
def test_pools_by_their_likelihood(pools, seeds, positive, printed):
    """And the limits are those of which scipy's binomial test says 2.5 %."""
    found = estimate_share(pools, seeds, positive)

    def misfit(share):
        return -stats.binom.logpmf(positive, pools, -math.expm1(seeds * math.log1p(-share)))

    best = optimize.minimize_scalar(misfit, bounds=(1e-7, 0.1), method="bounded", options={"xatol": 1e-10})
    assert best.x == pytest.approx(found.estimate, rel=1e-4)
    assert printed == pytest.approx(found.estimate, rel=1e-2)
    low, high = (1 - (1 - share) ** seeds for share in (found.low, found.high))
    assert 0.025 == pytest.approx(stats.binom.sf(positive - 1, pools, low), rel=1e-6)
    assert 0.025 == pytest.approx(stats.binom.cdf(positive, pools, high), rel=1e-6)


# Bliss 1935, beetles after five hours of carbon disulphide: log dose · 10,000, dead, exposed; the probit line
# of textbooks is -34.94 + 19.73 · log dose, with errors of 2.65 and 1.49 (counts and figures from memory).
BEETLES = [
    (16907, 6, 59),
    (17242, 13, 60),
    (17552, 18, 62),
    (17842, 28, 56),
    (18113, 52, 63),
    (18369, 53, 59),
    (18610, 61, 62),
    (18839, 60, 60),
]


def test_the_beetles_of_bliss():
    """Days stand for doses: the line, its errors, and the deviance of chi-square are those of the books."""
    first = date(2000, 1, 1)
    line = fit_decline([Germinated(first + timedelta(dose - 16907), dead, of) for dose, dead, of in BEETLES])
    slope = 10_000 * line.slope

    assert (19.73, -34.94) == (round(slope, 2), round(line.level - slope * 1.6907, 2))
    assert 1.49 == pytest.approx(10_000 * math.sqrt(line.variances[1]), abs=0.01)
    assert (1.0, 8) == (line.spread, line.tests)


# Rounding half up where a float or a banker would not: the decimals as typed.
@pytest.mark.parametrize(
    ("value", "places", "rounded"),
    [
        ("0.5", 0, "1"),
        ("1.5", 0, "2"),
        ("2.5", 0, "3"),
        ("66.45", 1, "66.5"),
        ("1.005", 2, "1.01"),
        ("2.675", 2, "2.68"),
        ("-0.5", 0, "-1"),
        ("99.995", 2, "100.00"),
    ],
)
def test_halves_go_up(value, places, rounded):
    """As the decimal module's ROUND_HALF_UP does."""
    quantum = Decimal(1).scaleb(-places)

    assert Decimal(rounded) == round_half_up(value, places)
    assert Decimal(value).quantize(quantum, rounding=decimal.ROUND_HALF_UP) == round_half_up(value, places)


# Purity worked by hand, in grams: pure, other, inert, and the parts in per cent.
@pytest.mark.parametrize(
    ("grams", "parts"),
    [
        ((1, 1, 1), ("33.34", "33.33", "33.33")),
        ((2, 2, 2), ("33.34", "33.33", "33.33")),
        ((1, 3, 3), ("14.29", "42.85", "42.86")),
        ((9.93, 0, 0.07), ("99.30", "0.00", "0.70")),
        ((24, 0.001, 0.001), ("99.98", "0.01", "0.01")),
        ((0.001, 24, 0), ("0.01", "99.99", "0.00")),
        ((1, 1, 4), ("16.67", "16.67", "66.66")),
        ((5, 6, 4), ("33.33", "40.00", "26.67")),
    ],
)
def test_purity_adds_up(grams, parts):
    """The largest part takes what rounding leaves; a trace stays a trace."""
    pure, other, inert = grams
    found = find_purity(pure=pure, other=other, inert=inert)

    assert parts == tuple(map(str, (found.pure, found.other, found.inert)))


MASSES = st.decimals(0, 30, places=3)


@given(MASSES, MASSES, MASSES, st.booleans())
def test_purity_always_adds_up(pure, other, inert, weighed):
    """To exactly 100.00, each part within two hundredths of its own share, and none below nothing."""
    sample = pure + other + inert
    if not sample:
        return
    found = find_purity(pure=pure, other=other, inert=inert, sample=sample if weighed else None)

    assert Decimal("100.00") == found.pure + found.other + found.inert
    for part, mass in ((found.pure, pure), (found.other, other), (found.inert, inert)):
        assert part >= 0
        assert abs(Fraction(part) - 100 * Fraction(mass) / Fraction(sample)) <= Fraction(2, 100)


@given(st.floats(1e-9, 1 - 1e-9), st.integers(1, 500))
def test_scipy_agrees_on_students_quantiles(probability, freedom):
    """Far out as well as in the middle."""
    expected = special.stdtrit(freedom, probability)

    assert expected == pytest.approx(t_quantile(probability, freedom), rel=1e-6, abs=1e-9)
