from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd
import pytest

from certgen.records.rows import (
    entered_values,
    indexed_rows,
    is_absent,
    look_up,
    plain_record,
    plain_rows,
    plain_value,
    plain_values,
)

DAY = date(2026, 1, 12)


@pytest.mark.parametrize(
    ("values", "kind", "expected"),
    [
        (["a", None], "str", ["a", None]),
        ([3, None], "Int64", [3, None]),
        ([0.5, None], "float64", [0.5, None]),
        ([True, None], "boolean", [True, None]),
        (["2026-01-12", None], "datetime64[s]", [DAY, None]),
        ([("a", "b"), (), {"a": 1}, "a", 3, None, float("nan"), pd.NaT], "object",
         [("a", "b"), (), {"a": 1}, "a", 3, None, None, None]),
    ],
)  # fmt: skip
def test_a_column_becomes_plain_values(values, kind, expected) -> None:
    """Days are dates, and what is missing is None, whatever the column holds."""
    found = plain_values(pd.Series(values, dtype=kind))

    assert expected == found
    assert [type(value) for value in expected] == [type(value) for value in found]


def test_an_empty_list_is_no_entry() -> None:
    """For those who show what was entered; for those who go through a list it is a list."""
    column = pd.Series([("a",), (), None], dtype="object")

    assert [("a",), None, None] == entered_values(column)
    assert [("a",), (), None] == plain_values(column)


def test_rows_are_the_index_and_the_named_columns() -> None:
    """An empty table has none."""
    frame = pd.DataFrame({"bag": ["B1", "B2"], "covered": pd.to_datetime([None, DAY])}, index=[4, 7])

    assert [(4, "B1", None), (7, "B2", DAY)] == list(indexed_rows(frame, "bag", "covered"))
    assert [] == list(indexed_rows(frame.head(0), "bag", "covered"))


def test_rows_without_their_index() -> None:
    """As many values as columns."""
    frame = pd.DataFrame({"bag": ["B1", "B2"], "covered": pd.to_datetime([None, DAY])}, index=[4, 7])

    assert [("B1", None), ("B2", DAY)] == list(plain_rows(frame, "bag", "covered"))
    assert [("B1",), ("B2",)] == list(plain_rows(frame, "bag"))
    assert [] == list(plain_rows(frame.head(0), "bag"))


def test_one_row_by_column() -> None:
    """Counted from the first, whatever the index says; numbers are Python's own."""
    frame = pd.DataFrame(
        {"bag": ["B1", "B2"], "fruits": pd.array([None, 3], dtype="Int64"), "sound": [True, False]},
        index=[4, 7],
    )

    assert {"bag": "B2", "fruits": 3, "sound": False} == plain_record(frame, 1)
    assert [str, int, bool] == [type(value) for value in plain_record(frame, 1).values()]
    assert plain_record(frame, 0)["fruits"] is None


@pytest.mark.parametrize("value", [None, pd.NA, pd.NaT, float("nan"), np.float64("nan"), (), [], {}])
def test_what_says_nothing_is_absent(value) -> None:
    """Nothing, in each of the ways in which a table writes it."""
    assert is_absent(value)


@pytest.mark.parametrize("value", ["", "no", 0, 0.0, False, np.int64(0), np.False_, ("",), {"a": None}, DAY])
def test_nought_and_no_are_said(value) -> None:
    """An empty text too: whether it says anything is for the reader of records to judge."""
    assert not is_absent(value)
    assert value == plain_value(value)


def test_looking_up_keeps_the_keys_rows_and_the_values_type() -> None:
    """Also where nothing is found, which would make numbers of text."""
    values = pd.Series(["x", "y"], index=["A", "B"], dtype="str")
    found = look_up(pd.Series(["B", "Q"], index=[3, 5], dtype="str"), values)
    nothing = look_up(pd.Series(["Q"], dtype="str"), values)

    assert ([3, 5], "y", True) == (found.index.tolist(), found[3], pd.isna(found[5]))
    assert values.dtype == nothing.dtype
