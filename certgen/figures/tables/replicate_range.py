"""The largest range that chance allows between replicates of 100 seeds, by their mean in whole per cent.

Source: 7 CFR 201.55 (read in full in a 2015 copy), after Miles 1963; the ISTA table for 4 × 100 agrees in all
49 cells (from memory). It is for random variation at 2.5 %. The lower half mirrors as 101 − mean: 99 stands
with 2 and 51 with 50. The stored copy of the regulation misprints two lower means, '38' and '48' for 39 and
49.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

_FOUR = (
    (99, 99, 5), (98, 98, 6), (97, 97, 7), (96, 96, 8), (95, 95, 9), (93, 94, 10), (91, 92, 11), (89, 90, 12),
    (87, 88, 13), (84, 86, 14), (81, 83, 15), (78, 80, 16), (73, 77, 17), (67, 72, 18), (56, 66, 19),
    (51, 55, 20),
)  # fmt: skip
_TWO = (
    (96, 97, 6), (95, 95, 7), (93, 94, 8), (90, 92, 9), (88, 89, 10), (84, 87, 11), (81, 83, 12),
    (76, 80, 13), (69, 75, 14), (55, 68, 15), (51, 54, 16),
)  # fmt: skip


def spread_bands(bands: tuple[tuple[int, int, int], ...]) -> Mapping[int, int]:
    """Whole per cent -> cell, from bands of the upper half, with the lower half as 101 − mean."""
    upper = {mean: cell for low, high, cell in bands for mean in range(low, high + 1)}
    return MappingProxyType(upper | {101 - mean: cell for mean, cell in upper.items()})


SEEDS_PER_REPLICATE = 100
RANGE_BY_REPLICATES: Mapping[int, Mapping[int, int]] = MappingProxyType(
    {4: spread_bands(_FOUR), 2: spread_bands(_TWO)}
)
