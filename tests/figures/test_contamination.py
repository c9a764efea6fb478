"""The bound on foreign pollen, from bags that failed."""

from __future__ import annotations

import random
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from certgen.figures.contamination import bound_contamination, count_checked, judge_failures

SHARES = st.floats(0, 1)


@given(st.integers(1, 400), st.data())
def test_the_limits_are_those_of_the_binomial(checked, data):
    """As scipy has them; the one-sided upper limit lies between the estimate and the two-sided one."""
    failed = data.draw(st.integers(0, checked))
    found = judge_failures(failed, checked)
    both = stats.binomtest(failed, checked).proportion_ci(0.95, "exact")
    one = stats.binomtest(failed, checked, alternative="less").proportion_ci(0.95, "exact")

    assert (found.low, found.high) == pytest.approx((both.low, both.high), abs=1e-12)
    assert found.at_most == pytest.approx(one.high, abs=1e-12)
    assert found.low <= found.share <= found.at_most <= found.high


@pytest.mark.parametrize(("failed", "checked"), [(0, 0), (3, 2), (-1, 5), (float("nan"), 5)])
def test_counts_that_cannot_be_are_refused(failed, checked):
    """No bag looked at is no limit at all."""
    with pytest.raises(ValueError, match=r"number|more found"):
        judge_failures(failed, checked)


def test_the_share_is_that_of_every_case_counted():
    """Ten seeds of a fruit each, all cases of cover, failure, father and pollen with whole-number odds."""
    carrying = 0
    for uncovered, failing, fathered, carries in product(range(10), range(20), range(5), range(4)):
        open_ = uncovered < 2 or failing < 3
        carrying += open_ and fathered < 3 and carries < 1
    found = bound_contamination(2 / 10, 3 / 20, 3 / 5, 1 / 4)

    assert found.carrying == pytest.approx(carrying / (10 * 20 * 5 * 4), abs=1e-15)


def test_a_simulated_orchard_stays_below_the_bound():
    """A thousand seasons (seed 4) in which one bag in 25 fails: the bound is broken in at most 5 of 100."""
    source = random.Random(4)
    true, broken = 0.04, 0
    for _ in range(1000):
        failed = sum(source.random() < true for _ in range(150))
        found = bound_contamination(0, judge_failures(failed, 150).at_most, 1, 0.1)
        broken += found.carrying < true * 0.1
    assert broken <= 50


@given(SHARES, SHARES, SHARES, SHARES)
def test_no_part_is_larger_than_the_one_before(uncovered, failing, fathering, carrying):
    """Carrying within fathered within open; never beyond 0 and 1, and never below what is uncovered."""
    found = bound_contamination(uncovered, failing, fathering, carrying)

    assert 0 <= found.carrying <= found.fathered <= found.open_to_pollen <= 1
    assert found.open_to_pollen >= max(uncovered, failing) - 1e-15


@pytest.mark.parametrize("wrong", [-0.1, 1.1, float("nan")])
@pytest.mark.parametrize("place", range(4))
def test_shares_outside_0_and_1_are_refused(place, wrong):
    """Each of the four."""
    shares = [0.5] * 4
    shares[place] = wrong
    with pytest.raises(ValueError, match="must lie"):
        bound_contamination(*shares)


@given(st.floats(0.001, 0.5))
def test_so_many_sound_bags_bound_the_failures(failing):
    """With that many looked at and none failed the limit is reached, with one fewer it isn't."""
    number = count_checked(failing)

    assert judge_failures(0, number).at_most <= failing * (1 + 1e-9)
    if number > 1:
        assert judge_failures(0, number - 1).at_most > failing * (1 - 1e-9)
