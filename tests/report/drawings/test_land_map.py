"""The map of the land."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.report.drawings.land_map import MapBlock, MapPicture, draw_land_map

SQUARE = ((0.0, 0.0), (100.0, 0.0), (100.0, 50.0), (0.0, 50.0))


def picture(*blocks: MapBlock, **more) -> MapPicture:
    """A map of some blocks, 480 points wide."""
    return MapPicture("Map", "To scale.", blocks, 480, **more)


def shapes_of(drawn: str) -> list[list[tuple[float, float]]]:
    """The outlines of blocks, in points: those of buffers first."""
    paths = re.findall(r'<path d="M([^"hZ]*)Z"', drawn)
    return [[tuple(map(float, step.split())) for step in path.split("L")] for path in paths]


def test_a_block_is_drawn_to_scale_with_up_upwards():
    """Twice as wide as high stays so, and the first corner stands at the lower left."""
    ((first, second, third, _),) = shapes_of(draw_land_map(picture(MapBlock("A", "", "organic", SQUARE))))

    assert second[0] - first[0] == pytest.approx(2 * (second[1] - third[1]), rel=1e-3)
    assert first[1] > third[1]


@pytest.mark.parametrize(("north", "found"), [(None, 0), (0.0, 1), (12.0, 1)])
def test_north_is_drawn_where_somebody_says_it(north, found):
    """A map that nobody turned has none."""
    drawn = draw_land_map(picture(MapBlock("A", "", "organic", SQUARE), north=north))

    assert found == drawn.count(">N<")


@pytest.mark.parametrize(("side", "told"), [(100.0, "20 m"), (1000.0, "200 m"), (3.0, "1 m")])
def test_the_scale_bar_is_a_round_number_of_metres(side, told):
    """As long as the column beside the map takes."""
    block = MapBlock("A", "", "organic", ((0.0, 0.0), (side, 0.0), (side, side), (0.0, side)))

    assert f">{told}<" in draw_land_map(picture(block))


def test_a_buffer_is_a_strip_as_wide_as_recorded():
    """Half of a stroke that is twice as wide; land that isn't organic keeps none."""
    drawn = draw_land_map(
        picture(MapBlock("A", "", "organic", SQUARE, 12), MapBlock("B", "", "conventional", SQUARE, 9))
    )
    (left, _), (right, _), *_ = shapes_of(drawn)[0]
    (width,) = re.findall(r'stroke="#f2f4f1" stroke-width="([0-9.]+)"', drawn)

    assert float(width) == pytest.approx(2 * 12 * (right - left) / 100, rel=1e-2)


_METRES = st.floats(-9_999_999, 9_999_999, allow_nan=False)


@given(
    st.lists(
        st.tuples(
            st.lists(st.tuples(_METRES, _METRES), min_size=3, max_size=7, unique=True), st.floats(0, 1e6)
        ),
        min_size=1,
        max_size=5,
    )
)
def test_every_map_is_a_drawing_within_its_width(blocks):
    """Whatever was measured, with names that a page has no room for."""
    made = picture(
        *(MapBlock("<&>" * 9, "words " * 9, "organic", tuple(one), width) for one, width in blocks)
    )
    root = ET.fromstring(draw_land_map(made))
    points = [point for path in shapes_of(draw_land_map(made)) for point in path]

    assert root.get("width") == "480pt"
    assert all(-1 <= x <= 481 for x, _ in points)
