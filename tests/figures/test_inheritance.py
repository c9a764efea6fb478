"""Inheritance of one insert."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.figures.inheritance import (
    all_negative_chance,
    count_embryos,
    count_seedlings,
    cross,
    hermaphrodite_chance,
    share_from_one_parent,
)


@pytest.mark.parametrize(("mother", "pollen"), list(itertools.product(range(3), repeat=2)))
def test_crosses_add_up_and_mirror(mother, pollen):
    """Shares make one; embryos do not care which side the insert came from, the mother's leaf does."""
    progeny, mirrored = cross(mother, pollen), cross(pollen, mother)

    assert 1 == progeny.two + progeny.one + progeny.none
    assert progeny.transgenic == mirrored.transgenic
    assert progeny.mother_shows == (mother > 0)


@given(st.floats(0.05, 0.95), st.floats(0.5, 0.999))
def test_embryos_needed_are_the_fewest(share, confidence):
    """That many all negative are unlikely enough, one fewer are not."""
    needed = count_embryos(share, confidence)

    assert all_negative_chance(needed, share) <= 1 - confidence + 1e-10
    assert needed == 1 or all_negative_chance(needed - 1, share) > 1 - confidence - 1e-10


def test_seedlings_reach_the_confidence():
    """Three of a selfed hermaphrodite's seedlings do for 95 %, two do not."""
    assert 3 == count_seedlings()
    assert hermaphrodite_chance(2) < 0.95 < hermaphrodite_chance(3)


def test_one_parent_of_ten():
    """A tenth of the lot, three quarters of it transgenic."""
    assert 0.075 == pytest.approx(share_from_one_parent(10))


def test_nonsense_is_refused():
    """Three copies, no parents."""
    with pytest.raises(ValueError, match="copies of the insert in a tree must be 2 at most"):
        cross(3, 0)
    with pytest.raises(ValueError, match="number of parents"):
        share_from_one_parent(0)


@pytest.mark.parametrize(
    ("mother", "pollen", "transgenic"),
    [(0, 0, 0), (1, 0, 0.5), (1, 1, 0.75), (2, 0, 1), (2, 1, 1), (2, 2, 1)],
)
def test_one_copy_is_enough_to_be_transgenic(mother, pollen, transgenic):
    """A Mendelian square: of a selfed parent with one copy three embryos in four."""
    assert transgenic == cross(mother, pollen).transgenic


@pytest.mark.parametrize(
    ("mother", "pollen", "shares"),
    [
        (0, 0, (0, 0, 1)), (0, 1, (0, 0.5, 0.5)), (0, 2, (0, 1, 0)),
        (1, 0, (0, 0.5, 0.5)), (1, 1, (0.25, 0.5, 0.25)), (1, 2, (0.5, 0.5, 0)),
        (2, 0, (0, 1, 0)), (2, 1, (0.5, 0.5, 0)), (2, 2, (1, 0, 0)),
    ],
)  # fmt: skip
def test_mendels_squares(mother, pollen, shares):
    """Embryos with two copies, one and none, for every cross; the mother shows what she has herself."""
    progeny = cross(mother, pollen)

    assert (*shares, mother > 0) == (progeny.two, progeny.one, progeny.none, progeny.mother_shows)


def test_embryos_that_clear_a_mother():
    """Three of a selfed one (0.25³ is 1.6 %), five against clean pollen (0.5⁵ is 3.1 %)."""
    assert (3, 5) == (count_embryos(), count_embryos(0.5))
    assert (1.0, 0.0625, 0.5) == (
        all_negative_chance(0), all_negative_chance(2), all_negative_chance(1, 0.5),
    )  # fmt: skip
    assert (5, 1) == (count_seedlings(1 / 2), count_seedlings(1 / 2, 0.5))
    assert (0.75, 0.5, 0.25) == (
        share_from_one_parent(1), share_from_one_parent(1, 0.5), share_from_one_parent(2, 0.5),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("ask", "message"),
    [
        (lambda: cross(0, 3), "copies of the insert in a tree must be 2 at most"),
        (lambda: cross(-1, 0), "copies of the insert in a tree must be a whole"),
        (lambda: all_negative_chance(-1), "number of embryos"),
        (lambda: all_negative_chance(1, 1.1), "The share"),
        (lambda: share_from_one_parent(2, 1.1), "The embryo share"),
    ],
)
def test_every_argument_has_its_range(ask, message):
    """One step beyond it is refused by name."""
    with pytest.raises(ValueError, match=message):
        ask()
