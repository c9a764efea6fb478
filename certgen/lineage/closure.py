"""Walks over a graph of whole numbers: what is reached from where, and which points go round in circles."""

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


def find_cycles(count: int, edges: Sequence[tuple[int, int]]) -> list[tuple[int, ...]]:
    """Groups of points that can all be reached from one another, and points that lead to themselves."""
    starts, ends = [start for start, _ in edges], [end for _, end in edges]
    out, into = Ways(count, starts, ends).following, Ways(count, ends, starts).following
    waiting = [len(into(point)) for point in range(count)]
    # Peel off whatever depends on nothing that is left; what can't be peeled holds every circle.
    ready = [point for point in range(count) if waiting[point] == 0]
    left = set(range(count))
    while ready:
        point = ready.pop()
        left.discard(point)
        for end in out(point):
            waiting[end] -= 1
            if waiting[end] == 0:
                ready.append(end)
    found: list[tuple[int, ...]] = []
    while left:
        point = min(left)
        onward = set(walk([point], out)) & left
        backward = set(walk([point], into)) & left
        group = (onward & backward) | {point}
        if len(group) > 1 or point in out(point):
            found.append(tuple(sorted(group)))
        left -= group
    return found
