"""Parents' shares and their effective number."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.figures.parents import Contribution, count_effective, share_seed

AMOUNTS = st.lists(st.integers(1, 10_000), min_size=1, max_size=20)


def test_selfs_count_wholly_and_crosses_half():
    """300 g selfed on T1 and 100 g of T2 pollinated by T1: T1 has 350 of 400."""
    shares = share_seed([Contribution("T1", 300), Contribution("T2", 100, "T1")])

    assert {"T1": Fraction(7, 8), "T2": Fraction(1, 8)} == shares


@given(
    st.lists(
        st.tuples(st.sampled_from("ABCD"), st.integers(0, 999), st.sampled_from(["A", "E", None])), min_size=1
    )
)
def test_shares_add_up_to_one(parts):
    """Exactly, whatever the crosses."""
    contributions = [Contribution(*part) for part in parts]
    if not any(part.amount for part in contributions):
        with pytest.raises(ValueError, match="no shares"):
            share_seed(contributions)
        return

    assert 1 == sum(share_seed(contributions).values())


@given(AMOUNTS, st.integers(1, 50))
def test_the_effective_number_lies_between_one_and_all(amounts, factor):
    """Never above the number of parents, which equal shares reach; the unit is irrelevant."""
    effective = count_effective(amounts)

    assert 1 - 1e-12 <= effective <= len(amounts) + 1e-12
    assert effective == count_effective([amount * factor for amount in amounts])
    assert len(amounts) == count_effective([factor] * len(amounts))


def test_shares_by_name_are_accepted():
    """The mapping that share_seed gives goes straight in."""
    assert 2.0 == count_effective(share_seed([Contribution("A", 1), Contribution("B", 1)]))


def test_no_parents_are_refused():
    """Nothing has no effective number."""
    with pytest.raises(ValueError, match="no number of parents"):
        count_effective([0, 0])


def test_amounts_may_be_decimals_and_nothing():
    """As the records have them; a parent of 0 g is no parent."""
    parts = [Contribution("T1", Decimal("1.5")), Contribution("T2", 0), Contribution("T3", Decimal("0.5"))]

    assert {"T1": Fraction(3, 4), "T3": Fraction(1, 4)} == share_seed(parts)


@pytest.mark.parametrize("amount", [-1, Decimal("-0.5")])
def test_less_than_nothing_is_refused(amount):
    """Whole or not."""
    with pytest.raises(ValueError, match="A parent's seed"):
        share_seed([Contribution("T1", 5), Contribution("T2", amount)])
    with pytest.raises(ValueError, match="A parent's share"):
        count_effective([5, amount])


def test_effective_numbers_by_hand():
    """50, 30 and 20 % are 1 / 0.38; one parent is one, and one without seed is none beside it."""
    assert 1 / 0.38 == pytest.approx(count_effective([50, 30, 20]))
    assert (1.0, 1.0, 1.8) == (count_effective([7]), count_effective([7, 0]), count_effective([2, 1]))
    assert 1.8 == count_effective([Fraction(2, 3), Fraction(1, 3)]) == count_effective([1.0, 0.5])
    with pytest.raises(ValueError, match="A parent's share"):
        count_effective([Fraction(1, 3), Fraction(-1, 3)])


def test_parents_stand_in_order_and_a_selfed_one_counts_wholly():
    """Pollen of its own is selfing; halves of milligrams stay exact."""
    shares = share_seed([Contribution("T2", 1, "T1"), Contribution("T1", 2, "T1"), Contribution("T3", 1)])

    assert [("T1", Fraction(5, 8)), ("T2", Fraction(1, 8)), ("T3", Fraction(1, 4))] == list(shares.items())
