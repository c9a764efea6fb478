from __future__ import annotations

from datetime import date

import pandas as pd
import pytest

from certgen.rules.selection import look_up, plain, rows

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
    found = plain(pd.Series(values, dtype=kind))

    assert expected == found
    assert [type(value) for value in expected] == [type(value) for value in found]


def test_rows_are_the_index_and_the_named_columns() -> None:
    """An empty table has none."""
    frame = pd.DataFrame({"bag": ["B1", "B2"], "covered": pd.to_datetime([None, DAY])}, index=[4, 7])

    assert [(4, "B1", None), (7, "B2", DAY)] == list(rows(frame, "bag", "covered"))
    assert [] == list(rows(frame.head(0), "bag", "covered"))


def test_looking_up_keeps_the_keys_rows_and_the_values_type() -> None:
    """Also where nothing is found, which would make numbers of text."""
    values = pd.Series(["x", "y"], index=["A", "B"], dtype="str")
    found = look_up(pd.Series(["B", "Q"], index=[3, 5], dtype="str"), values)
    nothing = look_up(pd.Series(["Q"], dtype="str"), values)

    assert ([3, 5], "y", True) == (found.index.tolist(), found[3], pd.isna(found[5]))
    assert values.dtype == nothing.dtype
