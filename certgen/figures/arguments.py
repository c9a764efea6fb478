"""Checks of arguments shared by every figure: a wrong number is refused in plain words."""

from __future__ import annotations

from decimal import Decimal, InvalidOperation
from fractions import Fraction
from operator import index

Number = int | float | Decimal | Fraction


def check_proportion(value: float, name: str, *, zero: bool = True, one: bool = True) -> float:
    """The value itself, a share between 0 and 1.

    `zero` and `one` say whether the ends are allowed. Raises ValueError outside, and for a value that is no
    number.
    """
    if not 0 <= value <= 1 or (value == 0 and not zero) or (value == 1 and not one):
        ends = f"{'from' if zero else 'above'} 0 {'up to' if one else 'and below'} 1"
        raise ValueError(f"{name} must lie {ends}, and is {value}.")
    return float(value)


def check_confidence(value: float) -> float:
    """The value itself, a confidence strictly between 0 and 1 (0.95 for 95 %). Raises ValueError if not."""
    return check_proportion(value, "The confidence", zero=False, one=False)


def check_count(value: int, name: str, *, least: int = 0) -> int:
    """The value itself, a whole number of at least `least`. Raises ValueError otherwise."""
    if isinstance(value, bool) or value % 1 != 0 or value < least:  # the rest of NaN and of infinity is NaN
        raise ValueError(f"{name} must be a whole number of at least {least}, and is {value}.")
    return int(value)


def check_positives(positive: int, tested: int) -> tuple[int, int]:
    """Both counts, with 0 <= positive <= tested and at least one tested. Raises ValueError otherwise."""
    tested = check_count(tested, "The number tested", least=1)
    positive = check_count(positive, "The number found", least=0)
    if positive > tested:
        raise ValueError(f"{positive} found among {tested} tested: more found than tested.")
    return positive, tested


def exact(value: Number | str) -> Fraction:
    """The number as written, as an exact fraction: 0.95 is 19/20, not the nearest binary number.

    A float is read by its shortest decimal form, so that what a grower typed is what is computed with.
    Raises ValueError for what is no finite number.
    """
    try:
        if isinstance(value, float | str):
            return Fraction(Decimal(str(value)))
        if isinstance(value, Decimal | Fraction):
            return Fraction(value)
        return Fraction(index(value))  # a plain int: a column's integers have 64 bits and overflow unnoticed
    except (InvalidOperation, OverflowError, ValueError, TypeError):
        raise ValueError(f"{value!r} is not a number that can be computed with.") from None


def check_mass(value: Number | str, name: str, *, zero: bool = False) -> Fraction:
    """A mass as an exact fraction, in the unit it came in.

    Raises ValueError if it is negative, or zero where zero is not allowed.
    """
    mass = exact(value)
    if mass < 0 or (mass == 0 and not zero):
        raise ValueError(f"{name} must be {'zero or more' if zero else 'more than zero'}, and is {value}.")
    return mass
