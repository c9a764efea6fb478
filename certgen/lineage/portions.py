"""Shares of a mass in whole milligrams that add up to it exactly."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence


def apportion(total: int, weights: Sequence[int]) -> list[int]:
    """`total` shared out in proportion to the weights, by largest remainder.

    Whole numbers that add up to `total` exactly. Equal remainders go to the earlier weight. With
    nothing to go by (all weights zero) everything falls to the first.
    """
    whole = sum(weights)
    if whole == 0:
        return [total if position == 0 else 0 for position in range(len(weights))]
    shares = [total * weight // whole for weight in weights]
    remainders = [total * weight % whole for weight in weights]
    left = total - sum(shares)
    for position in sorted(range(len(weights)), key=lambda at: -remainders[at])[:left]:
        shares[position] += 1
    return shares
