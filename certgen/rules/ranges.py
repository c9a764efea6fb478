"""Measured values checked against the crop's practice."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from certgen.records.columns import Columns, days_from
from certgen.records.nouns import agree
from certgen.records.rows import indexed_rows, plain_values
from certgen.rules.findings import Finding
from certgen.rules.wording import join

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from pandas import DataFrame

    from certgen.standards import Practice

    #: A field, its values in the practice's unit, the practice, and what is said of a value.
    Figure = tuple[str, Any, Practice | None, str]


def outside(values: Any, practice: Practice | None) -> Any:
    """Which values, in the practice's own unit, leave its usual range; never a missing one."""
    if isinstance(values, np.ndarray):
        if practice is None:
            return np.zeros(len(values), dtype=bool)
        low, high = practice.range
        return (values < low) | (values > high)
    if practice is None:
        return values.isna() & False
    low, high = practice.range
    return ((values < low) | (values > high)).fillna(value=False).astype("bool")


def days_between(first: Any, last: Any) -> Any:
    """Whole days from one day to another; missing where either is, or where they run backwards."""
    if isinstance(first, np.ndarray):
        days = days_from(first, last)
        return np.where(days >= 0, days, np.nan)
    days = (last - first).dt.days
    return days.where(days >= 0)


def compare(said: str, practice: Practice, value: float) -> str:
    """ "was dried at 52 °C, where practice is at most 40 °C": a value, and the range that it leaves."""
    doubt = ", and such a figure can hardly be right" if practice.grade(value) == "impossible" else ""
    return f"{agree(said)}, where practice is {practice.told()}{doubt}"


def find_outside(
    table: str, frame: DataFrame | Columns, key: str, figures: Sequence[Figure], start: str
) -> Iterator[Finding]:
    """One finding a record whose values leave their ranges, naming each."""
    told: dict[int, list[tuple[str, str]]] = {}
    if isinstance(frame, Columns):
        for field, values, practice, said in figures:
            if practice is not None:
                odd = np.flatnonzero(outside(values, practice))
                for row, value in zip(odd.tolist(), values[odd].tolist(), strict=True):
                    told.setdefault(row, []).append((field, compare(said.format(value), practice, value)))
        for row in sorted(told):
            identifier = frame[key][row]
            words = join(said for _, said in told[row])
            yield Finding(table, identifier, row, (told[row][0][0],), f"{start} {identifier} {words}.")
        return
    for field, values, practice, said in figures:
        if practice is not None:
            odd = values[outside(values, practice)]
            for row, value in zip(odd.index.tolist(), plain_values(odd), strict=True):
                told.setdefault(row, []).append((field, compare(said.format(value), practice, value)))
    for row, identifier in indexed_rows(frame.loc[sorted(told)], key):
        words = join(said for _, said in told[row])
        yield Finding(table, identifier, row, (told[row][0][0],), f"{start} {identifier} {words}.")
