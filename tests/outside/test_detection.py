"""How many to test: published tables, and scipy as a second engine."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom, hypergeom

from certgen.figures.inheritance import share_from_one_parent
from certgen.figures.sampling import count_items, count_tests, find_chance, miss_chance

COVERS = ("certgen.figures.sampling",)

# Computed; verified with exact fractions and mpmath. The 95 % and 99 % rows are the usual published ones.
NEEDED = {
    0.90: {0.1: 22, 0.05: 45, 0.02: 114, 0.01: 230, 0.005: 460, 0.001: 2302, 0.0001: 23025},
    0.95: {
        0.1: 29, 0.05: 59, 0.02: 149, 0.01: 299, 0.009: 332, 0.005: 598, 0.002: 1497, 0.001: 2995,
        0.0005: 5990,
        0.0001: 29956,
    },
    0.99: {0.1: 44, 0.05: 90, 0.02: 228, 0.01: 459, 0.009: 510, 0.005: 919, 0.001: 4603, 0.0001: 46050},
}  # fmt: skip
CELLS = [(c, p, n) for c, row in NEEDED.items() for p, n in row.items()]


@pytest.mark.parametrize(("confidence", "proportion", "needed"), CELLS)
def test_sample_sizes_are_the_published_ones(confidence, proportion, needed):
    """Each cell of the detection table, and one test fewer does not do."""
    assert needed == count_tests(proportion, confidence)
    assert find_chance(needed, proportion) >= confidence - 1e-12
    assert find_chance(needed - 1, proportion) < confidence


# Computed; verified with mpmath.
@pytest.mark.parametrize(
    ("confidence", "proportion", "sensitivity", "needed"),
    [(0.95, 0.01, 0.9, 332), (0.95, 0.01, 0.95, 314), (0.95, 0.005, 0.95, 630), (0.95, 0.001, 0.99, 3025),
     (0.99, 0.01, 0.9, 510)],
)  # fmt: skip
def test_an_imperfect_test_needs_more(confidence, proportion, sensitivity, needed):
    """Sensitivity enters as a smaller proportion."""
    assert needed == count_tests(proportion, confidence, sensitivity)


# Computed: one hemizygous tree of T equal ones, selfed into the lot.
@pytest.mark.parametrize(("trees", "needed"), [(10, 39), (20, 79), (40, 159)])
def test_one_bad_parent_among_many(trees, needed):
    """The seed to test so that one transgenic parent among equals does not hide."""
    assert needed == count_tests(share_from_one_parent(trees))


# US grain-inspection guide, Oct 2000: 100 kernels at 5 % give '1 to 9 %', 790 kernels '3.4 to 6.6 %'.
@pytest.mark.parametrize(("kernels", "low", "high", "chance"), [(100, 1, 9, 0.966), (790, 27, 52, 0.967)])
def test_grain_inspection_spreads(kernels, low, high, chance):
    """Our binomial gives the published spread its stated coverage."""
    from certgen.figures.distributions import binomial_at_most

    spread = binomial_at_most(high, kernels, 0.05) - binomial_at_most(low - 1, kernels, 0.05)

    assert chance == round(spread, 3)


# Giesbrecht et al. 2001, J AOAC Int 84:1941: coefficient of variation at 1 %.
@pytest.mark.parametrize(("seeds", "percent"), [(500, 44.5), (1000, 31.5)])
def test_coefficient_of_variation_of_a_seed_count(seeds, percent):
    """The spread of a count of seeds at 1 %, from our own binomial chances."""
    from certgen.figures.distributions import binomial_chances

    chances = binomial_chances(seeds, 0.01)
    mean = math.fsum(k * chance for k, chance in enumerate(chances))
    variance = math.fsum((k - mean) ** 2 * chance for k, chance in enumerate(chances))

    assert percent == round(100 * math.sqrt(variance) / mean, 1)


# Exact hypergeometric; verified with exact fractions. Some published tables print 96 for 100 with one
# (rounding).
FINITE = [
    (100, 50, 0.95, 5), (100, 20, 0.95, 13), (100, 10, 0.95, 25), (100, 5, 0.95, 45), (100, 2, 0.95, 78),
    (100, 1, 0.95, 95), (50, 5, 0.95, 22), (50, 1, 0.95, 48), (200, 2, 0.95, 155), (500, 5, 0.95, 225),
    (1000, 50, 0.95, 57), (1000, 10, 0.95, 258), (40, 3, 0.95, 25), (40, 2, 0.95, 31), (40, 1, 0.95, 38),
    (24, 1, 0.95, 23), (12, 1, 0.95, 12), (100, 10, 0.99, 36), (100, 5, 0.99, 59), (100, 1, 0.99, 99),
    (100, 10, 0.90, 20),
]  # fmt: skip


@pytest.mark.parametrize(("trees", "faults", "confidence", "needed"), FINITE)
def test_finite_orchards(trees, faults, confidence, needed):
    """Trees to test out of a whole orchard; one fewer is too few by scipy's reckoning too."""
    assert needed == count_items(trees, faults, confidence)
    assert hypergeom.pmf(0, trees, faults, needed) <= 1 - confidence + 1e-12
    assert hypergeom.pmf(0, trees, faults, needed - 1) > 1 - confidence


# Some published tables take 5 % of 50 as 2.5 animals and print 35, of 30 as 1.5 and print 26 (from memory).
@pytest.mark.parametrize(("trees", "fewer", "more", "printed"), [(50, 2, 3, 35), (30, 1, 2, 26)])
def test_half_a_tree_lies_between_two_whole_ones(trees, fewer, more, printed):
    """Our whole-tree figures, 39 and 31 or 29 and 23, bracket the printed ones."""
    assert {50: (39, 31), 30: (29, 23)}[trees] == (count_items(trees, fewer), count_items(trees, more))
    assert count_items(trees, more) < printed < count_items(trees, fewer)


# Cannon and Roe 1982 (approximation, from memory).
@pytest.mark.parametrize(("trees", "faults", "confidence", "needed"), FINITE)
def test_the_usual_approximation_is_near(trees, faults, confidence, needed):
    """n ≈ (1 - (1-c)^(1/D))·(N - (D-1)/2) is never far off the exact figure."""
    about = (1 - (1 - confidence) ** (1 / faults)) * (trees - (faults - 1) / 2)

    assert abs(about - needed) <= 1.2


@given(st.integers(1, 400), st.data())
def test_scipy_agrees_on_missing_every_fault(items, data):
    """The exact chance of missing all faults equals scipy's hypergeometric."""
    faults = data.draw(st.integers(0, items))
    taken = data.draw(st.integers(0, items))

    assert math.isclose(
        hypergeom.pmf(0, items, faults, taken),
        float(miss_chance(items, faults, taken)),
        rel_tol=1e-7,
        abs_tol=1e-12,
    )


@given(st.integers(1, 60), st.floats(0, 1), st.data())
def test_scipy_agrees_with_an_imperfect_test(items, sensitivity, data):
    """Each fault drawn is overlooked with its own chance: scipy's hypergeometric weighed the same way."""
    faults = data.draw(st.integers(0, items))
    taken = data.draw(st.integers(0, items))
    expected = sum(
        hypergeom.pmf(x, items, faults, taken) * (1 - sensitivity) ** x for x in range(min(faults, taken) + 1)
    )

    assert math.isclose(
        expected, float(miss_chance(items, faults, taken, sensitivity)), rel_tol=1e-7, abs_tol=1e-9
    )


@given(st.integers(0, 5000), st.floats(1e-6, 0.999), st.floats(0.01, 1))
def test_scipy_agrees_on_finding_one(tests, proportion, sensitivity):
    """The chance of at least one positive equals scipy's binomial survival function."""
    expected = binom.sf(0, tests, proportion * sensitivity)

    assert math.isclose(expected, find_chance(tests, proportion, sensitivity), rel_tol=1e-9, abs_tol=1e-12)
