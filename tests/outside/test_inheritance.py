"""Inheritance, sexes, parents and odds: published figures, and scipy as a second engine."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from certgen.figures.inheritance import (
    all_negative_chance,
    compare_counts,
    count_embryos,
    count_seedlings,
    cross,
    expect_sexes,
    hermaphrodite_chance,
)
from certgen.figures.odds import MethodResult, negative_value, positive_value, update_tree
from certgen.figures.parents import count_effective
from certgen.figures.sampling import find_chance
from certgen.figures.transmission import Pair, expected_share

COVERS = ("certgen.figures.inheritance", "certgen.figures.parents")

# Mendelian arithmetic for a single unlinked insert: mother, pollen, share of embryos, mother's tissue
# positive.
CROSSES = [(1, 1, 0.75, True), (2, 2, 1.0, True), (1, 0, 0.5, True), (0, 1, 0.5, False), (0, 2, 1.0, False),
           (0, 0, 0.0, False)]  # fmt: skip


@pytest.mark.parametrize(("mother", "pollen", "share", "leaf"), CROSSES)
def test_crosses(mother, pollen, share, leaf):
    """The inheritance table; a leaf speaks for the mother only."""
    progeny = cross(mother, pollen)

    assert (share, leaf) == (progeny.transgenic, progeny.mother_shows)


def test_selfed_hemizygote():
    """25 % with two copies, 50 % with one. Wakui et al. 2004: 75 % of embryos expected blue."""
    progeny = cross(1, 1)

    assert (0.25, 0.5, 0.25) == (progeny.two, progeny.one, progeny.none)


# Computed; 3 : 1 and 1 : 1.
@pytest.mark.parametrize(("share", "needed"), [(0.75, (3, 4, 5)), (0.5, (5, 7, 10))])
def test_embryos_that_clear_a_mother(share, needed):
    """For 95, 99 and 99.9 %."""
    assert needed == tuple(count_embryos(share, confidence) for confidence in (0.95, 0.99, 0.999))


def test_twelve_embryos_all_negative():
    """Wakui et al. 2004 test 12 embryos a fruit: 6.0e-8 for 3 : 1, 2.44e-4 for 1 : 1 (computed)."""
    assert (6.0e-8, 2.44e-4) == (
        float(f"{all_negative_chance(12):.1e}"), float(f"{all_negative_chance(12, 0.5):.2e}"),
    )  # fmt: skip


# Computed from Gonsalves et al. 2012, Trop Plant Biol 5:153: drift of 0.8 %.
@pytest.mark.parametrize(("embryos", "chance"), [(8, 0.0622), (90, 0.5147)])
def test_few_embryos_do_not_see_drift(embryos, chance):
    """8 embryos find 0.8 % drift 6.2 % of the time, 90 embryos 51 %; 373 are needed."""
    assert chance == round(find_chance(embryos, 0.008), 4)
    assert 373 == count_embryos(0.008)


# Computed; 0.7013 is measured (Khan, Tyagi and Jokhan 2002).
@pytest.mark.parametrize(
    ("share", "percents", "places"),
    [(2 / 3, (66.667, 88.889, 96.296, 98.765, 99.588), 3), (0.5, (50, 75, 87.5, 93.75, 96.875), 3),
     (0.7013, (70.1, 91.1, 97.3, 99.2, 99.8), 1)],
)  # fmt: skip
def test_seedlings_a_hole(share, percents, places):
    """The chance of at least one hermaphrodite among one to five seedlings."""
    assert percents == tuple(round(100 * hermaphrodite_chance(n, share), places) for n in range(1, 6))


@pytest.mark.parametrize(("share", "needed"), [(2 / 3, (3, 5)), (0.5, (5, 7))])
def test_seedlings_needed(share, needed):
    """For 95 and 99 % (computed)."""
    assert needed == (count_seedlings(share), count_seedlings(share, 0.99))


def test_measured_sex_ratio():
    """Khan, Tyagi and Jokhan 2002: 1,838 to 783 is 2.35 : 1; against 2 : 1 chi-square 14.11, p 1.7e-4."""
    fit = compare_counts(
        {"hermaphrodite": 1838, "female": 783}, expect_sexes("hermaphrodite", "hermaphrodite")
    )

    assert (2.35, 14.11, 1.7e-4) == (
        round(1838 / 783, 2), round(fit.statistic, 2), float(f"{fit.chance:.1e}"),
    )  # fmt: skip


# Plant Breeding 122, 2003 and a plant database.
@pytest.mark.parametrize(
    ("seed_parent", "pollen_parent", "shares"),
    [("hermaphrodite", "hermaphrodite", {"hermaphrodite": 2 / 3, "female": 1 / 3}),
     ("female", "hermaphrodite", {"hermaphrodite": 0.5, "female": 0.5}),
     ("female", "male", {"female": 0.5, "male": 0.5}),
     ("hermaphrodite", "male", {"female": 1 / 3, "hermaphrodite": 1 / 3, "male": 1 / 3})],
)  # fmt: skip
def test_expected_sexes(seed_parent, pollen_parent, shares):
    """The four crosses."""
    assert shares == dict(expect_sexes(seed_parent, pollen_parent))


@given(
    st.lists(st.integers(1, 500), min_size=2, max_size=3), st.lists(st.integers(1, 9), min_size=3, max_size=3)
)
def test_scipy_agrees_on_chi_square_tests(counts, weights):
    """The statistic equals scipy's, and so does the chance where five plants or more are expected of each."""
    sexes = ["female", "hermaphrodite", "male"][: len(counts)]
    shares = [weight / sum(weights[: len(counts)]) for weight in weights[: len(counts)]]
    expected = stats.chisquare(counts, [share * sum(counts) for share in shares])
    fit = compare_counts(dict(zip(sexes, counts, strict=True)), dict(zip(sexes, shares, strict=True)))

    assert math.isclose(expected.statistic, fit.statistic, rel_tol=1e-9, abs_tol=1e-12)
    assert fit.exact == (min(shares) * sum(counts) < 5 and (len(counts) == 2 or sum(counts) < 198))
    assert fit.exact or math.isclose(expected.pvalue, fit.chance, rel_tol=1e-8, abs_tol=1e-300)


# A provincial forest-seed standard's formula, Lindgren and Kang's status number; values computed.
@pytest.mark.parametrize(
    ("shares", "effective"),
    [((1, 1, 1, 1), 4.0), ((50, 30, 20), 2.6316), ((40, 30, 20, 10), 3.3333), ((90, 5, 5), 1.2270),
     ((120, 80, 60, 40, 20, 10, 10, 10), 4.588)],
)  # fmt: skip
def test_effective_parents(shares, effective):
    """The effective number of parents from unequal shares."""
    assert effective == round(count_effective(shares), 4 if effective != 4.588 else 3)


def test_published_predictive_values():
    """Eddy 1982: .0769 and .99768; Casscells 1978: .0196 (inputs from memory); .1667 computed."""
    assert 0.0769 == round(positive_value(0.01, 0.792, 0.904), 4)
    assert 0.99768 == round(negative_value(0.01, 0.792, 0.904), 5)
    assert 0.0196 == round(positive_value(0.001, 1, 0.95), 4)
    assert 0.1667 == round(positive_value(0.01, 0.99, 0.95), 4)


def test_trees_after_negatives():
    """.010989 after one negative, .001110 after two independent ones, .0446 on a bad source (computed)."""
    leaf = MethodResult("gus", positive=False, sensitivity=0.9)
    other = MethodResult("pcr", positive=False, sensitivity=0.9)
    good = MethodResult("gus", positive=False, sensitivity=0.98)

    assert (0.010989, 0.001110, 0.0446) == (
        round(update_tree(0.1, [leaf]), 6), round(update_tree(0.1, [leaf, other]), 6),
        round(update_tree(0.7, [good]), 4),
    )  # fmt: skip


def test_one_untested_parent():
    """Shares .4/.3/.2/.1, all negative: 0.001663; the last unscreened: 0.008997, 5.4 times (computed)."""
    after = update_tree(0.1, [MethodResult("gus", positive=False, sensitivity=0.98)])
    pairs = [Pair(str(share), str(share), share) for share in (0.4, 0.3, 0.2, 0.1)]
    tested = expected_share(pairs, dict.fromkeys(("0.4", "0.3", "0.2", "0.1"), after)).low
    untested = expected_share(pairs, {"0.4": after, "0.3": after, "0.2": after, "0.1": 0.1}).low

    assert (0.001663, 0.008997, 5.4) == (round(tested, 6), round(untested, 6), round(untested / tested, 1))
