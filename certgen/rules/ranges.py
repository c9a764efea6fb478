"""Measured values checked against the crop's practice."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from certgen.records.columns import days_from
from certgen.records.nouns import agree
from certgen.rules.findings import Finding
from certgen.rules.wording import join

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from certgen.records.columns import Array, Columns
    from certgen.standards import Practice

    #: A field, its values in the practice's unit, the practice, and what is said of a value.
    Figure = tuple[str, Array, Practice | None, str]


def outside(values: Array, practice: Practice | None) -> Array:
    """Which values, in the practice's own unit, leave its usual range; never an absent one."""
    if practice is None:
        return np.zeros(len(values), dtype=bool)
    low, high = practice.range
    return (values < low) | (values > high)


def days_between(first: Array, last: Array) -> Array:
    """Whole days from one day to another; NaN where either is absent, or where they run backwards."""
    days = days_from(first, last)
    return np.where(days >= 0, days, np.nan)


def compare(said: str, practice: Practice, value: float) -> str:
    """ "was dried at 52 °C, where practice is at most 40 °C": a value, and the range that it leaves."""
    doubt = ", and such a figure can hardly be right" if practice.grade(value) == "impossible" else ""
    return f"{agree(said)}, where practice is {practice.told()}{doubt}"


def find_outside(
    table: str, records: Columns, key: str, figures: Sequence[Figure], start: str
) -> Iterator[Finding]:
    """One finding a record whose values leave their ranges, naming each."""
    told: dict[int, list[tuple[str, str]]] = {}
    for field, values, practice, said in figures:
        if practice is not None:
            odd = np.flatnonzero(outside(values, practice))
            for row, value in zip(odd.tolist(), values[odd].tolist(), strict=True):
                told.setdefault(row, []).append((field, compare(said.format(value), practice, value)))
    for row in sorted(told):
        identifier = records[key][row]
        words = join(said for _, said in told[row])
        yield Finding(table, identifier, row, (told[row][0][0],), f"{start} {identifier} {words}.")
