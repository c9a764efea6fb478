"""The most moisture, in per cent, that seed may hold to count as hermetically packed: 7 CFR 201.36c.

Papaya is in neither list by name; `all others` stands in both.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

AGRICULTURAL: Mapping[str, str] = MappingProxyType(
    {
        "beet": "7.5", "kentucky bluegrass": "6.0", "crimson clover": "8.0", "red fescue": "8.0",
        "india mustard": "5.0", "ryegrasses": "8.0", "all others": "6.0",
    }
)  # fmt: skip
VEGETABLE: Mapping[str, str] = MappingProxyType(
    {
        "garden bean": "7.0", "lima bean": "7.0", "beet": "7.5", "broccoli": "5.0", "carrot": "7.0",
        "celery": "7.0", "chard": "7.5", "chives": "6.5", "sweet corn": "8.0", "cucumber": "6.0",
        "eggplant": "6.0", "leek": "6.5", "lettuce": "5.5", "melon": "6.0", "onion": "6.5", "parsley": "6.5",
        "parsnip": "6.0", "pea": "7.0", "pepper": "4.5", "pumpkin": "6.0", "all others": "6.0",
    }
)  # fmt: skip
