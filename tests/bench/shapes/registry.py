"""The shapes by name, and how a season of one is put together."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from typing import TypeVar

Records = Mapping[str, Iterable[str]]
Draw = TypeVar("Draw", bound=Callable[[int], Records])
SHAPES: dict[str, Callable[[int], Records]] = {}


def shape(draw: Draw) -> Draw:
    """Registers a shape under its function's name with hyphens."""
    name = draw.__name__.replace("_", "-")
    if name in SHAPES or not draw.__doc__:
        message = f"shape {name} needs a name of its own and a docstring"
        raise ValueError(message)
    SHAPES[name] = draw
    return draw


def joined(*parts: Records) -> Records:
    """Several tables' records as one file's."""
    found: dict[str, list[str]] = defaultdict(list)
    for part in parts:
        for table, records in part.items():
            found[table] += records
    return found


def listed(stem: str, numbers: Iterable[int]) -> str:
    """`[L1, L2]`."""
    return f"[{', '.join(f'{stem}{number}' for number in numbers)}]"
