from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.lineage.standing import apportion

COVERS = ("certgen.lineage.standing",)


@given(st.integers(0, 10**12), st.lists(st.integers(0, 10**9), min_size=1, max_size=12))
def test_shares_add_up_exactly_and_differ_from_the_true_share_by_less_than_one(total, weights):
    """Mass is conserved to the milligram."""
    shares = apportion(total, weights)

    assert total == sum(shares)
    if sum(weights):
        whole = sum(weights)
        assert all(
            abs(share * whole - total * weight) < whole for share, weight in zip(shares, weights, strict=True)
        )


def test_equal_remainders_go_to_the_earlier_part():
    """Three equal parts of ten: the first gets the one that is left over."""
    assert [4, 3, 3] == apportion(10, [1, 1, 1])


def test_nothing_to_go_by_falls_to_the_first():
    """All weights zero."""
    assert [5, 0] == apportion(5, [0, 0])


@given(st.integers(0, 200), st.lists(st.integers(0, 30), min_size=1, max_size=6).filter(any))
def test_what_is_left_over_goes_to_the_largest_remainders(total, weights):
    """Nobody who got one more had a smaller remainder than one who didn't; of equals the earlier got it."""
    whole = sum(weights)
    more = [
        share - total * weight // whole
        for share, weight in zip(apportion(total, weights), weights, strict=True)
    ]
    rank = [(-(total * weight % whole), position) for position, weight in enumerate(weights)]
    given_more = {rank[at] for at, extra in enumerate(more) if extra}

    assert {0, 1} >= set(more)
    assert set(sorted(rank)[: len(given_more)]) == given_more


@pytest.mark.parametrize(
    ("total", "weights", "shares"),
    [(10, [1, 2, 3], [2, 3, 5]), (7, [1, 1], [4, 3]), (1, [1, 1, 1], [1, 0, 0]), (5, [0, 3], [0, 5]),
     (0, [2, 3], [0, 0]), (9, [4], [9]), (3, [0, 0, 0], [3, 0, 0]), (100, [30, 10], [75, 25])],
)  # fmt: skip
def test_shares_by_hand(total, weights, shares):
    """10 in sixths: 1⅔, 3⅓ and 5 — the first has the largest remainder."""
    assert shares == apportion(total, weights)
