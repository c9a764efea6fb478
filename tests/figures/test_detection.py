"""Sample sizes move the right way and refuse nonsense."""

from __future__ import annotations

from fractions import Fraction
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.figures.sampling import count_items, count_tests, find_chance, miss_chance

COVERS = ("certgen.figures.sampling",)

SHARES = st.floats(0.001, 0.999)


@given(SHARES, st.floats(0.01, 0.99), st.floats(0.01, 0.99))
def test_more_confidence_takes_more_tests(proportion, one, other):
    """Monotone in confidence."""
    low, high = sorted((one, other))

    assert count_tests(proportion, low) <= count_tests(proportion, high)


@given(SHARES, SHARES, st.floats(0.1, 1))
def test_a_smaller_fault_takes_more_tests(one, other, sensitivity):
    """Monotone in the proportion, and never fewer with an imperfect test."""
    low, high = sorted((one, other))

    assert count_tests(low, 0.95, sensitivity) >= count_tests(high, 0.95, sensitivity)
    assert count_tests(low, 0.95, sensitivity) >= count_tests(low)


@given(SHARES, st.floats(0.01, 0.999))
def test_the_number_is_the_smallest(proportion, confidence):
    """It reaches the confidence and one fewer does not, but for rounding noise."""
    needed = count_tests(proportion, confidence)

    assert find_chance(needed, proportion) >= confidence - 1e-11
    assert needed == 1 or find_chance(needed - 1, proportion) < confidence + 1e-11


def test_exact_powers_do_not_add_a_seed():
    """Half, twice, is exactly 75 %: two tests, not three."""
    assert 2 == count_tests(0.5, 0.75)


def test_certain_finds():
    """A lot that is all faulty needs one test."""
    assert (1, 1.0, 0.0) == (count_tests(1.0), find_chance(1, 1.0), find_chance(0, 1.0))


@given(st.integers(1, 80), st.data())
def test_chances_of_missing_shrink_with_each_tree(items, data):
    """Monotone in what is taken; nothing taken misses all, all taken misses nothing."""
    faults = data.draw(st.integers(1, items))
    chances = [miss_chance(items, faults, taken) for taken in range(items + 1)]

    assert chances == sorted(chances, reverse=True)
    assert (1, 0) == (chances[0], chances[-1])


@given(st.integers(1, 60), st.sampled_from([0.8, 0.9, 0.95, 0.99]), st.floats(0.7, 1), st.data())
def test_the_orchard_number_is_the_smallest(items, confidence, sensitivity, data):
    """It reaches the confidence and one fewer does not, in exact arithmetic."""
    faults = data.draw(st.integers(1, items))
    allowed = 1 - Fraction(str(confidence))
    if miss_chance(items, faults, items, sensitivity) > allowed:
        with pytest.raises(ValueError, match="Testing all"):
            count_items(items, faults, confidence, sensitivity)
        return
    needed = count_items(items, faults, confidence, sensitivity)

    assert miss_chance(items, faults, needed, sensitivity) <= allowed
    assert miss_chance(items, faults, needed - 1, sensitivity) > allowed


def test_nonsense_is_refused():
    """A share of nothing, more faults than trees, half a tree."""
    with pytest.raises(ValueError, match="above 0"):
        count_tests(0)
    with pytest.raises(ValueError, match="not so many"):
        miss_chance(10, 11, 1)
    with pytest.raises(ValueError, match="whole number"):
        count_items(50, 2.5)


@pytest.mark.parametrize(("sensitivity", "needed"), [(1.0, 3), (0.75, 4)])
def test_just_the_confidence_is_enough(sensitivity, needed):
    """One faulty of four: three perfect tests, or four at 75 %, miss it in exactly a quarter of draws."""
    assert needed == count_items(4, 1, 0.75, sensitivity)


@pytest.mark.parametrize("sensitivity", [1, Fraction(3, 4), Fraction(1, 4), 0])
def test_missing_by_trying_every_draw(sensitivity):
    """Each set of trees that could be drawn, and the chance that all its faults are overlooked."""
    for items in range(1, 6):
        for faults in range(items + 1):
            for taken in range(items + 1):
                draws = list(combinations(range(items), taken))
                missed = sum(Fraction(1 - sensitivity) ** sum(one < faults for one in draw) for draw in draws)

                assert missed / len(draws) == miss_chance(items, faults, taken, float(sensitivity))


def test_the_fewest_tests():
    """One sound test in a thousand, or one that is nearly sure, is one test; 59 find one in twenty."""
    assert (1, 1, 59) == (count_tests(0.99), count_tests(1.0, 0.999), count_tests(0.05))
    assert (2, 1) == (count_tests(1.0, 0.75, 0.5), count_tests(1.0, 0.5, 0.5))


def test_chances_of_finding_by_hand():
    """Half, twice, with a test that sees half: 1 - 0.75²; no test finds nothing."""
    assert 0.4375 == pytest.approx(find_chance(2, 0.5, 0.5))
    assert (0.0, 0.0, 1.0) == (find_chance(0, 0.5), find_chance(5, 0), find_chance(5, 1, 1))


def test_an_orchard_of_faulty_trees_needs_one():
    """All faulty, or a single tree."""
    assert (1, 1, 4) == (count_items(4, 4), count_items(1, 1), count_items(4, 1))


@pytest.mark.parametrize(
    ("ask", "message"),
    [
        (lambda: count_tests(0.5, 1), "confidence"),
        (lambda: count_tests(0.5, 0.9, 0), "sensitivity must lie above 0"),
        (lambda: find_chance(-1, 0.5), "number of tests"),
        (lambda: miss_chance(0, 0, 0), "items must be a whole number of at least 1"),
        (lambda: miss_chance(10, 1, 11), "11 out of 10"),
        (lambda: miss_chance(10, 11, 1), "11 out of 10"),
        (lambda: miss_chance(10, -1, 1), "number of faults"),
        (lambda: miss_chance(10, 1, -1), "number taken"),
        (lambda: count_items(10, 0), "faults must be a whole number of at least 1"),
        (lambda: count_items(10, 1, 0.95, 0.9), "Testing all 10"),
    ],
)
def test_every_argument_has_its_range(ask, message):
    """One step beyond it is refused by name."""
    with pytest.raises(ValueError, match=message):
        ask()
