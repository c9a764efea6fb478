"""Walking the structure tree of a tagged PDF."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pikepdf

if TYPE_CHECKING:
    from collections.abc import Iterator


def kids(element: Any) -> list[Any]:
    """The child elements of a structure element, without marked content and object references."""
    found = element.get("/K")
    if found is None:
        return []
    listed = list(found) if isinstance(found, pikepdf.Array) else [found]
    return [kid for kid in listed if isinstance(kid, pikepdf.Dictionary) and "/S" in kid]


def walk(element: Any) -> Iterator[Any]:
    """Every structure element below `element`, in reading order."""
    for kid in kids(element):
        yield kid
        yield from walk(kid)
