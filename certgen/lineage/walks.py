"""Walks over points that lead to one another: what is reached, in which order, what goes round in circles."""

from __future__ import annotations

from array import array
from collections import deque
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence


class Ways:
    """What follows each point, in the order given.

    Two arrays of whole numbers: a list a point took ten times the memory, and nearly all of it was lists.
    """

    __slots__ = ("_ends", "_first")

    def __init__(self, count: int, starts: Sequence[int], ends: Sequence[int]) -> None:
        """`count` points; `ends[i]` follows `starts[i]`."""
        import numpy as np

        leaving = np.asarray(starts, dtype=np.intp)
        in_order = np.asarray(ends, dtype=np.uint32)[leaving.argsort(kind="stable")]
        first = np.zeros(count + 1, dtype=np.uint32)
        first[1:] = np.bincount(leaving, minlength=count).cumsum()
        # Plain arrays, whose numbers come out as plain numbers.
        self._ends = array("I", in_order.astype(np.uintc).tobytes())
        self._first = array("I", first.astype(np.uintc).tobytes())

    def following(self, point: int) -> Sequence[int]:
        """The points that follow one."""
        return self._ends[self._first[point] : self._first[point + 1]]


def walk(starts: Iterable[int], following: Callable[[int], Iterable[int]]) -> list[int]:
    """Everything reached from the starts, nearest first, each point once; the starts are left out.

    A point that is reached twice is walked through once, so records that go round in a circle end too.
    """
    seen = set(starts)
    queue = deque(seen if len(seen) < 2 else sorted(seen))
    reached: list[int] = []
    while queue:
        for point in following(queue.popleft()):
            if point not in seen:
                seen.add(point)
                reached.append(point)
                queue.append(point)
    return reached


def order(points: Iterable[int], before: Callable[[int], Iterable[int]]) -> list[int]:
    """The points with everything that comes `before` a point ahead of it.

    Points that go round in a circle stand in the order in which they were first met: there is no
    right one.
    """
    done: list[int] = []
    seen: set[int] = set()
    for first in points:
        if first in seen:
            continue
        seen.add(first)
        stack: list[tuple[int, Iterator[int]]] = [(first, iter(before(first)))]
        while stack:
            point, rest = stack[-1]
            following = next((one for one in rest if one not in seen), None)
            if following is None:
                done.append(point)
                stack.pop()
            else:
                seen.add(following)
                stack.append((following, iter(before(following))))
    return done


def find_groups(count: int, following: Callable[[int], Iterable[int]]) -> list[list[int]]:
    """The points in groups that can all be reached from one another; most are alone in theirs.

    What a group leads to stands before it.
    """
    finder = _Groups(count, following)
    for point in range(count):
        finder.walk_from(point)
    return finder.found


class _Groups:
    """One walk in depth: a point that leads back to an earlier one of the path makes one group of all that
    lies between."""

    def __init__(self, count: int, following: Callable[[int], Iterable[int]]) -> None:
        self.found: list[list[int]] = []
        self._following = following
        #: By point when it was met, from 1, and whether its group is closed.
        self._met, self._closed = [0] * count, bytearray(count)
        self._number = 0
        #: Points in no closed group, as they were met; and the first of each group so far on the path.
        self._open: list[int] = []
        self._heads: list[int] = []

    def walk_from(self, first: int) -> None:
        """Closes the groups of all points that are reached from one and that nobody met before."""
        path = [] if self._met[first] else [(first, self._enter(first))]
        while path:
            point, rest = path[-1]
            onward = next((other for other in rest if self._is_new(other)), None)
            if onward is not None:
                path.append((onward, self._enter(onward)))
                continue
            path.pop()
            if self._heads[-1] == point:
                self._close()

    def _enter(self, point: int) -> Iterator[int]:
        self._number += 1
        self._met[point] = self._number
        self._open.append(point)
        self._heads.append(point)
        return iter(self._following(point))

    def _is_new(self, point: int) -> bool:
        """Whether nobody met a point; one that is met and open is of one group with all since."""
        if self._met[point]:
            while not self._closed[point] and self._met[self._heads[-1]] > self._met[point]:
                self._heads.pop()
        return not self._met[point]

    def _close(self) -> None:
        head = self._heads.pop()
        group: list[int] = []
        while not group or group[-1] != head:
            group.append(self._open.pop())
            self._closed[group[-1]] = 1
        self.found.append(group)


def find_cycles(count: int, edges: Sequence[tuple[int, int]]) -> list[tuple[int, ...]]:
    """Groups of points that can all be reached from one another, and points that lead to themselves.

    Both the groups and the points of each in their order.
    """
    following: list[list[int]] = [[] for _ in range(count)]
    for start, end in edges:
        following[start].append(end)
    groups = find_groups(count, following.__getitem__)
    circles = (group for group in groups if len(group) > 1 or group[0] in following[group[0]])
    return sorted(tuple(sorted(group)) for group in circles)
