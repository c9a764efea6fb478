"""Measured values checked against the crop's practice."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from certgen.records.nouns import agree
from certgen.records.rows import indexed_rows, plain_values
from certgen.rules.findings import Finding
from certgen.rules.wording import join

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from pandas import DataFrame, Series

    from certgen.standards import Practice

    #: A field, its values in the practice's unit, the practice, and what is said of a value.
    Figure = tuple[str, Series[Any], Practice | None, str]


def outside(values: Series[Any], practice: Practice | None) -> Series[Any]:
    """Which values, in the practice's own unit, leave its usual range; never a missing one."""
    if practice is None:
        return values.isna() & False
    low, high = practice.range
    return ((values < low) | (values > high)).fillna(value=False).astype("bool")


def days_between(first: Series[Any], last: Series[Any]) -> Series[Any]:
    """Whole days from one day to another; missing where either is, or where they run backwards."""
    days = (last - first).dt.days
    return days.where(days >= 0)


def compare(said: str, practice: Practice, value: float) -> str:
    """ "was dried at 52 °C, where practice is at most 40 °C": a value, and the range that it leaves."""
    doubt = ", and such a figure can hardly be right" if practice.grade(value) == "impossible" else ""
    return f"{agree(said)}, where practice is {practice.told()}{doubt}"


def find_outside(
    table: str, frame: DataFrame, key: str, figures: Sequence[Figure], start: str
) -> Iterator[Finding]:
    """One finding a record whose values leave their ranges, naming each."""
    told: dict[int, list[tuple[str, str]]] = {}
    for field, values, practice, said in figures:
        if practice is not None:
            odd = values[outside(values, practice)]
            for row, value in zip(odd.index.tolist(), plain_values(odd), strict=True):
                told.setdefault(row, []).append((field, compare(said.format(value), practice, value)))
    for row, identifier in indexed_rows(frame.loc[sorted(told)], key):
        words = join(said for _, said in told[row])
        yield Finding(table, identifier, row, (told[row][0][0],), f"{start} {identifier} {words}.")
