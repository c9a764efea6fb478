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
    with pytest.raises(ValueError, match="not 3"):
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
