"""Some rows of a table, and tables one below the other, as their DataFrames would be."""

import numpy as np
import pandas as pd
import pytest

from certgen.records.columns import Columns
from certgen.records.rows import plain_records
from certgen.records.stacked_columns import StackedColumns, TakenColumns

FRAME = pd.DataFrame({
    "bag": pd.array(["B1", None, "B3"], dtype="str"),
    "covered": np.array(["2026-02-03", "NaT", "2026-02-01"], dtype="datetime64[s]"),
    "weight_mg": pd.array([12, None, 7], dtype="Int64"),
    "file": ["a.yaml", "a.yaml", "b.yaml"],
})  # fmt: skip


@pytest.fixture
def columns():
    """The columns of a small table."""
    return Columns.of(FRAME)


def test_rows_are_taken_by_their_numbers(columns):
    """In the order in which they are named, and as the frame's own rows."""
    taken = TakenColumns(columns, np.array([2, 0]))

    assert ["B3", "B1"] == taken["bag"].tolist()
    assert [7, 12] == taken.values("weight_mg")
    assert list(plain_records(FRAME.iloc[[2, 0]])) == list(taken.records())
    assert list(plain_records(taken.frame())) == list(taken.records())


def test_tables_stand_one_below_the_other(columns):
    """Whole numbers stay whole, and the DataFrame says the same."""
    changed = TakenColumns(columns, np.array([1])).adding(bag=np.array(["B9 (2025)"], dtype=object))
    stacked = StackedColumns([columns, changed])

    assert ["B1", None, "B3", "B9 (2025)"] == stacked["bag"].tolist()
    assert [12, None, 7, None] == stacked.values("weight_mg")
    assert list(stacked.records()) == list(plain_records(stacked.frame()))
    assert FRAME.dtypes.drop("file").to_dict() == stacked.frame().dtypes.drop("file").to_dict()


def test_a_column_that_is_not_there_is_an_error(columns):
    """As in the tables that they are made of."""
    with pytest.raises(KeyError):
        TakenColumns(columns, np.array([0]))["bagg"]
    assert "bagg" not in StackedColumns([columns])
