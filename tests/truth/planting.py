"""How a fault is registered: under its rule's name, with the places at which it must be found."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from plot import Expected, Plot

Fault = Callable[[Plot], list[Expected]]
FAULTS: dict[str, Fault] = {}


def plants(check: Callable[[Plot], Any]) -> Callable[[Plot], Any]:
    """Registers a fault under its function's name.

    It returns (table, record, *steps), or a list of them; what another rule must find with it, it returns
    as an `Expected`.
    """
    slug = check.__name__.replace("_", "-")

    def plant(plot: Plot) -> list[Expected]:
        told = check(plot)
        places = told if isinstance(told, list) else [told]
        return [
            one if isinstance(one, Expected) else Expected(slug, one[0], one[1], tuple(one[2:]))
            for one in places
        ]

    FAULTS[slug] = plant
    return check
