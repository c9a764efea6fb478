"""Checks of arguments shared by every figure: a wrong number is refused in plain words.

What no grower can count, weigh or plan is refused too, before it is computed with: a figure of hundreds of
digits helps nobody, and a sum over a thousand million terms ends for nobody.
"""

from __future__ import annotations

import math
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from operator import index

Number = int | float | Decimal | Fraction

MOST_COUNTED = 10**15
"""The largest count that is computed with; a thousand tonnes are a thousandth of it in milligrams."""
MOST_TESTED = 10**9
"""The largest number of tests whose limits are computed: beyond it the last digits are noise."""
LARGEST, SMALLEST = 10.0**30, 10.0**-30
"""The largest and the smallest number typed that is computed with, nothing itself aside."""
_SMALLEST_QUOTIENT = 10.0**-150
_SHOWN = 40


def _show(value: object) -> str:
    """The value in a message: a number of a thousand digits is cut."""
    try:
        text = str(value)
    except ValueError:  # Python itself refuses to write out whole numbers of thousands of digits
        return "a number of thousands of digits"
    return text if len(text) <= _SHOWN else f"{text[:_SHOWN]}…"


def check_proportion(value: float, name: str, *, zero: bool = True, one: bool = True) -> float:
    """The value itself, a share between 0 and 1.

    `zero` and `one` say whether the ends are allowed. Raises ValueError outside, and for a value that is no
    number, yes and no among them.
    """
    share = as_float(value)
    if not 0 <= share <= 1 or (share == 0 and not zero) or (share == 1 and not one):
        ends = f"{'from' if zero else 'above'} 0 {'up to' if one else 'and below'} 1"
        raise ValueError(f"{name} must lie {ends}, and is {_show(value)}.")
    return share


def as_float(value: object) -> float:
    """The value as a float; NaN, which lies in no range, for yes, no, and whatever no float holds."""
    if isinstance(value, bool):
        return math.nan
    try:
        return float(value)  # type: ignore[arg-type]
    except (OverflowError, TypeError, ValueError):
        return math.nan


def check_confidence(value: float) -> float:
    """The value itself, a confidence strictly between 0 and 1 (0.95 for 95 %). Raises ValueError if not."""
    return check_proportion(value, "The confidence", zero=False, one=False)


def check_count(value: int, name: str, *, least: int = 0, most: int = MOST_COUNTED) -> int:
    """The value itself, a whole number from `least` to `most`. Raises ValueError otherwise."""
    number = as_float(value)
    if not math.isfinite(number) and type(value) is int:
        number = LARGEST if value > 0 else -LARGEST  # a whole number beyond all floats
    if not math.isfinite(number) or number % 1 != 0 or number < least:
        raise ValueError(f"{name} must be a whole number of at least {least}, and is {_show(value)}.")
    if number > most:
        raise ValueError(f"{name} must be {most:,} at most, and is {_show(value)}.")
    return int(value)


def check_positives(positive: int, tested: int) -> tuple[int, int]:
    """Both counts, positive <= tested and tested from 1 to MOST_TESTED. Raises ValueError otherwise."""
    tested = check_count(tested, "The number tested", least=1, most=MOST_TESTED)
    positive = check_count(positive, "The number found", least=0)
    if positive > tested:
        raise ValueError(f"{positive} found among {tested} tested: more found than tested.")
    return positive, tested


def exact(value: Number | str) -> Fraction:
    """The number as written, as an exact fraction: 0.95 is 19/20, not the nearest binary number.

    A float is read by its shortest decimal form, so that what a grower typed is what is computed with.
    Raises ValueError for what is no finite number, for yes and no, and for what no scale shows: beyond
    LARGEST, or typed nearer to nothing than SMALLEST.
    """
    try:
        if isinstance(value, float | str | Decimal):
            typed = Decimal(str(value)) if isinstance(value, float | str) else value
            # Before it is written out: 1e999999999 has as many digits.
            if not typed.is_finite() or (typed and not -30 <= typed.adjusted() < 30):
                raise InvalidOperation
            return Fraction(typed)
        if isinstance(value, bool):
            raise InvalidOperation
        number = value if isinstance(value, Fraction) else Fraction(index(value))
        # A plain int: a column's integers have 64 bits and overflow unnoticed.
        if abs(number) > LARGEST or 0 < abs(number) < _SMALLEST_QUOTIENT:
            raise InvalidOperation
    except (InvalidOperation, OverflowError, ValueError, TypeError):
        raise ValueError(f"{_quote(value)} is not a number that can be computed with.") from None
    return number


def _quote(value: object) -> str:
    return repr(value) if isinstance(value, str) and len(value) <= _SHOWN else f"'{_show(value)}'"


def check_mass(value: Number | str, name: str, *, zero: bool = False) -> Fraction:
    """A mass as an exact fraction, in the unit it came in.

    Raises ValueError if it is negative, or zero where zero is not allowed.
    """
    mass = exact(value)
    if mass < 0 or (mass == 0 and not zero):
        raise ValueError(
            f"{name} must be {'zero or more' if zero else 'more than zero'}, and is {_show(value)}."
        )
    return mass
