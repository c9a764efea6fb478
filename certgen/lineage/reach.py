"""What many points reach, as sets of bits: where everything hangs together a list a point would be a square.

In 9,000 lots of which each was blended of the one before it, lists of what rests on each hold forty million
names; bits take a hundredth of their memory, and counting them takes no walk.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import islice
from typing import TYPE_CHECKING, Final, overload

from certgen.lineage.walks import find_groups

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator


#: So many bits are taken one by one; for more all bytes are gone through.
_FEW: Final = 16


class Names(Sequence[str]):
    """Some of many names, in their order: those whose bits are set. Holds no list of its own."""

    __slots__ = ("bits", "every")

    def __init__(self, every: Sequence[str], bits: int) -> None:
        """`every` are all that there are; the lowest bit stands for the first."""
        self.every = every
        self.bits = bits

    def __len__(self) -> int:
        return self.bits.bit_count()

    def __bool__(self) -> bool:
        return self.bits != 0

    def __iter__(self) -> Iterator[str]:
        return (self.every[at] for at in list_bits(self.bits))

    @overload
    def __getitem__(self, at: int) -> str: ...
    @overload
    def __getitem__(self, at: slice) -> tuple[str, ...]: ...
    def __getitem__(self, at: int | slice) -> str | tuple[str, ...]:
        if isinstance(at, slice):
            start, stop, step = at.indices(len(self))
            if start == 0 and step == 1 and stop <= _FEW:
                return tuple(self.every[bit] for bit in islice(_take_bits(self.bits), stop))
            return tuple(islice(self, start, stop, step)) if step > 0 else tuple(self)[at]
        if at < 0:
            at += len(self)
        found = next(islice(self, at, None), None) if at >= 0 else None
        if found is None:
            raise IndexError(at)
        return found

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Names):
            return NotImplemented
        return self.bits == other.bits and (self.every is other.every or tuple(self) == tuple(other))

    def __hash__(self) -> int:
        return hash(self.bits)

    def __repr__(self) -> str:
        return f"Names({tuple(self)!r})"


def unite(lists: Iterable[Sequence[str]]) -> set[str]:
    """The names of all lists together, each once."""
    found: set[str] = set()
    # Thousands of gaps share one list of thousands of lots: it is looked through once.
    seen: dict[int, Sequence[str]] = {}
    bits: dict[int, Names] = {}
    for names in lists:
        if isinstance(names, Names):
            known = bits.get(id(names.every))
            bits[id(names.every)] = names if known is None else Names(names.every, names.bits | known.bits)
        elif id(names) not in seen:
            seen[id(names)] = names
            found.update(names)
    return found.union(*bits.values())


def set_bits(points: Iterable[int], count: int) -> int:
    """The points, all below `count`, as the bits of a number."""
    held = bytearray(count // 8 + 1)
    for point in points:
        held[point >> 3] |= 1 << (point & 7)
    return int.from_bytes(held, "little")


def list_bits(bits: int) -> Iterator[int]:
    """The bits that are set, the lowest first."""
    if bits.bit_count() <= _FEW:
        yield from _take_bits(bits)
        return
    size = (bits.bit_length() + 7) // 8
    for place, byte in enumerate(bits.to_bytes(size, "little")):
        if byte:
            yield from (place * 8 + at for at in range(8) if byte >> at & 1)


def _take_bits(bits: int) -> Iterator[int]:
    """The same, each by a pass over all bits that is as fast as a machine adds numbers."""
    while bits:
        lowest = bits & -bits
        yield lowest.bit_length() - 1
        bits ^= lowest


def close(count: int, following: Callable[[int], Iterable[int]], own: Callable[[int], int]) -> list[int]:
    """By point the bits that it and all that it leads to have; `own` gives those of one."""
    held = [0] * count
    for group in find_groups(count, following):
        bits = 0
        for point in group:
            bits |= own(point)
            for other in following(point):
                bits |= held[other]
        for point in group:
            held[point] = bits
    return held
