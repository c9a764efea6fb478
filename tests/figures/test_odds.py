"""Odds move the right way, repeats do not multiply, and blind spots stay."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.figures.odds import (
    MethodResult,
    Parent,
    judge_lot,
    keep_strongest,
    negative_value,
    positive_value,
    update_events,
    update_tree,
    weigh_each_untested,
    weigh_untested,
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


def test_a_result_that_says_nothing_is_the_weakest():
    """A coin's result never stands before one that moves the odds a little."""
    coin = MethodResult("gus", positive=True, sensitivity=0.5, specificity=0.5)
    little = MethodResult("gus", positive=False, sensitivity=0.6, specificity=0.6)

    assert (little,) == keep_strongest([coin, little])


def test_different_methods_multiply():
    """Two methods together leave less than either."""
    assert update_tree(0.1, [GUS, PCR]) < min(update_tree(0.1, [GUS]), update_tree(0.1, [PCR]))


@given(st.permutations([GUS, PCR, MethodResult("strip", True, 0.9, 0.9), MethodResult("gus", False, 0.5)]))
def test_the_order_of_results_is_irrelevant(results):
    """Bayes does not mind which came first."""
    assert update_tree(0.3, [GUS, PCR, MethodResult("strip", True, 0.9, 0.9)]) == pytest.approx(
        update_tree(0.3, results)
    )


def test_no_result_leaves_the_prior():
    """Without a test nothing is known beyond what was."""
    assert 0.2 == pytest.approx(update_tree(0.2, []))


def test_a_blind_spot_stays():
    """A marker assay clears the event with the marker; one without it stays as likely, or more."""
    left = update_events({"marked": 0.05, "unmarked": 0.02}, [(GUS, frozenset({"marked"}))])

    assert left["marked"] < 0.0011
    assert 0.02 < left["unmarked"] < 0.022


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


def test_a_lot_of_cleared_parents():
    """Nothing uncleared; the one parent that would weigh most; the chance that any is transgenic."""
    odds = judge_lot([Parent("A", 0.75, 0.01, cleared=True), Parent("B", 0.25, 0.02, cleared=True)])

    assert 0.009375 == pytest.approx(odds.expected)
    assert 0.0298 == pytest.approx(odds.any_parent)
    assert (0.0, 0.5625) == (odds.uncleared, odds.one_parent)


def test_an_uncleared_parent_counts_with_all_its_seed():
    """The worst case takes an untested parent as having two copies."""
    odds = judge_lot([Parent("A", 0.75, 0.01, cleared=True), Parent("B", 0.25, 0.1, cleared=False)])

    assert 0.25 == odds.uncleared


@given(st.lists(st.tuples(st.integers(1, 50), SHARES, st.booleans()), min_size=1, max_size=8))
def test_expectation_never_exceeds_the_parents_seed(parts):
    """Expected share between nothing and the embryo share; never above the largest chance."""
    total = sum(weight for weight, _, _ in parts)
    parents = [Parent(str(i), w / total, chance, cleared) for i, (w, chance, cleared) in enumerate(parts)]
    odds = judge_lot(parents)

    assert 0 <= odds.expected <= 0.75 * max(parent.chance for parent in parents) + 1e-12
    assert max(parent.chance for parent in parents) <= odds.any_parent + 1e-12


def test_nonsense_is_refused():
    """Shares that do not add up, an absent parent, priors beyond one, results that cannot occur."""
    lot = [Parent("A", 1.0, 0.1, cleared=False)]
    with pytest.raises(ValueError, match="add up to 1"):
        judge_lot([Parent("A", 0.5, 0.1, cleared=True)])
    with pytest.raises(ValueError, match="not among"):
        weigh_untested(lot, "B", 0.01)
    with pytest.raises(ValueError, match="no risk"):
        weigh_untested(lot, "A", 0)
    with pytest.raises(ValueError, match="more than 1"):
        update_events({"one": 0.6, "two": 0.6}, [])
    with pytest.raises(ValueError, match="cannot occur"):
        positive_value(0, 0.9, 1)
    with pytest.raises(ValueError, match="cannot occur"):
        negative_value(1, 1, 1)


def test_each_untested_parent_is_weighed_alone():
    """As `weigh_untested` has it, for those that no negative clears, or for the names given."""
    lot = [Parent("A", 0.5, 0.1, cleared=False), Parent("B", 0.3, 0.2, cleared=False),
           Parent("C", 0.2, 0.01, cleared=True)]  # fmt: skip
    alone = {name: weigh_untested(lot, name, 0.01) for name in "ABC"}

    assert {"A": alone["A"], "B": alone["B"]} == pytest.approx(weigh_each_untested(lot, 0.01))
    assert {"C": alone["C"]} == pytest.approx(weigh_each_untested(lot, 0.01, ["C"]))
    assert weigh_each_untested(lot, 0)["A"] > alone["A"]


def test_without_any_other_risk_there_is_no_ratio():
    """The lot's only risk, cleared beyond doubt, leaves nothing to divide by."""
    lot = [Parent("A", 0.5, 0.1, cleared=False), Parent("B", 0.5, 0.0, cleared=True)]

    assert {} == weigh_each_untested(lot, 0)


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


def test_of_equally_strong_results_the_positive_counts():
    """A test of 80 % either way, once positive and once negative."""
    positive, negative = MethodResult("gus", True, 0.8, 0.8), MethodResult("gus", False, 0.8, 0.8)

    assert positive.strength == negative.strength
    assert (positive,) == keep_strongest([negative, positive]) == keep_strongest([positive, negative])


def test_bayes_by_hand():
    """One in ten, then a negative at 90 and 80 %: 0.01 against 0.72; then a positive: 0.09 against 0.18."""
    assert 1 / 73 == pytest.approx(update_tree(0.1, [MethodResult("gus", False, 0.9, 0.8)]))
    assert 1 / 3 == pytest.approx(update_tree(0.1, [MethodResult("gus", True, 0.9, 0.8)]))
    assert (1 / 3, 72 / 73) == pytest.approx((positive_value(0.1, 0.9, 0.8), negative_value(0.1, 0.9, 0.8)))
    assert (0.0, 1.0) == (update_tree(0, [GUS]), update_tree(1, [GUS]))
    assert (1.0, 1.0) == (positive_value(1, 0.5, 1), negative_value(0, 0.5, 0.5))


def test_events_by_hand():
    """0.2 and 0.3 before; a negative that misses a tenth of the first: 0.02, 0.3 and 0.5 of 0.82."""
    left = update_events({"one": 0.2, "two": 0.3}, [(MethodResult("gus", False, 0.9), frozenset({"one"}))])

    assert {"one": 0.02 / 0.82, "two": 0.3 / 0.82} == pytest.approx(left)
    # Events that leave no room for a clean tree.
    sure = update_events({"one": 0.5, "two": 0.5}, [(MethodResult("gus", False, 0.9), frozenset({"one"}))])
    assert {"one": 1 / 11, "two": 10 / 11} == pytest.approx(sure)


def test_one_result_may_see_several_events():
    """Told twice, each time with another event, it sees both and still counts once."""
    apart = [(GUS, frozenset({"one"})), (GUS, frozenset({"two"}))]

    assert update_events({"one": 0.1, "two": 0.1}, [(GUS, frozenset({"one", "two"}))]) == pytest.approx(
        update_events({"one": 0.1, "two": 0.1}, apart)
    )


def test_a_lot_by_hand():
    """Three parents: half uncleared, a crossed one whose embryos are half transgenic, and a sound one."""
    odds = judge_lot(
        [
            Parent("A", 0.5, 0.2, cleared=False),
            Parent("B", 0.4, 0.5, cleared=True, embryo_share=0.5),
            Parent("C", 0.1, 0.0, cleared=False),
        ]
    )

    assert (0.175, 0.6, 0.6, 0.375) == pytest.approx(
        (odds.expected, odds.any_parent, odds.uncleared, odds.one_parent)
    )


def test_a_parent_weighed_by_hand():
    """A of 0.5 at 0.2 makes 0.075 of 0.081; cleared to 0.02 it makes 0.0075: 0.081 is six times 0.0135."""
    lot = [Parent("A", 0.5, 0.2, cleared=False), Parent("B", 0.5, 0.016, cleared=True)]

    assert 6 == pytest.approx(weigh_untested(lot, "A", 0.02))
    assert {"A": pytest.approx(13.5)} == weigh_each_untested(lot, 0)
    # Once cleared it leaves what the cleared chance leaves.
    assert 10 == pytest.approx(weigh_untested([Parent("A", 1.0, 0.2, cleared=False)], "A", 0.02))


@pytest.mark.parametrize(
    "others",
    [Parent("B", 0.5, 0.0, True), Parent("B", 0.5, 0.1, True, embryo_share=0.0)],
)
def test_a_parent_that_cannot_hand_on_anything_is_no_risk(others):
    """No chance, or no embryo that would carry it: with A cleared beyond doubt nothing is left."""
    assert {} == weigh_each_untested([Parent("A", 0.5, 0.1, cleared=False), others], 0)


def test_a_parent_without_seed_leaves_a_lot_without_risk_as_it_is():
    """Nothing over nothing is no ratio, whatever its chance."""
    lot = [Parent("A", 0.0, 0.5, cleared=False), Parent("B", 1.0, 0.0, cleared=True)]

    assert {} == weigh_each_untested(lot, 0.01)
    with pytest.raises(ValueError, match="no risk"):
        weigh_untested(lot, "A", 0.01)


@pytest.mark.parametrize(
    "ask",
    [
        lambda: update_tree(1.1, []),
        lambda: update_tree(0.1, [MethodResult("gus", True, 1.1)]),
        lambda: update_tree(0.1, [MethodResult("gus", True, 0.9, 1.1)]),
        lambda: positive_value(1.1, 0.9, 0.9),
        lambda: positive_value(0.1, 1.1, 0.9),
        lambda: negative_value(0.1, 0.9, 1.1),
        lambda: judge_lot([Parent("A", 1.0, 1.1, cleared=True)]),
        lambda: judge_lot([Parent("A", 1.0, 0.1, cleared=True, embryo_share=1.1)]),
        lambda: weigh_each_untested([Parent("A", 1.0, 0.1, cleared=True)], 1.1),
    ],
)
def test_every_share_is_a_share(ask):
    """Beyond one it is refused by name."""
    with pytest.raises(ValueError, match="must lie from 0 up to 1"):
        ask()


def test_shares_add_up_but_for_rounding():
    """A part in a thousand million is let pass, two parts are not; no parent is no lot."""
    assert judge_lot([Parent("A", 1 - 5e-10, 0.1, cleared=True)]).expected
    for parents in ([], [Parent("A", 1 - 2e-9, 0.1, cleared=True)]):
        with pytest.raises(ValueError, match="add up to 1"):
            judge_lot(parents)


def test_a_parent_that_is_no_risk_changes_nothing_however_it_is_cleared():
    """Its chance is nothing already: the lot is as good as if it were cleared, once over."""
    lot = [Parent("A", 0.5, 0.0, cleared=False), Parent("B", 0.5, 0.1, cleared=True)]

    assert {"A": 1.0} == pytest.approx(weigh_each_untested(lot, 0))
