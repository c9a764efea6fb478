"""Germination tests against published tables: 7 CFR part 201, one state's, and ISTA's (from memory)."""

from __future__ import annotations

import itertools
import math

import pytest
from scipy import stats

from certgen.figures.germination import (
    compare_replicates,
    compare_tests,
    compare_with_label,
    formula_range,
    label_tolerance,
    range_chance,
    range_limit,
)
from certgen.figures.tables.germination import LISTED_MINIMA, TWO_TESTS
from certgen.figures.tables.replicate_range import RANGE_BY_REPLICATES

COVERS = ("certgen.figures.germination",)

# 7 CFR 201.55, read in full; each row: upper means, lower means as printed (misprints put right), the cell.
FOUR_ROWS = [
    ("99", "2", 5), ("98", "3", 6), ("97", "4", 7), ("96", "5", 8), ("95", "6", 9), ("93-94", "7-8", 10),
    ("91-92", "9-10", 11), ("89-90", "11-12", 12), ("87-88", "13-14", 13), ("84-86", "15-17", 14),
    ("81-83", "18-20", 15), ("78-80", "21-23", 16), ("73-77", "24-28", 17), ("67-72", "29-34", 18),
    ("56-66", "35-45", 19), ("51-55", "46-50", 20),
]  # fmt: skip
# 7 CFR 201.55, the column for two replicates; upper means only, the lower ones being 101 − mean.
TWO_ROWS = [
    ("96-97", 6), ("95", 7), ("93-94", 8), ("90-92", 9), ("88-89", 10), ("84-87", 11), ("81-83", 12),
    ("76-80", 13),
    ("69-75", 14), ("55-68", 15), ("51-54", 16),
]  # fmt: skip


def _means(band):
    low, _, high = band.partition("-")
    return range(int(low), int(high or low) + 1)


FOUR_CELLS = [
    (mean, cell) for upper, lower, cell in FOUR_ROWS for band in (upper, lower) for mean in _means(band)
]
TWO_CELLS = [(mean, cell) for band, cell in TWO_ROWS for mean in _means(band)]


@pytest.mark.parametrize(("mean", "cell"), FOUR_CELLS)
def test_four_replicates(mean, cell):
    """Every cell for 4 × 100, upper and lower half, both ways round from the published bands."""
    assert (float(cell), "table") == range_limit(mean, 4)


@pytest.mark.parametrize(("mean", "cell"), TWO_CELLS)
def test_two_replicates(mean, cell):
    """Every cell for 2 × 100, and its mirror 101 − mean."""
    assert (float(cell), "table") == range_limit(mean, 2) == range_limit(101 - mean, 2)


@pytest.mark.parametrize(
    ("mean", "replicates"), [(100, 4), (1, 4), (0, 4), (99, 2), (98, 2), (2, 2), (3, 2), (100, 2)]
)
def test_blank_cells(mean, replicates):
    """The table has no cell at 100, 1 and 0, nor at 98 and 99 for two replicates."""
    assert (None, "no cell") == range_limit(mean, replicates)


def test_the_table_is_complete():
    """98 means for four replicates and 94 for two, no more."""
    assert (98, 94) == (len(RANGE_BY_REPLICATES[4]), len(RANGE_BY_REPLICATES[2]))


# 7 CFR 201.55, the part of the stored copy that a second reading covers (average, 4 replicates, 2
# replicates).
@pytest.mark.parametrize(
    ("mean", "four", "two"),
    [(99, 5, None), (98, 6, None), (97, 7, 6), (96, 8, 6), (95, 9, 7), (94, 10, 8), (93, 10, 8), (92, 11, 9),
     (91, 11, 9), (90, 12, 9), (89, 12, 10), (88, 13, 10), (87, 13, 11)],
)  # fmt: skip
def test_second_reading_of_the_regulation(mean, four, two):
    """Both columns side by side, with the mirrors 2 to 14."""
    assert (four, two) == (range_limit(mean, 4)[0], range_limit(mean, 2)[0])
    assert (four, two) == (range_limit(101 - mean, 4)[0], range_limit(101 - mean, 2)[0])


# ISTA's 4 × 100 table (from memory): identical in the 49 cells from 51 to 99.
def test_ista_bands_agree():
    """The bands from 84 down, as remembered from ISTA."""
    bands = {(84, 86): 14, (81, 83): 15, (78, 80): 16, (73, 77): 17, (67, 72): 18, (56, 66): 19, (51, 55): 20}

    assert bands == {band: range_limit(band[0], 4)[0] for band in bands}
    assert bands == {band: range_limit(band[1], 4)[0] for band in bands}


# Computed from 7 CFR 201.55.
@pytest.mark.parametrize(
    ("counts", "mean", "width", "limit", "passes"),
    [((94, 88, 91, 95), 92, 7, 11, True), ((90, 78, 86, 82), 84, 12, 14, True),
     ((95, 80, 88, 77), 85, 18, 14, False),
     ((55, 60, 48, 57), 55, 12, 20, True), ((20, 25, 18, 21), 21, 7, 16, True),
     ((12, 28, 20, 20), 20, 16, 15, False)],
)  # fmt: skip
def test_worked_replicates(counts, mean, width, limit, passes):
    """The last set would wrongly pass if the lower half mirrored as 100 − mean."""
    verdict = compare_replicates(counts)

    assert (mean, width, limit, "table", passes) == (
        verdict.rounded_mean, verdict.range, verdict.limit, verdict.basis, verdict.passes,
    )  # fmt: skip


def test_a_mean_that_rounds_to_a_hundred():
    """100, 100, 99, 100: mean 99.75, no cell, passes."""
    verdict = compare_replicates((100, 100, 99, 100))

    assert (99.75, 100, None, "no cell", True) == (
        verdict.mean, verdict.rounded_mean, verdict.limit, verdict.basis, verdict.passes,
    )  # fmt: skip


# Computed: T = 3.984·sqrt(P(100 − P)/r), a formula and no published table.
@pytest.mark.parametrize(
    ("mean", "seeds", "limit"),
    [(90, 25, 23.9), (80, 25, 31.9), (70, 25, 36.5), (90, 50, 16.9), (80, 50, 22.5), (70, 50, 25.8)],
)
def test_designs_off_the_table(mean, seeds, limit):
    """Four replicates of 25 or 50 go by the formula, and say so."""
    found, basis = range_limit(mean, 4, seeds)

    assert (limit, "formula") == (round(found, 1), basis)


def test_the_formula_lies_near_the_table():
    """The table deviates from the formula by −0.78 to +1.04 points (computed)."""
    gaps = [cell - formula_range(mean, 4, 100) for mean, cell in RANGE_BY_REPLICATES[4].items() if mean > 50]

    assert (-0.78, 1.04) == (round(min(gaps), 2), round(max(gaps), 2))


@pytest.mark.parametrize("rounding", [math.floor, math.ceil, round])
def test_no_rounding_of_the_formula_gives_the_table(rounding):
    """Why the table is data: simple rounding misses some of its 49 cells."""
    cells = {mean: cell for mean, cell in RANGE_BY_REPLICATES[4].items() if mean > 50}

    assert any(cell != rounding(formula_range(mean, 4, 100)) for mean, cell in cells.items())


# Computed exactly with binomial replicates.
@pytest.mark.parametrize(("mean", "chance"), [(99, 0.0017), (90, 0.0169), (80, 0.0182), (60, 0.0246)])
def test_how_strict_the_table_is(mean, chance):
    """The chance that honest replicates exceed the cell: well below 2.5 % at high germination."""
    limit, _ = range_limit(mean, 4)

    assert chance == round(1 - range_chance(int(limit), 4, 100, mean / 100), 4)


@pytest.mark.parametrize(("seeds", "share", "spread"), [(5, 0.5, 2), (8, 0.9, 3), (6, 0.3, 0), (6, 0.3, 6)])
def test_range_chances_by_brute_force(seeds, share, spread):
    """The chance of a range, against the sum over every outcome of three replicates with scipy's binomial."""
    chances = stats.binom.pmf(range(seeds + 1), seeds, share)
    outcomes = itertools.product(range(seeds + 1), repeat=3)
    expected = sum(math.prod(chances[k] for k in o) for o in outcomes if max(o) - min(o) <= spread)

    assert math.isclose(expected, range_chance(spread, 3, seeds, share), rel_tol=1e-9)


# 7 CFR 201.63.
@pytest.mark.parametrize(
    ("mean", "tolerance"),
    [(100, 5), (96, 5), (95.99, 6), (90, 6), (89.99, 7), (80, 7), (79.99, 8), (70, 8), (69.99, 9), (60, 9),
     (59.99, 10),
     (0, 10)],
)  # fmt: skip
def test_label_tolerances(mean, tolerance):
    """Each step at its edge; two points more for 200 seeds of a mixture's component."""
    assert tolerance == label_tolerance(mean)
    assert tolerance + 2 == label_tolerance(mean, mixture_of_200=True)


# 7 CFR 201.63 at the mean of the two (201.59); worked examples computed.
@pytest.mark.parametrize(
    ("label", "found", "mean", "tolerance", "within"),
    [(85, 78, 81.5, 7, True), (85, 77, 81, 7, False), (96, 90, 93, 6, True), (75, 60, 67.5, 9, False),
     (85, 79, 82, 7, True), (60, 51, 55.5, 10, True), (93, 87, 90, 6, True), (98, 93, 95.5, 6, True),
     (70, 60, 65, 9, False)],
)  # fmt: skip
def test_results_against_a_label(label, found, mean, tolerance, within):
    """Differences inside and outside the tolerance."""
    comparison = compare_with_label(label, found)

    assert (mean, tolerance, within) == (comparison.mean, comparison.tolerance, comparison.within)


# Louisiana Administrative Code 7 §XIII-139 (2024) and ISTA (from memory).
BETWEEN = {
    "99": 2, "97-98": 3, "94-96": 4, "91-93": 5, "87-90": 6, "82-86": 7, "76-81": 8, "70-75": 9, "60-69": 10,
    "51-59": 11, "2": 2, "42-50": 11,
}  # fmt: skip
SAME = {"98-99": 2, "95-97": 3, "91-94": 4, "85-90": 5, "77-84": 6, "60-76": 7, "51-59": 8}


@pytest.mark.parametrize(
    ("table", "band", "cell"),
    [("between laboratories", *row) for row in BETWEEN.items()]
    + [("same laboratory", *row) for row in SAME.items()],
)
def test_two_tests(table, band, cell):
    """Every band of both tables, and a difference just inside and just outside."""
    for mean in _means(band):
        assert cell == TWO_TESTS[table][mean]
        assert compare_tests(mean + cell / 2, mean - cell / 2, table).within


# 7 CFR 201.31.
def test_papaya_has_no_published_minimum():
    """Sixteen listed vegetables from 50 to 80 %, papaya not among them."""
    assert (16, 50, 80, False) == (
        len(LISTED_MINIMA), min(LISTED_MINIMA.values()), max(LISTED_MINIMA.values()),
        "papaya" in LISTED_MINIMA,
    )  # fmt: skip
    assert [60, 70, 55, 55, 80, 60, 80, 75, 50, 70, 75, 60, 60, 80, 55, 75] == list(LISTED_MINIMA.values())
