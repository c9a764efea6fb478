"""A block's corners as a shape on the ground: its area, its sides, and whether such a block can be.

Corners are metres on a flat map, x to the right and y up. Latitude and longitude become metres around the
middle of all corners, by the radii of the earth's ellipsoid there; across a farm that is right to
centimetres. Shapes are few and small, so no library of geometry is needed for them.
"""

from __future__ import annotations

import itertools
import math
import re
from typing import TYPE_CHECKING, Final

from certgen.figures.arguments import as_float

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

Point = tuple[float, float]
"""Metres to the right of the map's point of reference, and up from it."""

#: As much of a corner as a message quotes.
_LONGEST: Final = 60
_CORNER: Final = re.compile(r"([+-]?[0-9.]+)[ ,]+([+-]?[0-9.]+)")
#: The ellipsoid that satellite positions refer to: half its longer axis in metres, its squared
#: eccentricity.
_AXIS_M: Final = 6_378_137.0
_ECCENTRICITY: Final = 0.006_694_379_990_14
#: Further than once around the earth: no corner lies there.
_FURTHEST_M: Final = 5e7
#: How far from its middle a map is taken for flat.
_FLAT_M: Final = 50_000


def read_corner(text: str) -> Point:
    """The two numbers of a corner as typed: `62.5 0`. Raises ValueError for anything else."""
    found = _CORNER.fullmatch(text.strip())
    numbers = [as_float(part) for part in found.groups()] if found else [math.nan]
    if not all(map(math.isfinite, numbers)):
        raise ValueError(f"'{text[:_LONGEST]}' is no corner: two numbers, such as 62.5 0.")
    return numbers[0], numbers[1]


def _check_shape(shape: Sequence[Point]) -> Sequence[Point]:
    """The shape itself. Raises ValueError for one without corners, or with a corner that is nowhere."""
    if not shape:
        raise ValueError("A shape without corners is no block.")
    for point in shape:
        _check_point(point)
    return shape


def _check_point(point: Point) -> Point:
    if not all(abs(as_float(metres)) <= _FURTHEST_M for metres in point):
        raise ValueError("A corner is given by two numbers of metres, or of degrees.")
    return point


def _check_slack(slack_m: float) -> float:
    if not 0 <= as_float(slack_m) <= _FURTHEST_M:
        raise ValueError("The slack is a number of metres, and not below 0.")
    return slack_m


def project(places: Mapping[str, Sequence[Point]]) -> dict[str, list[Point]]:
    """Shapes given as latitude and longitude in degrees, as metres east and north of their middle.

    Raises ValueError where one is no place on earth that a flat map takes, or they lie too far apart for one.
    """
    corners = list(itertools.chain.from_iterable(places.values()))
    if not corners:
        return {}
    if not all(map(is_on_earth, corners)):
        raise ValueError("A corner is no latitude and longitude.")
    latitude, longitude = ((min(values) + max(values)) / 2 for values in zip(*corners, strict=True))
    sine = math.sin(math.radians(latitude))
    bend = 1 - _ECCENTRICITY * sine * sine
    north_m = math.radians(_AXIS_M * (1 - _ECCENTRICITY) / bend**1.5)
    east_m = math.radians(_AXIS_M / math.sqrt(bend) * math.cos(math.radians(latitude)))
    shapes = {
        name: [((east - longitude) * east_m, (north - latitude) * north_m) for north, east in shape]
        for name, shape in places.items()
    }
    if max(math.hypot(*point) for point in itertools.chain.from_iterable(shapes.values())) > _FLAT_M:
        raise ValueError("The corners lie more than 100 km apart.")
    return shapes


def is_on_earth(place: Point) -> bool:
    """Whether two numbers are a latitude and a longitude, not at a pole, where no flat map is drawn."""
    return abs(as_float(place[0])) <= 89 and abs(as_float(place[1])) <= 180


def area_m2(shape: Sequence[Point]) -> float:
    """The area within a shape that doesn't cross itself, in square metres."""
    # Counted from the first corner, so that large coordinates lose no digits.
    x0, y0 = _check_shape(shape)[0]
    return abs(sum((x1 - x0) * (y2 - y0) - (x2 - x0) * (y1 - y0) for (x1, y1), (x2, y2) in sides(shape)) / 2)


def sides(shape: Sequence[Point]) -> Iterator[tuple[Point, Point]]:
    """Each side from its corner to the next, the last back to the first."""
    return zip(_check_shape(shape), [*shape[1:], shape[0]], strict=True)


def lengths_m(shape: Sequence[Point]) -> list[float]:
    """How long each side is."""
    return [math.dist(one, other) for one, other in sides(shape)]


def _offset_m(one: Point, two: Point, point: Point) -> float:
    """How far left (or right, negative) of the line from `one` to `two` a point lies."""
    cross = (two[0] - one[0]) * (point[1] - one[1]) - (two[1] - one[1]) * (point[0] - one[0])
    return cross / max(math.dist(one, two), 0.001)


def _cross(one: tuple[Point, Point], other: tuple[Point, Point], slack_m: float) -> bool:
    """Whether each of two sides ends on both hands of the other, by more than the slack."""

    def parts(line: tuple[Point, Point], points: tuple[Point, Point]) -> bool:
        first, last = (_offset_m(*line, point) for point in points)
        return min(first, last) < -slack_m and max(first, last) > slack_m

    return parts(one, other) and parts(other, one)


def crosses_itself(shape: Sequence[Point]) -> bool:
    """Whether two sides of one shape cross."""
    every = list(sides(shape))
    return any(_cross(one, other, 0.001) for at, one in enumerate(every) for other in every[at + 2 :])


def _distance_m(line: tuple[Point, Point], point: Point) -> float:
    (x1, y1), (x2, y2) = line
    length = (x2 - x1) ** 2 + (y2 - y1) ** 2
    along = ((point[0] - x1) * (x2 - x1) + (point[1] - y1) * (y2 - y1)) / length if length else 0.0
    along = min(max(along, 0.0), 1.0)
    return math.dist(point, (x1 + along * (x2 - x1), y1 + along * (y2 - y1)))


def holds(shape: Sequence[Point], point: Point, slack_m: float = 0.001) -> bool:
    """Whether a point lies inside a shape, further from its edge than the slack."""
    (x, y), inside = _check_point(point), False
    _check_slack(slack_m)
    for (x1, y1), (x2, y2) in sides(shape):
        if (y1 > y) != (y2 > y) and x < (x2 - x1) * (y - y1) / (y2 - y1) + x1:
            inside = not inside
    return inside and all(_distance_m(line, point) > slack_m for line in sides(shape))


def overlap(one: Sequence[Point], other: Sequence[Point], slack_m: float) -> bool:
    """Whether two shapes share ground that is deeper than the slack, which is what a tape can tell."""
    _check_slack(slack_m)
    for first, last in zip(_box(_check_shape(one)), _box(_check_shape(other)), strict=True):
        if first[1] <= last[0] or last[1] <= first[0]:
            return False
    if any(_cross(a, b, slack_m) for a in sides(one) for b in sides(other)):
        return True
    return any(holds(other, point, slack_m) for point in _inner(one)) or any(
        holds(one, point, slack_m) for point in _inner(other)
    )


def _box(shape: Sequence[Point]) -> list[tuple[float, float]]:
    return [(min(values), max(values)) for values in zip(*shape, strict=True)]


def _inner(shape: Sequence[Point]) -> Iterator[Point]:
    """A shape's corners, the middles of its sides, and points within it beside each corner. Where no sides
    cross, what lies within another shape, or just over it, has one of them in there."""
    yield from shape
    for (x1, y1), (x2, y2) in sides(shape):
        yield (x1 + x2) / 2, (y1 + y2) / 2
    for before, (x, y), after in zip([shape[-1], *shape], shape, [*shape[1:], shape[0]], strict=False):
        beside = (before[0] + x + after[0]) / 3, (before[1] + y + after[1]) / 3
        if holds(shape, beside):
            yield beside
