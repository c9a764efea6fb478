"""Seeds of noxious weeds found against those labelled."""

from __future__ import annotations

import math

from certgen.figures.arguments import check_count

_MOST_FOUND = (
    2, 4, 6, 8, 9, 11, 12, 13, 14, 16, 17, 18, 20, 21, 22, 23,
    24, 25, 27, 28, 29, 30, 32, 33, 34, 35, 37, 38, 39, 41, 42,
)  # fmt: skip


def most_found(labelled: int) -> tuple[float, bool]:
    """The most seeds that may be found where so many are labelled, and whether that stands in the table.

    Table up to 30 labelled; beyond it X + 1 + 1.96·sqrt(X), not rounded, since neither way of rounding
    reproduces the table. Source: 7 CFR 201.65.
    """
    count = check_count(labelled, "The number labelled")
    if count < len(_MOST_FOUND):
        return float(_MOST_FOUND[count]), True
    return count + 1 + 1.96 * math.sqrt(count), False
