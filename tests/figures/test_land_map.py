"""Shapes on the ground."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from certgen.figures.land_map import (
    area_m2,
    crosses_itself,
    holds,
    lengths_m,
    overlap,
    project,
    read_corner,
)  # fmt: skip

SQUARE = [(0.0, 0.0), (100.0, 0.0), (100.0, 50.0), (0.0, 50.0)]
HOOK = [(0.0, 0.0), (30.0, 0.0), (30.0, 10.0), (10.0, 10.0), (10.0, 30.0), (0.0, 30.0)]


def _moved(shape, east, north):
    return [(x + east, y + north) for x, y in shape]


@pytest.mark.parametrize(
    ("text", "corner"),
    [("62.5 0", (62.5, 0)), ("-3, 74", (-3, 74)), ("+1.5,-2", (1.5, -2)),
     ("19.5126 -155.9110", (19.5126, -155.911))],
)  # fmt: skip
def test_a_corner_is_two_numbers(text, corner):
    """Parted by a space or a comma."""
    assert corner == read_corner(text)


def test_what_is_no_corner_is_refused():
    """The schema lets none through."""
    with pytest.raises(ValueError, match="here"):
        read_corner("here")


@pytest.mark.parametrize(
    ("shape", "area"), [(SQUARE, 5000), (HOOK, 500), (SQUARE[:3], 2500), (SQUARE[::-1], 5000)]
)
def test_the_area_within_corners(shape, area):
    """Whichever way round."""
    assert area == area_m2(shape)


_TURNS = st.integers(0, 3)


@given(
    st.lists(st.floats(5, 100), min_size=3, max_size=12),
    st.floats(-1e6, 1e6),
    st.floats(-1e6, 1e6),
    _TURNS,
)
def test_an_area_stays_wherever_the_map_begins(radii, east, north, turns):
    """A star-shaped field, moved and begun at another corner; it never crosses itself."""
    step = 2 * math.pi / len(radii)
    star = [(one * math.cos(at * step), one * math.sin(at * step)) for at, one in enumerate(radii)]
    other = _moved(star[turns % len(star) :] + star[: turns % len(star)], east, north)

    assert area_m2(star) == pytest.approx(area_m2(other), rel=1e-6)
    assert not crosses_itself(star)
    assert sum(lengths_m(star)) == pytest.approx(sum(lengths_m(other)), rel=1e-6)


def test_sides_that_cross_are_seen():
    """Two corners in the wrong order."""
    assert crosses_itself([SQUARE[0], SQUARE[1], SQUARE[3], SQUARE[2]])
    assert not crosses_itself(SQUARE)
    assert not crosses_itself(HOOK)


@pytest.mark.parametrize(
    ("other", "found"),
    [
        (_moved(SQUARE, 100, 0), False),
        (_moved(SQUARE, 99.5, 0), False),
        (_moved(SQUARE, 90, 0), True),
        (_moved(SQUARE, 90, 40), True),
        (_moved(SQUARE, 1000, 0), False),
        (SQUARE, True),
        ([(20, 20), (40, 20), (40, 30)], True),
        ([(-50, -50), (200, -50), (200, 200), (-50, 200)], True),
    ],
)
def test_fields_that_share_ground_are_seen(other, found):
    """A shared edge is none, nor what a tape can't tell; one within the other is."""
    assert found == overlap(SQUARE, other, 1)
    assert found == overlap(other, SQUARE, 1)


def test_a_field_within_the_arms_of_another_shares_nothing():
    """The box around both would say otherwise."""
    assert overlap(HOOK, HOOK, 1)
    assert not overlap(HOOK, [(12, 12), (28, 12), (28, 28), (12, 28)], 1)
    assert holds(HOOK, (5, 25))
    assert not holds(HOOK, (20, 20))
    assert not holds(HOOK, (0, 5))


def test_latitude_and_longitude_become_metres():
    """One minute of latitude at 45° is 1,852.2 m (the nautical mile's own definition, from memory)."""
    shape = [(45.0 - 1 / 120, 10.0), (45.0 + 1 / 120, 10.0), (45.0, 10.001)]
    (made,) = project({"A": shape}).values()

    assert lengths_m(made)[0] == pytest.approx(1852.2, abs=0.1)
    # cos 45° of a thousandth of a degree of the equator, and a little more for the ellipsoid.
    assert made[2][0] - made[0][0] == pytest.approx(78.85, abs=0.01)


@pytest.mark.parametrize("place", [(90, 0), (0, 181), (-89.5, 0)])
def test_what_is_no_place_on_a_flat_map_is_refused(place):
    """Poles have no east."""
    with pytest.raises(ValueError, match="latitude"):
        project({"A": [place, (0, 0), (1, 1)]})


def test_places_far_apart_are_refused():
    """A sign was lost."""
    with pytest.raises(ValueError, match="100 km"):
        project({"A": [(19.5, -155.9)], "B": [(-19.5, -155.9)]})


@given(st.floats(-80, 80), st.floats(-179, 179), st.floats(10, 400), st.floats(10, 400))
def test_a_rectangle_on_the_ground_has_its_area(latitude, longitude, east, north):
    """Laid out by the sphere's own radius, which differs from the ellipsoid's by less than a percent."""
    up = math.degrees(north / 6_371_000)
    right = math.degrees(east / 6_371_000 / math.cos(math.radians(latitude)))
    assume(right < 0.1)
    corners = [(0, 0), (0, right), (up, right), (up, 0)]
    (made,) = project({"A": [(latitude + a, longitude + b) for a, b in corners]}).values()

    assert area_m2(made) == pytest.approx(east * north, rel=0.015)
