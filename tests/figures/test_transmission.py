"""What a carrier hands on: against every gamete, in fractions, and a simulation with a stated seed."""

from __future__ import annotations

import random
from fractions import Fraction
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.figures.transmission import (
    Pair,
    Span,
    any_carrier,
    carried_by,
    expected_share,
    worst_share,
)

CHANCE = st.floats(0, 1)


def share_of_embryos(mother, pollen):
    """Embryos with an insert among all unions of a mother's and a father's two gametes, by their copies."""
    gametes = {0: (0, 0), 1: (0, 1), 2: (1, 1)}
    unions = list(product(gametes[mother], gametes[pollen]))
    return Fraction(sum(any(union) for union in unions), len(unions))


@pytest.mark.parametrize("copies", [1, 2])
def test_a_carrier_hands_on_what_its_gametes_do(copies):
    """Selfed, as mother and as father of crossed seed; the other parent clean."""
    selfed, crossed = share_of_embryos(copies, copies), share_of_embryos(copies, 0)

    assert float(selfed) == carried_by([Pair("A", "A", 1.0)], "A", copies).low
    assert float(crossed) == carried_by([Pair("A", "B", 1.0)], "A", copies).low
    assert float(crossed) == carried_by([Pair("B", "A", 1.0)], "A", copies).high
    assert Span(0.0, 0.0) == carried_by([Pair("B", "B", 1.0)], "A", copies)
    assert Span(float(crossed), float(selfed)) == carried_by([Pair("A", None, 1.0)], "A", copies)


def test_parts_add_up_over_the_pairs_of_a_tree():
    """A quarter selfed, a quarter as mother, a quarter as father, the rest another's."""
    pairs = [Pair("A", "A", 0.25), Pair("A", "B", 0.25), Pair("B", "A", 0.25), Pair("B", "B", 0.25)]

    assert (0.4375, 0.75) == (carried_by(pairs, "A", 1).low, carried_by(pairs, "A", 2).low)
    assert 0.45 == pytest.approx(carried_by(pairs, "A", 1, selfed_share=0.8).high)
    assert 0.75 == carried_by(pairs, "A", 2, selfed_share=0.8).high


def test_one_hemizygous_parent_of_a_cross_gives_half():
    """Not 37.5 %; two parents at 10 %: 9.75 %, not 7.5 %."""
    cross = [Pair("A", "B", 1.0)]

    assert 0.5 == expected_share(cross, {"A": 1.0, "B": 0.0}).low
    assert 0.0975 == pytest.approx(expected_share(cross, {"A": 0.1, "B": 0.1}).low)
    assert 1.0 == expected_share(cross, {"A": 0.0, "B": 1.0}, copies=2).high


@given(CHANCE, CHANCE, st.sampled_from((1, 2)))
def test_the_average_is_that_of_all_states_of_both_parents(mother, pollen, copies):
    """Clean or carrying, each with its chance, crossed and selfed."""
    crossed = sum(
        (mother if own else 1 - mother)
        * (pollen if other else 1 - pollen)
        * float(share_of_embryos(own, other))
        for own, other in product((0, copies), repeat=2)
    )

    assert crossed == pytest.approx(
        expected_share([Pair("A", "B", 1.0)], {"A": mother, "B": pollen}, copies).low
    )
    assert mother * float(share_of_embryos(copies, copies)) == pytest.approx(
        expected_share([Pair("A", "A", 1.0)], {"A": mother}, copies).high
    )


def test_a_simulated_lot_of_three_pairs():
    """300,000 seeds, each of a lot drawn anew, seed 1613: within four errors of the average."""
    drawn = random.Random(1613)
    chances = {"A": 0.3, "B": 0.1, "C": 0.6}
    pairs = [Pair("A", "A", 0.5), Pair("A", "B", 0.2), Pair("C", "B", 0.3)]
    found = 0
    for _ in range(300_000):
        copies = {tree: int(drawn.random() < chance) for tree, chance in chances.items()}
        pair = drawn.choices(pairs, [one.share for one in pairs])[0]
        egg, grain = (copies[tree] and drawn.random() < 0.5 for tree in (pair.mother, pair.pollen))
        found += bool(egg or grain)
    expected = expected_share(pairs, chances).low

    assert abs(found / 300_000 - expected) < 4 * (expected * (1 - expected) / 300_000) ** 0.5


def test_open_pollen_is_bounded_by_all_of_it():
    """Between clean pollen and pollen that all carries."""
    assert Span(0.05, 1.0) == expected_share([Pair("A", None, 1.0)], {"A": 0.1})


def test_the_worst_case_counts_whatever_is_open_in_full():
    """Unscreened, pollen of an unscreened tree, open pollen, and seed without a parent on record."""
    pairs = [Pair("A", "A", 0.2), Pair("A", "B", 0.3), Pair("A", None, 0.1)]

    assert 0.8 == pytest.approx(worst_share(pairs, {"A"}))
    assert 0.5 == pytest.approx(worst_share(pairs, {"A", "B"}))
    assert 1.0 == worst_share(pairs, set()) == worst_share([], {"A"})
    assert 0.0 == worst_share([Pair("A", "A", 1.0)], {"A"})
    # A cleared mother with two-copy pollen that nothing clears: all of it, not half.
    assert 1.0 == worst_share([Pair("A", "B", 1.0)], {"A"})


def test_any_of_some_parents():
    """All together or each for itself: 10 and 20 % make 20 to 28 %; no parent makes nothing."""
    assert Span(0.2, pytest.approx(0.28)) == any_carrier([0.1, 0.2])
    assert Span(0.0, 0.0) == any_carrier([])


@given(st.lists(st.tuples(st.integers(1, 9), CHANCE), min_size=1, max_size=6), st.sampled_from((1, 2)))
def test_a_carriers_part_lies_within_its_seed(parts, copies):
    """Never below nothing, never above the seed it is a parent of, and two copies give no less than one."""
    total = sum(weight for weight, _ in parts)
    pairs = [
        Pair(str(at), str((at * 2) % len(parts)), weight / total) for at, (weight, _) in enumerate(parts)
    ]
    for at in range(len(parts)):
        own = sum(pair.share for pair in pairs if str(at) in (pair.mother, pair.pollen))
        span = carried_by(pairs, str(at), copies)
        assert 0 <= span.low <= span.high <= own + 1e-12
        assert carried_by(pairs, str(at), 1).high <= carried_by(pairs, str(at), 2).high + 1e-12


@pytest.mark.parametrize(
    "ask",
    [
        lambda: carried_by([Pair("A", "A", 1.1)], "A", 1),
        lambda: carried_by([], "A", 1, 1.1),
        lambda: expected_share([Pair("A", "A", 1.1)], {"A": 0.1}),
        lambda: expected_share([Pair("A", "A", 1.0)], {"A": 1.1}),
        lambda: expected_share([Pair("A", "B", 1.0)], {"A": 0.1, "B": -0.1}),
        lambda: any_carrier([1.1]),
    ],
)
def test_every_share_is_a_share(ask):
    """Beyond nought and one it is refused by name."""
    with pytest.raises(ValueError, match="must lie from 0 up to 1"):
        ask()


def test_three_copies_are_no_tree():
    """As the cross has it; and a parent without a chance is refused by name."""
    with pytest.raises(ValueError, match="copies of the insert"):
        carried_by([Pair("A", "A", 1.0)], "A", 3)
    with pytest.raises(ValueError, match="Nothing is given of 'B'"):
        expected_share([Pair("A", "B", 1.0)], {"A": 0.1})
