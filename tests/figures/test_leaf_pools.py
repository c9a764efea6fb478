"""Leaves in pools: tests to expect and carriers missed, against every case counted and a simulation."""

from __future__ import annotations

import random
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.figures.leaf_pools import design_pools, dilute, find_cheapest, positive_chance


@given(st.integers(1, 9), st.floats(0, 1), st.floats(0.5, 1), st.floats(0.5, 1))
def test_a_pool_is_positive_as_often_as_every_case_says(leaves, prevalence, sensitivity, specificity):
    """All 2^n trees that carry or don't, each with its chance."""
    chance = 0.0
    for carries in product([False, True], repeat=leaves):
        number = sum(carries)
        weight = prevalence**number * (1 - prevalence) ** (leaves - number)
        chance += weight * (sensitivity ** (leaves / number) if number else 1 - specificity)

    assert positive_chance(leaves, prevalence, sensitivity, specificity) == pytest.approx(chance, abs=1e-12)


def test_a_simulated_round_costs_what_is_expected():
    """Twenty thousand rounds of 17 trees in pools of up to 5 (seed 7), the pools drawn by hand."""
    source = random.Random(7)
    prevalence, sensitivity, specificity = 0.1, 0.95, 0.98
    total = 0
    for _ in range(20_000):
        for size in (5, 4, 4, 4):
            carriers = sum(source.random() < prevalence for _ in range(size))
            found = sensitivity ** (size / carriers) if carriers else 1 - specificity
            total += 1 + (size if source.random() < found else 0)
    design = design_pools(17, 5, prevalence, sensitivity, specificity)

    assert (4, 5) == (design.pools, design.leaves)
    assert total / 20_000 == pytest.approx(design.tests, rel=0.01)


@given(st.integers(1, 300), st.integers(1, 40), st.floats(0, 1))
def test_a_perfect_test_costs_at_least_its_pools(trees, leaves, prevalence):
    """Between the pools alone and the pools with every tree after them; nothing is missed."""
    design = design_pools(trees, leaves, prevalence)

    assert design.pools <= design.tests <= design.pools + trees + 1e-9
    assert 0 == design.missed
    assert design.leaves <= min(trees, leaves)
    assert design.pools * design.leaves >= trees


@given(st.integers(1, 60), st.integers(1, 20), st.floats(0, 1), st.floats(0.5, 1))
def test_the_cheapest_is_cheapest(trees, largest, prevalence, sensitivity):
    """No size within the largest costs less; single leaves are among them."""
    best = find_cheapest(trees, largest, prevalence, sensitivity)
    costs = [design_pools(trees, size, prevalence, sensitivity).tests for size in range(1, largest + 1)]

    assert best.tests <= min(costs) + 1e-8
    assert best.tests <= trees + 1e-9
    assert best.leaves <= largest


def test_single_leaves_are_tested_once():
    """A pool of one needs no second test; where most trees carry, no pool saves any."""
    assert 17 == design_pools(17, 1, 0.5, 0.98, 0.99).tests
    assert 1 == find_cheapest(17, 10, 0.7).leaves


@given(st.floats(0, 1), st.integers(1, 50), st.data())
def test_dilution_only_ever_hides(sensitivity, leaves, data):
    """A larger pool finds a carrier no more often, more carriers no less, all of them as a single leaf."""
    carriers = data.draw(st.integers(1, leaves))

    assert dilute(sensitivity, leaves + 1, carriers) <= dilute(sensitivity, leaves, carriers)
    assert dilute(sensitivity, leaves, carriers) <= dilute(sensitivity, leaves, min(leaves, carriers + 1))
    assert sensitivity == dilute(sensitivity, leaves, leaves)


@pytest.mark.parametrize(
    "call",
    [
        lambda: dilute(1.1, 2),
        lambda: dilute(0.9, 0),
        lambda: dilute(0.9, 2, 3),
        lambda: dilute(0.9, 2, 0),
        lambda: positive_chance(5, float("nan")),
        lambda: positive_chance(0, 0.1),
        lambda: positive_chance(5, 0.1, 0.9, 2),
        lambda: design_pools(0, 5, 0.1),
        lambda: design_pools(5, 0, 0.1),
        lambda: find_cheapest(0, 5, 0.1),
        lambda: find_cheapest(5, 0, 0.1),
        lambda: find_cheapest(10**9, 10**9, 0.1),
        lambda: positive_chance(10**9, 0.1),
        lambda: dilute(True, 2),
    ],
)
def test_what_cannot_be_is_refused(call):
    """In words, each of them."""
    with pytest.raises(ValueError, match=r"must|there are not so many"):
        call()
