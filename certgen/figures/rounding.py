"""Rounding as seed analysts do it: half up, on the decimal figure as written."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from certgen.figures.arguments import Number, exact

_TRACE = Decimal("0.01")


def round_half_up(value: Number | str, places: int = 0) -> Decimal:
    """The value to the given number of decimal places, a half going up (away from zero).

    Exact for fractions too: the half is judged before any decimal expansion is cut.
    """
    scaled = exact(value) * 10**places
    whole = (abs(scaled) + Fraction(1, 2)).__floor__()
    return Decimal(whole if scaled >= 0 else -whole).scaleb(-places)


def round_component(percent: Number | str) -> Decimal:
    """A component of a purity test in per cent, to two decimals; present but below 0.015 % it is 0.01 %.

    Source: 7 CFR 201.47. A component that is absent stays 0.00. Raises ValueError outside 0 to 100.
    """
    value = exact(percent)
    if not 0 <= value <= 100:
        raise ValueError(f"A component must lie between 0 % and 100 %, and is {percent} %.")
    # From 0.005 % on, half up gives 0.01 % anyway.
    return max(_TRACE, round_half_up(value, 2)) if value else round_half_up(0, 2)
