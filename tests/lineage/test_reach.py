"""Names held as bits read as the list of them would."""

from __future__ import annotations

import pickle

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.lineage.reach import Names, close, list_bits, set_bits, unite
from certgen.lineage.walks import walk

EVERY = tuple(f"L{number}" for number in range(20))
POINTS = st.sets(st.integers(0, 19))
EDGES = st.lists(st.tuples(st.integers(0, 7), st.integers(0, 7)), max_size=20)


@given(POINTS, st.slices(20), st.integers(-20, 19))
def test_names_read_as_their_list(points: set[int], some: slice, at: int) -> None:
    """Length, order, parts, single names and whether there is one."""
    names, told = Names(EVERY, set_bits(points, 20)), [EVERY[point] for point in sorted(points)]

    assert told == list(names)
    assert (len(told), bool(told)) == (len(names), bool(names))
    assert tuple(told[some]) == names[some]
    assert [name in told for name in EVERY] == [name in names for name in EVERY]
    if -len(told) <= at < len(told):
        assert told[at] == names[at]
    else:
        with pytest.raises(IndexError):
            names[at]


@given(POINTS, POINTS)
def test_equal_names_are_equal_wherever_they_come_from(one: set[int], other: set[int]) -> None:
    """Also those that were sent to another process."""
    names, others = Names(EVERY, set_bits(one, 20)), Names(EVERY, set_bits(other, 20))

    assert (one == other) == (names == others)
    assert pickle.loads(pickle.dumps(names)) == names
    assert hash(pickle.loads(pickle.dumps(names))) == hash(names)
    assert names != tuple(names)


@given(st.lists(POINTS), st.lists(POINTS))
def test_lists_of_either_kind_unite(held: list[set[int]], listed: list[set[int]]) -> None:
    """Names as bits and names in lists are the same names, each once."""
    bits = [Names(EVERY, set_bits(points, 20)) for points in held]
    lists = [tuple(EVERY[point] for point in points) for points in listed]

    assert {EVERY[point] for points in (*held, *listed) for point in points} == unite([*bits, *lists])


@given(POINTS)
def test_bits_are_listed_as_they_were_set(points: set[int]) -> None:
    """The lowest first."""
    assert sorted(points) == list(list_bits(set_bits(points, 20)))


@given(EDGES)
def test_bits_close_over_what_is_reached(edges: list[tuple[int, int]]) -> None:
    """Each point has its own and those of all that a walk from it reaches, circles or not."""

    def following(point: int) -> list[int]:
        return [end for start, end in edges if start == point]

    closed = close(8, following, lambda point: 1 << point)

    assert [set_bits({point, *walk([point], following)}, 8) for point in range(8)] == closed
