"""Trees of one pool are judged together: against every way in which they may carry, in fractions."""

from __future__ import annotations

import math
import random
from fractions import Fraction
from itertools import combinations, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from certgen.figures.pooled_trees import (
    UNKNOWN,
    Chance,
    PoolResult,
    Weights,
    all_pass_chances,
    weigh_pooled,
)

TREES = ("A", "B", "C", "D")
EVEN = dict.fromkeys("AB", Weights(0.5, 0.0, 0.5))
SHARE = st.floats(0.02, 0.98)
WEIGHTS = st.builds(Weights, SHARE, st.sampled_from((0.0, 0.01, 0.2)), SHARE)


@st.composite
def pools(draw, signs=(True, False)):
    """Up to three pools over the four trees, that overlap as they come."""
    found = []
    for _ in range(draw(st.integers(0, 3))):
        trees = draw(st.frozensets(st.sampled_from(TREES), min_size=1))
        leaves = len(trees) + draw(st.integers(0, 2))
        found.append(
            PoolResult(
                draw(st.sampled_from(signs)),
                trees,
                leaves,
                draw(st.floats(0.5, 1)),
                draw(st.floats(0.8, 0.999)),
            )
        )
    return found


def enumerate_carriers(weights, results):
    """By tree the chance that it carries, over every configuration of clean, seen and mislaid carriers."""
    carrying, total = dict.fromkeys(weights, Fraction(0)), Fraction(0)
    for states in product(("clean", "seen", "mislaid"), repeat=len(weights)):
        of = dict(zip(weights, states, strict=True))
        chance = Fraction(1)
        for tree, state in of.items():
            chance *= Fraction(getattr(weights[tree], state))
        for pool in results:
            seen = sum(of[tree] == "seen" for tree in pool.trees)
            found = pool.sensitivity ** (pool.leaves / seen) if seen else 1 - pool.specificity
            chance *= Fraction(found if pool.positive else 1 - found)
        total += chance
        for tree, state in of.items():
            carrying[tree] += chance * (state != "clean")
    return {tree: float(chance / total) for tree, chance in carrying.items()}


@settings(max_examples=60)
@given(st.fixed_dictionaries(dict.fromkeys(TREES, WEIGHTS)), pools())
def test_each_tree_has_the_chance_of_the_enumeration(weights, results):
    """81 configurations; pools positive and negative, apart and over one another."""
    found = weigh_pooled(weights, results)

    assert enumerate_carriers(weights, results) == pytest.approx(
        {tree: one.low for tree, one in found.items()}
    )
    assert all(one.exact for one in found.values())


@settings(max_examples=60)
@given(st.fixed_dictionaries(dict.fromkeys(TREES, WEIGHTS)), pools())
def test_where_it_is_not_exact_the_bounds_hold(weights, results):
    """No state may be looked at: the chance lies between the bounds that stand in its place."""
    bounds = weigh_pooled(weights, results, most_states=0)
    exact = enumerate_carriers(weights, results)

    assert all(bounds[tree].low - 1e-9 <= exact[tree] <= bounds[tree].high + 1e-9 for tree in TREES)


def test_two_trees_of_a_positive_pool():
    """From 10 % each to 50.5 %: one of the two it must be, unless the pool was wrong."""
    found = weigh_pooled(
        dict.fromkeys("AB", Weights(0.1, 0.0, 0.9)), [PoolResult(True, frozenset("AB"), 2, 0.99, 0.99)]
    )
    # 0.1·(0.9·0.99² + 0.1·0.99) against all: 0.18·0.99² + 0.01·0.99 + 0.81·0.01.
    chance = 0.1 * (0.9 * 0.99**2 + 0.1 * 0.99) / (0.18 * 0.99**2 + 0.01 * 0.99 + 0.81 * 0.01)

    assert {"A": chance, "B": chance} == pytest.approx({tree: one.low for tree, one in found.items()})
    assert 0.505 == round(chance, 3)


def test_a_known_carrier_explains_its_pool():
    """Its own leaf was positive: the others of the pool fall back to about what they were before."""
    trees = frozenset("ABC")
    alone = dict.fromkeys("ABC", Weights(0.1, 0.0, 0.9))
    pool = [PoolResult(True, trees, 3, 0.99, 0.99)]
    before = weigh_pooled(alone, pool)["B"].low
    after = weigh_pooled({**alone, "A": Weights(0.1 * 0.99, 0.0, 0.9 * 0.001)}, pool)["B"].low

    assert 0.1 < after < 0.12
    assert 0.3 < before


def test_a_simulated_pool_of_twelve():
    """200,000 pools of unlike trees, seed 16: carriers among those found positive, within four errors."""
    drawn = random.Random(16)
    priors = [0.02 * (at + 1) for at in range(12)]
    names = [f"T{at}" for at in range(12)]
    hits, positive = [0] * 12, 0
    for _ in range(200_000):
        carries = [drawn.random() < prior for prior in priors]
        number = sum(carries)
        if drawn.random() < (0.98 ** (12 / number) if number else 0.02):
            positive += 1
            hits = [hit + one for hit, one in zip(hits, carries, strict=True)]
    weights = {name: Weights(prior, 0.0, 1 - prior) for name, prior in zip(names, priors, strict=True)}
    found = weigh_pooled(weights, [PoolResult(True, frozenset(names), 12, 0.98, 0.98)])

    for name, hit in zip(names, hits, strict=True):
        error = math.sqrt(found[name].low * (1 - found[name].low) / positive)
        assert abs(hit / positive - found[name].low) < 4 * error


def test_a_large_pool_is_still_exact():
    """Two hundred trees in one pool: every number of carriers, by scipy's binomial."""
    names = [f"T{at}" for at in range(200)]
    found = weigh_pooled(
        {name: Weights(0.01, 0.0, 0.99) for name in names},
        [PoolResult(True, frozenset(names), 200, 0.999, 0.99)],
    )
    others = stats.binom(199, 0.01).pmf
    carrying = 0.01 * math.fsum(others(k) * 0.999 ** (200 / (k + 1)) for k in range(200))
    clean = 0.99 * math.fsum(others(k) * (0.999 ** (200 / k) if k else 0.01) for k in range(200))

    assert all(one.exact for one in found.values())
    assert carrying / (carrying + clean) == pytest.approx(found["T7"].low)


def test_contradictions_beyond_doubt_tell_nothing():
    """A pool that cannot be wrongly positive, of trees that cannot carry; a tree whose own results clash."""
    sure = PoolResult(True, frozenset("AB"), 2, 1.0, 1.0)
    clean = dict.fromkeys("ABC", Weights(0.0, 0.0, 1.0))

    assert {"A": UNKNOWN, "B": UNKNOWN, "C": Chance(0.0, 0.0)} == weigh_pooled(clean, [sure])
    clash = {**dict.fromkeys("BC", Weights(0.1, 0.0, 0.9)), "A": Weights(0.0, 0.0, 0.0)}
    assert {"A": UNKNOWN, "B": UNKNOWN, "C": Chance(0.1, 0.1)} == weigh_pooled(clash, [sure])
    assert UNKNOWN == weigh_pooled({"A": Weights(0.0, 0.0, 0.0)}, [])["A"]


def test_bounds_of_tests_that_cannot_be_wrong():
    """A positive without false ones may settle it; a carrier beyond doubt stays one."""
    pool = [PoolResult(True, frozenset("AB"), 2, 0.9, 1.0)]
    bounds = weigh_pooled({"A": Weights(0.1, 0.0, 0.9), "B": Weights(1.0, 0.0, 0.0)}, pool, most_states=0)

    assert 1.0 == bounds["A"].high
    assert Chance(1.0, 1.0) == bounds["B"]


def enumerate_passing(misses, results, number, error):
    """The chance that so many carriers all pass: every set of them, every way of mislaying their leaves."""
    total = 0.0
    for chosen in combinations(misses, number):
        for mislaid in product((True, False), repeat=number):
            chance = math.prod(
                error if gone else (1 - error) * misses[tree]
                for tree, gone in zip(chosen, mislaid, strict=True)
            )
            seen = {tree for tree, gone in zip(chosen, mislaid, strict=True) if not gone}
            for pool in results:
                there = len(seen & pool.trees)
                chance *= 1 - pool.sensitivity ** (pool.leaves / there) if there else 1.0
            total += chance
    return total / math.comb(len(misses), number)


@settings(max_examples=50)
@given(
    st.fixed_dictionaries(dict.fromkeys((*TREES, "E"), SHARE)),
    pools(signs=(False,)),
    st.sampled_from((0.0, 0.005, 0.3)),
)
def test_so_many_carriers_pass_as_the_enumeration_says(misses, results, error):
    """None to all five of them."""
    found = all_pass_chances(misses, results, 5, error)

    assert [enumerate_passing(misses, results, number, error) for number in range(6)] == pytest.approx(
        list(found)
    )
    assert 1.0 == found[0]


def test_carriers_of_one_pool_pass_together_or_not_at_all():
    """Two in one pool of ten pass likelier than two in pools of their own."""
    names = [f"T{at}" for at in range(10)]
    misses = dict.fromkeys(names, 1.0)
    together = all_pass_chances(misses, [PoolResult(False, frozenset(names), 10, 0.99)], 2)

    assert 1 - 0.99**5 == pytest.approx(together[2])
    assert together[2] > together[1] ** 2


def test_pools_that_overlap_too_much_are_left_out():
    """The figure without them is no smaller; a positive pool is no part of what was passed."""
    misses = dict.fromkeys(TREES, 0.5)
    results = [PoolResult(False, frozenset("AB"), 2, 0.9), PoolResult(False, frozenset("BC"), 2, 0.9)]
    bare = all_pass_chances(misses, results, 2, most_states=1)

    assert (1.0, 0.5, 0.25) == pytest.approx(bare)
    assert bare > all_pass_chances(misses, results, 2)
    assert bare == all_pass_chances(misses, [PoolResult(True, frozenset("AB"), 2, 0.9)], 2)


@pytest.mark.parametrize(
    ("ask", "said"),
    [
        (lambda: all_pass_chances({"A": 0.1}, [], 2), "more than there are"),
        (lambda: all_pass_chances({"A": 0.1}, [], -1), "whole number"),
        (lambda: all_pass_chances({"A": 0.1}, [], 1, 1.1), "handling error"),
        (lambda: all_pass_chances({"A": 1.1}, [], 1), "chance to miss"),
        (lambda: weigh_pooled(EVEN, [PoolResult(True, frozenset("AB"), 1, 0.9)]), "more than it holds"),
        (lambda: weigh_pooled(EVEN, [PoolResult(True, frozenset("AB"), 2, 1.1)]), "The sensitivity"),
        (lambda: weigh_pooled(EVEN, [PoolResult(True, frozenset("AB"), 2, 1, -0.1)]), "The specificity"),
        (lambda: weigh_pooled({"A": Weights(-0.1, 0, 1)}, []), "A tree's weight"),
        (lambda: weigh_pooled({}, [PoolResult(True, frozenset("A"), 1, 0.9)]), "nothing else is given"),
        (lambda: all_pass_chances({}, [PoolResult(False, frozenset("A"), 1, 0.9)], 0), "nothing else"),
        (
            lambda: weigh_pooled({"A": Weights(1, 0, 1)}, [PoolResult(True, frozenset("A"), 0, 0.9)]),
            "leaves in a pool",
        ),
    ],
)
def test_nonsense_is_refused(ask, said):
    """By name, and in words."""
    with pytest.raises(ValueError, match=said):
        ask()
