"""Parents to take for an effective number of them."""

from __future__ import annotations

import random
from fractions import Fraction
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.figures.effective_number import (
    count_parents,
    count_with_failures,
    effective_by_families,
    effective_of,
    family_variance,
    reduce_by_inbreeding,
    spread_shares,
)
from certgen.figures.parents import count_effective

GIFTS = st.lists(st.integers(1, 1000), min_size=1, max_size=40)


@given(GIFTS)
def test_number_and_spread_are_the_effective_number(gifts):
    """n / (1 + C) is (Σw)² / Σw², in fractions and here."""
    exact = Fraction(sum(gifts) ** 2, sum(gift * gift for gift in gifts))

    assert effective_of(len(gifts), spread_shares(gifts)) == pytest.approx(float(exact))
    assert count_effective(gifts) == pytest.approx(float(exact))


@given(GIFTS, st.integers(1, 200))
def test_so_many_parents_are_enough_and_one_fewer_is_not(gifts, wanted):
    """At the spread that those gifts have."""
    spread = spread_shares(gifts)
    number = count_parents(wanted, spread)

    assert effective_of(number, spread) >= wanted * (1 - 1e-9)
    assert number == 1 or effective_of(number - 1, spread) < wanted * (1 + 1e-9)


@given(GIFTS, st.integers(2, 5))
def test_a_herd_of_the_same_kind_has_the_same_spread(gifts, times):
    """Twice the parents giving alike have twice the effective number."""
    assert spread_shares(gifts * times) == pytest.approx(spread_shares(gifts), abs=1e-9)


def test_equal_parents_are_as_many_as_they_are():
    """No spread, whatever they gave; parents that gave nothing aren't counted."""
    assert 0 == spread_shares({"T1": 5, "T2": 5, "T3": 0})
    assert 20 == count_parents(20, 0)


def test_a_simulated_line_drifts_as_the_effective_number_says():
    """One gene of each of 12 unequal parents (seed 11), given as often as it gives: variance p·q/Ne."""
    source = random.Random(11)
    gifts = [1, 1, 1, 1, 2, 2, 2, 3, 3, 4, 5, 7]
    drift = 0.0
    for _ in range(40_000):
        # Each parent holds two genes, a half of them of one kind; it gives as its gift says, either gene.
        genes = [source.random() < 0.5 for _ in range(24)]
        kept = [source.choice((genes[2 * at], genes[2 * at + 1])) for at in range(12)]
        share = sum(gift * gene for gift, gene in zip(gifts, kept, strict=True)) / sum(gifts)
        drift += (share - 0.5) ** 2
    expected = 0.25 / effective_of(len(gifts), spread_shares(gifts))

    assert drift / 40_000 == pytest.approx(expected, rel=0.03)


def test_family_sizes_of_chance_leave_nearly_all():
    """Poisson families of two: n - 1/2 (Wright). None but one parent: under one of ten."""
    assert 19.5 == effective_by_families(20, 2, family_variance(2, 0))
    assert 39 == effective_by_families(20, 2, 0)


def test_family_variance_is_that_of_every_case():
    """Parents that give 1, 2 or 3 parts, families of two on average: chance and spread add up."""
    gifts = (1, 2, 3)
    spread = spread_shares(gifts)
    # Each gift's families are Poisson around gift·2/mean: mean of variances, and variance of means.
    means = [2 * gift / 2 for gift in gifts]
    total = sum(means) / 3 + sum((mean - 2) ** 2 for mean in means) / 3

    assert family_variance(2, spread) == pytest.approx(total)


def test_pure_lines_count_half():
    """F = 1; a line that isn't inbred keeps all."""
    assert (10, 20) == (reduce_by_inbreeding(20, 1), reduce_by_inbreeding(20, 0))


def test_trees_that_bear_are_counted_whole():
    """One bag each of which half set: forty for twenty, and not forty-one."""
    assert 40 == count_with_failures(20, 1, 0.5)


def test_no_parents_have_no_effective_number():
    """By their families either."""
    with pytest.raises(ValueError, match="whole number of at least 1"):
        effective_by_families(0, 2, 2)


@pytest.mark.parametrize("share", [Fraction(1, 2), Fraction(2, 3)])
def test_trees_that_bear_are_counted_case_by_case(share):
    """Three bags a tree: of all cases of set or not, those with at least one."""
    bears = sum(
        share ** sum(sets) * (1 - share) ** (3 - sum(sets)) for sets in product((0, 1), repeat=3) if any(sets)
    )
    needed = -(-20 // bears)

    assert needed == count_with_failures(20, 3, float(share))


@pytest.mark.parametrize(
    "call",
    [
        lambda: effective_of(0, 0.1),
        lambda: effective_of(5, -0.1),
        lambda: effective_of(5, float("nan")),
        lambda: count_parents(0.5, 0),
        lambda: count_parents(float("nan"), 0),
        lambda: count_parents(20, float("inf")),
        lambda: family_variance(0, 1),
        lambda: family_variance(2, -1),
        lambda: effective_by_families(0, 2, 2),
        lambda: effective_by_families(5, 1, 0),
        lambda: effective_by_families(5, float("nan"), 2),
        lambda: effective_by_families(5, 2, -1),
        lambda: effective_by_families(5, 0, 2),
        lambda: effective_by_families(5, float("inf"), 2),
        lambda: effective_by_families(5, 2, float("inf")),
        lambda: reduce_by_inbreeding(0, 0),
        lambda: reduce_by_inbreeding(5, 2),
        lambda: count_with_failures(0, 3, 0.5),
        lambda: count_with_failures(5, 0, 0.5),
        lambda: count_with_failures(5, 3, 0),
        lambda: spread_shares([]),
    ],
)
def test_what_cannot_be_is_refused(call):
    """At once, in words."""
    with pytest.raises(ValueError, match=r"must|number|family size|no parent|No parent"):
        call()
