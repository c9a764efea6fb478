"""Odds move the right way, repeats do not multiply, and blind spots stay."""

from __future__ import annotations

import math
from fractions import Fraction
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from certgen.figures.odds import (
    MethodResult,
    estimate_prevalence,
    keep_strongest,
    negative_value,
    pass_chance,
    positive_value,
    seed_negative_chance,
    update_by_seed,
    update_events,
    update_tree,
)

SHARES = st.floats(0.01, 0.99)
GUS = MethodResult("gus", positive=False, sensitivity=0.98)
PCR = MethodResult("pcr 35S", positive=False, sensitivity=0.95)


@given(SHARES, st.floats(0.5, 0.99), st.floats(0.51, 1))
def test_a_negative_lowers_and_a_positive_raises(prior, sensitivity, specificity):
    """With a test better than a coin."""
    negative = update_tree(prior, [MethodResult("gus", False, sensitivity, specificity)])
    positive = update_tree(prior, [MethodResult("gus", True, sensitivity, specificity)])

    assert negative < prior < positive
    assert negative == pytest.approx(1 - negative_value(prior, sensitivity, specificity))
    assert positive == pytest.approx(positive_value(prior, sensitivity, specificity))


def test_repeats_of_one_method_count_once():
    """Three negatives by one method say no more than the strongest of them."""
    weak = MethodResult("gus", positive=False, sensitivity=0.7)

    assert (GUS,) == keep_strongest([weak, GUS, weak])
    assert update_tree(0.1, [GUS]) == update_tree(0.1, [GUS, weak, GUS])


def test_different_methods_multiply():
    """Two methods together leave less than either."""
    assert update_tree(0.1, [GUS, PCR]) < min(update_tree(0.1, [GUS]), update_tree(0.1, [PCR]))


def test_no_result_leaves_the_prior():
    """Without a test nothing is known beyond what was."""
    assert 0.2 == pytest.approx(update_tree(0.2, []))


def test_two_targets_of_one_kind_are_two_methods():
    """An assay that sees the other event closes the gap."""
    seen = [(GUS, frozenset({"marked"})), (PCR, frozenset({"marked", "unmarked"}))]

    assert update_events({"marked": 0.05, "unmarked": 0.02}, seen)["unmarked"] < 0.0011


def test_contradictions_beyond_doubt_are_refused():
    """A positive that cannot be false and a negative that cannot be false do not go together."""
    sure = MethodResult("event", positive=False, sensitivity=1.0)
    with pytest.raises(ValueError, match="contradict"):
        update_tree(0.5, [sure, MethodResult("pcr", positive=True, sensitivity=0.9)])


def test_a_test_no_better_than_a_coin_says_nothing():
    """True and false results being equally likely, both values are even."""
    assert 0.5 == pytest.approx(positive_value(0.5, 0.9, 0.1))
    assert 0.5 == pytest.approx(negative_value(0.5, 0.9, 0.1))


@pytest.mark.parametrize(
    ("result", "likelihoods", "strength"),
    [
        (MethodResult("gus", True, 0.9, 0.7), (0.9, 0.3), math.log(3)),
        (MethodResult("gus", False, 0.9, 0.8), (0.1, 0.8), math.log(8)),
        (MethodResult("gus", True, 0.9), (0.9, 0.0), math.inf),
        (MethodResult("gus", False, 1.0, 0.9), (0.0, 0.9), math.inf),
        (MethodResult("gus", True, 0.0, 1.0), (0.0, 0.0), 0.0),
        (MethodResult("gus", False, 0.5, 0.5), (0.5, 0.5), 0.0),
    ],
)
def test_how_far_a_result_moves_the_odds(result, likelihoods, strength):
    """The logarithm of the ratio; what settles it is beyond all, what says nothing is nothing."""
    assert likelihoods == pytest.approx(result.likelihoods)
    assert strength == pytest.approx(result.strength)


def test_bayes_by_hand():
    """One in ten, then a negative at 90 and 80 %: 0.01 against 0.72; then a positive: 0.09 against 0.18."""
    assert 1 / 73 == pytest.approx(update_tree(0.1, [MethodResult("gus", False, 0.9, 0.8)]))
    assert 1 / 3 == pytest.approx(update_tree(0.1, [MethodResult("gus", True, 0.9, 0.8)]))
    assert (1 / 3, 72 / 73) == pytest.approx((positive_value(0.1, 0.9, 0.8), negative_value(0.1, 0.9, 0.8)))
    assert (0.0, 1.0) == (update_tree(0, [GUS]), update_tree(1, [GUS]))
    assert (1.0, 1.0) == (positive_value(1, 0.5, 1), negative_value(0, 0.5, 0.5))


@given(st.permutations([GUS, PCR, MethodResult("strip", True, 0.9, 0.9), MethodResult("gus", False, 0.5)]))
def test_the_order_of_results_is_irrelevant(results):
    """Bayes does not mind which came first."""
    assert update_tree(0.3, [GUS, PCR, MethodResult("strip", True, 0.9, 0.9)]) == pytest.approx(
        update_tree(0.3, results)
    )


def test_a_negative_of_the_same_method_takes_no_positive_back():
    """However much stronger it is; another method's negative weighs against it as usual."""
    weak = MethodResult("strip", True, 0.6, 0.5)
    strong = MethodResult("strip", False, 0.99, 0.99)

    assert strong.strength > weak.strength
    assert (weak,) == keep_strongest([strong, weak]) == keep_strongest([weak, strong])
    assert update_tree(0.1, [weak]) == update_tree(0.1, [weak, strong])
    assert update_tree(0.1, [weak, GUS]) < update_tree(0.1, [weak])


@given(SHARES, SHARES, st.lists(SHARES, max_size=4))
def test_listing_more_events_changes_no_other_answer(prior, other, more):
    """Negatives and positives, whether their methods see the added events or not."""
    results = [
        (GUS, frozenset({"marked", "0", "2"})),
        (MethodResult("strip", True, 0.9, 0.9), frozenset({"marked", "unmarked", "1"})),
    ]
    few = update_events({"marked": prior, "unmarked": other}, results)
    many = update_events(
        {"marked": prior, "unmarked": other, **{str(at): one for at, one in enumerate(more)}}, results
    )

    assert few == {event: many[event] for event in few}


def test_an_event_that_no_method_sees_keeps_its_chance():
    """Exactly, whatever the others' results."""
    left = update_events({"marked": 0.05, "unmarked": 0.02}, [(GUS, frozenset({"marked"}))])

    assert 0.05 * 0.02 / (0.05 * 0.02 + 0.95) == pytest.approx(left["marked"])
    assert 0.02 == pytest.approx(left["unmarked"])


def test_the_chance_to_pass_by_enumeration():
    """Every way in which two methods and the handling may go, in fractions, with its chance."""
    misses, error = [Fraction(2, 100), Fraction(1, 100)], Fraction(5, 1000)
    passed = Fraction(0)
    for mislaid, *missed in product((True, False), repeat=3):
        chance = error if mislaid else 1 - error
        for miss, gone in zip(misses, missed, strict=True):
            chance *= miss if gone else 1 - miss
        if mislaid or all(missed):
            passed += chance

    assert float(passed) == pytest.approx(pass_chance(map(float, misses), 0.005))
    assert 1.0 == pass_chance([]) == pass_chance([], 0.3)
    assert 0.0 == pass_chance([0.0])
    assert 0.3 == pytest.approx(pass_chance([0.0], 0.3))


@given(SHARES, st.lists(st.floats(0.01, 1), min_size=1, max_size=3), st.floats(0, 0.5))
def test_handling_errors_leave_at_least_themselves(prior, sensitivities, error):
    """No number of negatives takes a tree below what mislaid leaves leave; without error it is Bayes."""
    results = [MethodResult(str(at), False, one) for at, one in enumerate(sensitivities)]
    missed = math.prod(1 - one for one in sensitivities)
    passed = pass_chance((1 - one for one in sensitivities), error)

    assert prior * passed / (prior * passed + 1 - prior) == pytest.approx(
        update_tree(prior, results, error), rel=1e-12, abs=1e-15
    )
    assert update_tree(prior, results, error) >= prior * error / (prior * error + 1 - prior) * (1 - 1e-12)
    assert prior * missed / (prior * missed + 1 - prior) == pytest.approx(
        update_tree(prior, results), rel=1e-12, abs=1e-15
    )


@given(st.integers(0, 60), st.integers(1, 60), st.floats(0.51, 1), st.floats(0.51, 1))
def test_scipy_agrees_on_the_limits_of_a_corrected_share(positive, more, sensitivity, specificity):
    """Rogan and Gladen's correction of scipy's exact limits, held within nought and one."""
    tested = positive + more
    share = estimate_prevalence(positive, tested, sensitivity, specificity)
    exact = stats.binomtest(positive, tested).proportion_ci(0.95, "exact")
    low, middle, high = (
        min(1.0, max(0.0, (one + specificity - 1) / (sensitivity + specificity - 1)))
        for one in (exact.low, positive / tested, exact.high)
    )

    assert (low, middle, high) == pytest.approx((share.low, share.estimate, share.high), abs=1e-9)
    assert positive / tested == share.apparent


def test_a_perfect_method_needs_no_correction():
    """The counted share stands as it is."""
    share = estimate_prevalence(3, 20, 1, 1)

    assert 0.15 == share.apparent == pytest.approx(share.estimate)


def test_what_the_lots_own_seed_says_of_a_parent_by_enumeration():
    """Two pools of two seeds in fractions: every seed, every pool, the sample mislaid or not."""
    p, finds, spares, error, prior = (Fraction(*one) for one in ((1, 5), (9, 10), (19, 20), (1, 50), (1, 4)))

    def all_negative(share: Fraction) -> Fraction:
        one = Fraction(0)
        for seeds in product((True, False), repeat=2):
            chance = Fraction(1)
            for carries in seeds:
                chance *= share if carries else 1 - share
            one += chance * ((1 - finds) if any(seeds) else spares)
        return one**2

    clean = all_negative(Fraction(0))
    carrying = error * clean + (1 - error) * all_negative(p)

    assert float(all_negative(p)) == pytest.approx(seed_negative_chance(0.2, 2, 2, 0.9, 0.95))
    assert float(prior * carrying / (prior * carrying + (1 - prior) * clean)) == pytest.approx(
        update_by_seed(0.25, 0.2, 2, 2, 0.9, 0.95, 0.02)
    )


@given(SHARES, SHARES, st.integers(1, 20), st.integers(1, 300))
def test_clean_seed_never_raises_a_parents_chance(chance, share, pools, seeds):
    """A test better than a coin; a parent that gives nothing keeps its chance."""
    assert update_by_seed(chance, share, pools, seeds, 0.9, 0.9) <= chance + 1e-12
    assert chance == pytest.approx(update_by_seed(chance, 0.0, pools, seeds, 0.9, 0.9))


def test_nonsense_is_refused():
    """Results that cannot occur, a method no better than a coin, seed whose negative cannot be."""
    with pytest.raises(ValueError, match="cannot occur"):
        positive_value(0, 0.9, 1)
    with pytest.raises(ValueError, match="cannot occur"):
        negative_value(1, 1, 1)
    with pytest.raises(ValueError, match="no oftener"):
        estimate_prevalence(1, 10, 0.5, 0.5)
    with pytest.raises(ValueError, match="says nothing"):
        update_by_seed(0.5, 1.0, 1, 1, 1.0, 0.0)


@pytest.mark.parametrize(
    "ask",
    [
        lambda: update_tree(1.1, []),
        lambda: update_tree(0.1, [MethodResult("gus", True, 1.1)]),
        lambda: update_tree(0.1, [MethodResult("gus", True, 0.9, 1.1)]),
        lambda: update_tree(0.1, [], -0.1),
        lambda: update_tree(math.nan, []),
        lambda: positive_value(1.1, 0.9, 0.9),
        lambda: positive_value(0.1, 1.1, 0.9),
        lambda: negative_value(0.1, 0.9, 1.1),
        lambda: pass_chance([1.1]),
        lambda: pass_chance([0.1], math.nan),
        lambda: estimate_prevalence(1, 2, 1.1, 1),
        lambda: estimate_prevalence(1, 2, 1, 1.1),
        lambda: seed_negative_chance(1.1, 1, 1, 0.9),
        lambda: update_by_seed(1.1, 0.1, 1, 1, 0.9),
        lambda: update_by_seed(0.1, 0.1, 1, 1, 0.9, 1.0, 1.1),
    ],
)
def test_every_share_is_a_share(ask):
    """Beyond nought and one it is refused by name."""
    with pytest.raises(ValueError, match="must lie from 0 up to 1"):
        ask()


@pytest.mark.parametrize("plan", [(0, 10), (10, 0), (1.5, 10), (True, 10)])
def test_a_seed_test_has_pools_of_seeds(plan):
    """Whole numbers from one."""
    with pytest.raises(ValueError, match="whole number of at least 1"):
        seed_negative_chance(0.1, *plan, 0.9)
