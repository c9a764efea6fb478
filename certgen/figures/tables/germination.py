"""Published tables for comparing germination figures, and the minima of some listed vegetables."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

from certgen.figures.tables.replicate_range import spread_bands

if TYPE_CHECKING:
    from collections.abc import Mapping

# 7 CFR 201.63, at the mean of the two figures (201.59): a mean of at least the first allows the second, in
# points.
LABEL_TOLERANCE: tuple[tuple[int, int], ...] = ((96, 5), (90, 6), (80, 7), (70, 8), (60, 9), (0, 10))
LABEL_TOLERANCE_SEEDS = 400
MIXTURE_ALLOWANCE = 2

# Two tests of 400 seeds each. 'between laboratories': Louisiana Administrative Code 7 §XIII-139, which
# holds the variation between laboratories; 'same laboratory': ISTA (from memory). Both mirror as 101 − mean.
TWO_TESTS: Mapping[str, Mapping[int, int]] = MappingProxyType(
    {
        "between laboratories": spread_bands(
            (
                (99, 99, 2), (97, 98, 3), (94, 96, 4), (91, 93, 5), (87, 90, 6), (82, 86, 7), (76, 81, 8),
                (70, 75, 9), (60, 69, 10), (51, 59, 11),
            )
        ),
        "same laboratory": spread_bands(
            ((98, 99, 2), (95, 97, 3), (91, 94, 4), (85, 90, 5), (77, 84, 6), (60, 76, 7), (51, 59, 8))
        ),
    }
)  # fmt: skip

# 7 CFR 201.31, some of the listed vegetables, in per cent. Papaya is not listed: this shows what is, no more.
LISTED_MINIMA: Mapping[str, int] = MappingProxyType(
    {
        "artichoke": 60, "asparagus": 70, "carrot": 55, "celery": 55, "cucumber": 80, "eggplant": 60,
        "lettuce": 80, "melon": 75, "okra": 50, "onion": 70, "pak-choi": 75, "parsley": 60,
        "parsnip": 60, "pea": 80, "pepper": 55, "pumpkin": 75,
    }
)  # fmt: skip
