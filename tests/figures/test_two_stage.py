"""A draw in two stages: members by weight, lots within; against every order of drawing, and by chance."""

from __future__ import annotations

import math
from fractions import Fraction
from itertools import combinations
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from certgen.figures.sampling import miss_chance
from certgen.figures.two_stage import Stage, avoid_chance, miss_lots, miss_members, visit_chance

WEIGHTS = st.lists(st.integers(1, 6), min_size=1, max_size=6)


def avoid_by_hand(weights, chosen, size):
    """Successive sampling, draw by draw, over every order: exact."""
    if not size:
        return Fraction(1)
    left = sum(weights.values())
    return sum(
        (
            Fraction(weight, left)
            * avoid_by_hand({k: w for k, w in weights.items() if k != name}, chosen, size - 1)
            for name, weight in weights.items()
            if name not in chosen
        ),
        start=Fraction(0),
    )


@settings(max_examples=60)
@given(WEIGHTS, st.data())
def test_every_order_of_drawing_counted(weights, data):
    """All orders of up to six members: the integral gives the same to ten digits."""
    size = data.draw(st.integers(0, len(weights)))
    chosen = data.draw(st.sets(st.integers(0, len(weights) - 1)))
    exact = avoid_by_hand(dict(enumerate(weights)), chosen, size)

    assert float(exact) == pytest.approx(avoid_chance(weights, sorted(chosen), size), abs=1e-10)


@pytest.mark.parametrize(
    ("members", "size", "faulty"), [(10, 5, 2), (60, 9, 3), (400, 28, 5), (4900, 98, 10), (10_000, 200, 40)]
)
def test_equal_weights_are_the_plain_draw(members, size, faulty):
    """Hypergeometric, up to a group of ten thousand."""
    expected = float(miss_chance(members, faulty, size))

    assert expected == pytest.approx(avoid_chance([3] * members, list(range(faulty)), size), abs=1e-9)


@settings(max_examples=40)
@given(WEIGHTS, st.data())
def test_no_other_members_are_missed_more_likely(weights, data):
    """Every set of so many members tried: the smallest weights are the worst, to the last digits."""
    size = data.draw(st.integers(0, len(weights)))
    faulty = data.draw(st.integers(1, len(weights)))
    stages = [Stage(weight, 1, 1) for weight in weights]
    exact = max(
        avoid_by_hand(dict(enumerate(weights)), set(some), size)
        for some in combinations(range(len(weights)), faulty)
    )

    assert float(exact) == pytest.approx(miss_members(stages, faulty, size), abs=1e-10)


@settings(max_examples=30)
@given(
    st.lists(st.tuples(st.sampled_from([None, 1, 2, 3, 5]), st.integers(0, 4)), min_size=1, max_size=5),
    st.integers(0, 5),
    st.integers(1, 3),
    st.integers(1, 3),
)
def test_two_stages_counted_lot_by_lot(members, size, each, faulty):
    """Which members are visited in every order, which lots in every choice: the worst place of the faults.

    Members without a weight are always visited and take room first.
    """
    stages = [Stage(weight, lots, min(each, lots)) for weight, lots in members]
    free = {at: weight for at, (weight, _) in enumerate(members) if weight is not None}
    room = max(0, min(size - (len(members) - len(free)), len(free)))
    worst = None
    for at, (weight, lots) in enumerate(members):
        if lots < faulty:
            continue
        visited = 1 if weight is None else 1 - avoid_by_hand(free, {at}, room)
        picks = list(combinations(range(lots), min(each, lots)))
        none = Fraction(sum(not set(pick) & set(range(faulty)) for pick in picks), len(picks))
        worst = max(worst or Fraction(0), 1 - visited * (1 - none))
    found = miss_lots(stages, faulty, size)

    assert (worst is None) == (found is None)
    if found is not None:
        assert float(worst) == pytest.approx(found, abs=1e-10)


def test_a_simulated_draw_agrees():
    """The draw as it is made, by the smallest -ln(u)/w: 40,000 times, stated seed, within four deviations."""
    weights, size, times = [1, 1, 2, 3, 5, 1, 4, 2], 3, 40_000
    draw = Random(1604)
    hits = 0
    for _ in range(times):
        keys = [-math.log(1 - draw.random()) / weight for weight in weights]
        hits += not {0, 3} & set(sorted(range(len(weights)), key=keys.__getitem__)[:size])
    chance = avoid_chance(weights, [0, 3], size)

    assert abs(hits / times - chance) < 4 * (chance * (1 - chance) / times) ** 0.5


def test_whoever_is_always_visited_is_never_missed():
    """High risk comes first, and no draw by weight can leave it out."""
    stages = [Stage(None, 3, 3), Stage(1, 3, 3), Stage(1, 3, 3)]

    assert (1, 0.5) == (visit_chance(stages, 0, 2), pytest.approx(visit_chance(stages, 1, 2)))
    assert 0 == miss_members(stages, 3, 1)
    assert 1 == visit_chance(stages, 0, 0)


def test_more_than_there_are_is_refused():
    """Draws of more members than there are, weights of nothing, faulty members that don't exist."""
    with pytest.raises(ValueError, match="cannot be drawn from 2"):
        avoid_chance([1, 1], [0], 3)
    with pytest.raises(ValueError, match="A weight"):
        avoid_chance([0, 1], [0], 1)
    with pytest.raises(ValueError, match="not so many"):
        miss_members([Stage(1, 1, 1)], 2, 1)
    assert miss_lots([Stage(1, 1, 1)], 2, 1) is None
