"""Verdicts on germination tests."""

from __future__ import annotations

import math
from dataclasses import asdict
from fractions import Fraction
from itertools import pairwise, product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.figures.germination import (
    compare_range,
    compare_replicates,
    compare_tests,
    compare_with_label,
    formula_range,
    label_tolerance,
    limit_germination,
    range_chance,
    range_limit,
)

REPLICATES = st.lists(st.integers(0, 100), min_size=2, max_size=8)


@given(REPLICATES, st.randoms())
def test_the_order_of_replicates_is_irrelevant(counts, random):
    """A verdict is of the set of replicates."""
    shuffled = list(counts)
    random.shuffle(shuffled)

    assert compare_replicates(counts) == compare_replicates(shuffled)


@given(REPLICATES)
def test_a_verdict_says_what_it_rests_on(counts):
    """Two or four replicates of 100 go by the table, others by the formula; the limit decides."""
    verdict = compare_replicates(counts)

    assert (verdict.basis == "formula") == (len(counts) not in {2, 4})
    assert verdict.passes == (verdict.limit is None or verdict.range <= verdict.limit)
    assert (verdict.limit is None) == (verdict.basis == "no cell")


@given(REPLICATES)
def test_the_range_is_the_same_without_its_chance(counts):
    """A check asks whether the replicates pass, and the report how likely that is."""
    assert asdict(compare_range(counts)).items() <= asdict(compare_replicates(counts)).items()


@given(st.lists(st.integers(97, 100), min_size=4, max_size=4))
def test_no_cell_never_hides_a_wide_range(counts):
    """Where the table is blank the replicates cannot lie far apart anyway."""
    verdict = compare_replicates(counts)

    assert verdict.basis == "table" or verdict.range <= 2


def test_the_mean_is_rounded_half_up_before_the_table():
    """91.5 goes to 92: the cell for 91 and 92 is 11, that for 90 is 12."""
    assert (92, 11.0) == (compare_replicates((91, 92, 91, 92)).rounded_mean, range_limit(91.5, 4)[0])
    assert 12.0 == range_limit(90.4, 4)[0]


def test_percentages_of_smaller_replicates():
    """20, 22, 25 and 19 of 25 seeds: mean 86 %, range 24 points, by the formula, just inside."""
    verdict = compare_replicates((20, 22, 25, 19), 25)

    assert (86.0, 24.0, "formula", True) == (verdict.mean, verdict.range, verdict.basis, verdict.passes)


def test_replicates_that_agree_too_well():
    """Four times 60 of 100 is less spread than chance gives; four times 99 is not remarkable."""
    assert compare_replicates((60, 60, 60, 60)).unusually_close
    assert not compare_replicates((99, 99, 99, 99)).unusually_close
    assert not compare_replicates((60, 68, 57, 61)).unusually_close


def test_the_chance_of_a_wider_range_counts_this_one_too():
    """Two replicates of two seeds at 50 %: apart by two in one of eight, by one or more in five of eight."""
    assert 1 / 8 == pytest.approx(compare_replicates((0, 2), 2).chance)
    assert 1 / 2 == pytest.approx(compare_replicates((0, 1), 1).chance)
    assert 5 / 8 == pytest.approx(1 - range_chance(0, 2, 2, 0.5))


def test_all_or_none_germinated():
    """Every replicate at 100 % or at nothing passes, and is no surprise."""
    for count in (0, 100):
        verdict = compare_replicates((count,) * 4)
        assert (True, 1.0, False) == (verdict.passes, verdict.chance, verdict.unusually_close)


@given(st.integers(1, 40), st.integers(2, 5), st.floats(0, 1))
def test_wider_ranges_are_likelier_to_hold(seeds, replicates, share):
    """The chance grows with the spread and reaches one at the whole replicate."""
    chances = [range_chance(spread, replicates, seeds, share) for spread in range(seeds + 1)]

    assert all(a <= b + 1e-12 for a, b in pairwise(chances))
    assert 1.0 == pytest.approx(chances[-1])


@given(st.integers(0, 100), st.integers(0, 100))
def test_comparisons_are_mutual(one, other):
    """Label against test and test against label are the same, as are two tests."""
    assert compare_with_label(one, other) == compare_with_label(other, one)
    assert compare_tests(one, other) == compare_tests(other, one)
    assert compare_with_label(one, one).within


def test_comparisons_need_enough_seed():
    """Fewer than 400 seeds are not what the tables are for; 200 do for a mixture's component."""
    assert not compare_with_label(85, 80, 399).applies
    assert compare_with_label(85, 80, 200, mixture_of_200=True).applies
    assert not compare_with_label(85, 80, 199, mixture_of_200=True).applies
    assert not compare_tests(85, 80, seeds=200).applies


def test_two_tests_at_a_mean_without_a_cell():
    """100 and 100 agree; 100 and 99 have the rounded mean 100 and do not."""
    assert compare_tests(100, 100).within
    assert (None, False) == (compare_tests(100, 99).tolerance, compare_tests(100, 99).within)


def test_nonsense_is_refused():
    """One replicate, more seedlings than seeds, figures beyond 100 %, an unknown table."""
    with pytest.raises(ValueError, match="at least two"):
        compare_replicates((90,))
    with pytest.raises(ValueError, match="cannot hold 51"):
        compare_replicates((50, 51), 50)
    with pytest.raises(ValueError, match="between 0 % and 100 %"):
        label_tolerance(101)
    with pytest.raises(ValueError, match="between 0 % and 100 %"):
        range_limit(100.5, 4, 25)
    with pytest.raises(ValueError, match="no table 'mine'"):
        compare_tests(90, 91, "mine")


@pytest.mark.parametrize(
    ("labelled", "found", "mean", "difference", "tolerance", "within"),
    # 7 CFR 201.63: a mean of 80 or more allows 7 points.
    [(88, 81, 84.5, 7.0, 7, True), (88, 80, 84.0, 8.0, 7, False), (80, 88, 84.0, 8.0, 7, False)],
)
def test_a_label_is_held_against_the_mean_of_both(labelled, found, mean, difference, tolerance, within):
    """At the tolerance is within it, and either may be the greater."""
    told = compare_with_label(labelled, found)

    assert (mean, difference, tolerance, within, True) == (
        told.mean, told.difference, told.tolerance, told.within, told.applies,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("seeds", "mixture", "applies"),
    [(400, False, True), (399, False, False), (200, True, True), (199, True, False)],
)
def test_the_label_table_is_for_so_many_seeds(seeds, mixture, applies):
    """400, or 200 of a mixture's component, which is allowed two points more."""
    told = compare_with_label(88, 81, seeds, mixture_of_200=mixture)

    assert (applies, 9 if mixture else 7) == (told.applies, told.tolerance)


def test_the_formula_for_four_times_fifty():
    """At 80 % with 50 seeds a replicate: 3.984 · sqrt(80·20/50) is 22.5 points."""
    assert 22.5 == round(formula_range(80.0, 4, 50), 1)
    assert formula_range(80.0, 4, 50) == pytest.approx(formula_range(20.0, 4, 50))


@pytest.mark.parametrize(("replicates", "seeds"), [(2, 1), (2, 4), (3, 3), (4, 2)])
@pytest.mark.parametrize("share", [Fraction(1, 4), Fraction(1, 2), Fraction(9, 10)])
def test_the_chance_of_a_range_by_trying_every_outcome(replicates, seeds, share):
    """Each set of counts that replicates can have, with its binomial chance."""
    chances = [math.comb(seeds, k) * share**k * (1 - share) ** (seeds - k) for k in range(seeds + 1)]
    for spread in range(seeds + 1):
        expected = sum(
            math.prod(chances[count] for count in counts)
            for counts in product(range(seeds + 1), repeat=replicates)
            if max(counts) - min(counts) <= spread
        )

        assert float(expected) == pytest.approx(range_chance(spread, replicates, seeds, float(share)))


def test_a_range_at_its_cell_passes():
    """At a mean of 90 four replicates may lie 12 apart, and no more."""
    at, beyond = compare_replicates((96, 84, 90, 90)), compare_replicates((97, 84, 90, 89))

    assert (90.0, 90, 12.0, 12.0, "table", True) == (
        at.mean, at.rounded_mean, at.range, at.limit, at.basis, at.passes,
    )  # fmt: skip
    assert (90.0, 13.0, 12.0, False) == (beyond.mean, beyond.range, beyond.limit, beyond.passes)


def test_the_table_is_for_two_or_four_replicates_of_a_hundred():
    """Any other design goes by the formula; a hundred is meant where nothing is said."""
    designs = [(2, 100), (4, 100), (3, 100), (4, 50), (4, 99), (4, 101), (8, 100)]

    assert ["table", "table", *["formula"] * 5] == [range_limit(90, *design)[1] for design in designs]
    assert range_limit(90, 4) == range_limit(90, 4, 100)
    assert compare_replicates((90, 92)) == compare_replicates((90, 92), 100)
    assert limit_germination((90, 92)) == limit_germination((90, 92), 100, 0.95)


def test_the_smallest_designs():
    """Two replicates of one seed each; a replicate may be whole."""
    verdict = compare_replicates((1, 0), 1)

    assert (50.0, 50, 100.0, "formula") == (
        verdict.mean, verdict.rounded_mean, verdict.range, verdict.basis,
    )  # fmt: skip
    assert 100.0 == compare_replicates((1, 1), 1).mean
    # 3.170 · sqrt(50 · 50 / 1): chance can hardly exceed it.
    assert (158.5, True) == (round(verdict.limit, 1), verdict.passes)


def test_too_close_is_rarer_than_one_in_forty():
    """Two replicates of 1,000 seeds at one half: equal in 1.8 % of tests, at most one apart in 5.3 %."""
    equal, apart = compare_replicates((500, 500), 1000), compare_replicates((500, 501), 1000)

    assert 0.0178 == pytest.approx(range_chance(0, 2, 1000, 0.5), abs=1e-4)
    assert (True, False) == (equal.unusually_close, apart.unusually_close)
    assert (1.0, 0.982) == (equal.chance, pytest.approx(apart.chance, abs=1e-3))


def test_the_limits_of_all_replicates_together():
    """0 of 100 in all: 3.62 % at most, two-sided at 95 %, worked from 1 - 0.025^(1/100)."""
    limits = limit_germination((0, 0, 0, 0), 25)

    assert (0.0, 0.0, 2, 0.95) == (limits.estimate, limits.low, limits.sides, limits.confidence)
    assert 1 - 0.025**0.01 == pytest.approx(limits.high)
    assert 0.9 == limit_germination((90, 90)).estimate


@pytest.mark.parametrize(
    # 7 CFR 201.63.
    ("mean", "points"),
    [(100, 5), (96, 5), (95.9, 6), (90, 6), (89.9, 7), (80, 7), (79.9, 8), (70, 8), (69.9, 9), (60, 9),
     (59.9, 10), (0, 10)],
)  # fmt: skip
def test_label_tolerances_at_each_edge(mean, points):
    """Each step begins at its mean; a mixture's component of 200 seeds has two points more."""
    assert (points, points + 2) == (label_tolerance(mean), label_tolerance(mean, mixture_of_200=True))


def test_two_tests_at_their_tolerance():
    """At the cell of the mean they agree, a point beyond they do not; 400 seeds are taken for granted."""
    cell = compare_tests(90, 90).tolerance
    at = compare_tests(90 - Fraction(cell, 2), 90 + Fraction(cell, 2))
    beyond = compare_tests(90 - Fraction(cell + 1, 2), 90 + Fraction(cell + 1, 2))

    assert (90.0, cell, cell, True, True) == (at.mean, at.difference, at.tolerance, at.within, at.applies)
    assert (90.0, cell + 1, cell, False) == (
        beyond.mean, beyond.difference, beyond.tolerance, beyond.within,
    )  # fmt: skip
    assert (True, False) == (
        compare_tests(85, 80, seeds=400).applies,
        compare_tests(85, 80, seeds=399).applies,
    )
    assert compare_with_label(85, 80).applies


def test_nothing_and_all_are_germination_figures():
    """0 and 100 % are, beyond is refused."""
    assert (0.0, 10) == (compare_with_label(0, 0).mean, label_tolerance(0))
    for wrong in (-0.1, 100.1):
        with pytest.raises(ValueError, match="between 0 % and 100 %"):
            compare_tests(wrong, 50)


@pytest.mark.parametrize(
    ("ask", "message"),
    [
        (lambda: compare_replicates((0, 0), 0), "seeds in a replicate"),
        (lambda: compare_replicates((-1, 0)), "A replicate must be"),
        (lambda: formula_range(50, 1, 100), "number of replicates must be a whole number of at least 2"),
        (lambda: formula_range(50, 2, 0), "seeds in a replicate must be a whole number of at least 1"),
        (lambda: formula_range(-1, 2, 50), "between 0 % and 100 %"),
        (lambda: range_chance(1, 2, 50, 1.1), "The share"),
    ],
)
def test_every_argument_has_its_range(ask, message):
    """One step beyond it is refused by name."""
    with pytest.raises(ValueError, match=message):
        ask()
