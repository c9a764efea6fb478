"""How many names each of many lists tells, where all of them together would fill a disk.

A gap tells the lots that it reaches, a lot the records that leave it open. In a season in which everything
hangs together these lists are a square of the records: 5,000 bags in a run that 5,000 lots were packed from
would tell 25 million names. Nobody reads them, so beyond a bound each list tells its first names and how many
more there are.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable

#: So many names may all lists of one kind tell together before they are cut.
ALL_TOLD: Final = 200_000
#: So many obligations all lots together, each of them an object of its own.
OBLIGATIONS_TOLD: Final = 20_000
#: So many names each list tells where they are cut.
EACH_TOLD: Final = 5


def most_told(lists: Iterable[Collection[object]], all_told: int = ALL_TOLD) -> int | None:
    """How many names each of the lists may tell; None for all."""
    return EACH_TOLD if sum(map(len, lists)) > all_told else None
