from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from certgen.lineage.walks import Ways, find_cycles, order, walk

EDGES = st.lists(st.tuples(st.integers(0, 7), st.integers(0, 7)), max_size=20)


@given(EDGES, st.integers(0, 7))
def test_a_walk_reaches_what_can_be_reached_nearest_first(edges, start):
    """Once each, by rising distance, circles or not."""
    distance = {start: 0}
    for _ in range(8):
        for one, other in edges:
            if one in distance:
                distance[other] = min(distance.get(other, 99), distance[one] + 1)
    reached = walk([start], lambda at: [other for one, other in edges if one == at])

    assert distance.keys() - {start} == set(reached)
    assert len(set(reached)) == len(reached)
    assert sorted(distance[point] for point in reached) == [distance[point] for point in reached]


@given(EDGES)
def test_circles_are_the_points_that_lead_back_to_themselves(edges):
    """Found by trying every point; each group holds points that reach one another."""

    def after(point):
        return set(walk([point], lambda at: [other for one, other in edges if one == at]))

    reach = {point: after(point) | ({point} if (point, point) in edges else set()) for point in range(8)}
    for one, other in edges:
        reach[one] |= {one} if one in reach[other] else set()
    mutual = {
        tuple(
            sorted({other for other in range(8) if other in reach[point] and point in reach[other]} | {point})
        )
        for point in range(8)
        if point in reach[point]
    }

    assert mutual == set(find_cycles(8, edges))


@given(EDGES)
def test_an_order_puts_first_what_comes_before(edges):
    """Where there is no circle, every edge points onward."""
    placed = order(range(8), lambda at: [one for one, other in edges if other == at])

    assert list(range(8)) == sorted(placed)
    if not find_cycles(8, edges):
        assert all(placed.index(one) < placed.index(other) for one, other in edges)


def test_a_walk_from_several_starts_goes_by_number():
    """Whatever order they came in: what 1 leads to stands before what 8 and 16 lead to."""
    after = {1: [2], 8: [9], 16: [17], 2: [18], 9: [1]}

    assert [2, 9, 18] == walk([8, 1], lambda at: after.get(at, []))
    assert [2, 9, 17, 18] == walk([16, 8, 1, 8], lambda at: after.get(at, []))
    assert [] == walk([], lambda at: after.get(at, []))


def test_circles_are_told_by_their_first_point():
    """Each sorted, and in order; a point that leads to itself is one, and its neighbours are none."""
    edges = [(6, 5), (5, 6), (3, 3), (2, 1), (1, 0), (0, 2), (2, 3), (3, 4), (4, 5)]

    assert [(0, 1, 2), (3,), (5, 6)] == find_cycles(7, edges)
    assert [] == find_cycles(3, [(0, 1), (0, 1), (1, 2), (0, 2)])


def test_an_order_keeps_to_the_points_where_nothing_is_before_them():
    """And tells each once."""
    assert [2, 0, 1] == order([2, 0, 1, 2], [(), (), ()].__getitem__)
    assert [3, 1, 0, 2] == order([0, 2], {0: [1], 1: [3], 2: [3], 3: []}.__getitem__)


@given(EDGES)
def test_ways_are_the_edges_in_their_order(edges):
    """From each point to those that were given for it, twice where given twice; plain numbers."""
    ways = Ways(8, [start for start, _ in edges], [end for _, end in edges])

    for point in range(8):
        assert [end for start, end in edges if start == point] == list(ways.following(point))
        assert all(type(end) is int for end in ways.following(point))
