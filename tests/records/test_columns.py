"""Tables as plain arrays: what stands in them, how rows are found in one another and told."""

from datetime import date

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.records.columns import (
    Columns,
    days_from,
    group_rows,
    is_in,
    is_known,
    is_shared,
    list_elements,
    repeats,
)

FRAME = pd.DataFrame({
    "bag": pd.array(["B1", None, "B1"], dtype="str"),
    "covered": np.array(["2026-02-03", "NaT", "2026-02-01"], dtype="datetime64[s]"),
    "weight_mg": pd.array([12, None, 2**52], dtype="Int64"),
    "secured": pd.array([True, None, False], dtype="boolean"),
    "warmth": np.array([31.5, np.nan, 30.0]),
})  # fmt: skip


def test_each_kind_is_told_as_plain_python_values():
    """Days are dates, masses whole numbers however large, and where nothing stands there is None."""
    columns = Columns.of(FRAME)
    expected = [
        (0, "B1", date(2026, 2, 3), 12, True, 31.5),
        (1, None, None, None, None, None),
        (2, "B1", date(2026, 2, 1), 2**52, False, 30.0),
    ]
    assert expected == list(columns.rows(*FRAME.columns))


def test_what_is_absent_compares_with_nothing():
    """Neither less, nor more, nor equal."""
    columns = Columns.of(FRAME)
    day = np.datetime64("2026-02-02")
    assert [False, False, True] == (columns["covered"] < day).tolist()
    assert [True, False, False] == (columns["covered"] > day).tolist()
    assert [True, False, True] == (columns["bag"] == "B1").tolist()
    assert [False, False, True] == (columns["secured"] == np.False_).tolist()


def test_an_array_is_shared_and_refuses_to_be_written():
    """A rule that changed one would change it for every other rule."""
    with pytest.raises(ValueError, match="read-only"):
        Columns.of(FRAME)["warmth"][0] = 1


def test_the_first_row_that_bears_a_value_is_found():
    """The first of two records with one number is the one meant; -1 tells that there is none."""
    columns = Columns.of(FRAME)
    wanted = np.array(["B1", "B9", None], dtype=object)
    assert [("B1", 0)] == list(columns.first("bag").items())
    assert [0, -1, -1] == columns.find("bag", wanted).tolist()
    assert [date(2026, 2, 3), None, None] == Columns(
        {"day": columns.look_up("bag", wanted, "covered")}, size=3
    ).values("day")


def test_a_column_that_the_table_lacks_is_an_error():
    """A misspelt name never reads as a column of nothing."""
    with pytest.raises(KeyError):
        Columns.of(FRAME)["bagg"]
    with pytest.raises(KeyError):
        Columns({}, size=0)["bagg"]


def test_whole_numbers_stay_whole_in_a_choice_of_rows():
    """So that no sentence says 12.0 mg."""
    assert [12] == Columns.of(FRAME).where(np.array([True, False, False]), "weight_mg").values("weight_mg")


def test_a_list_says_something_only_if_it_holds_something():
    """An empty list of checks is no look at the bag."""
    values = np.empty(4, dtype=object)
    values[:] = [(), ("a",), None, {}]
    assert [False, True, False, False] == is_known(values).tolist()


def test_elements_of_a_list_know_their_row_and_position():
    """One row an element, in the order of the records."""
    lists = np.empty(3, dtype=object)
    lists[:] = [("a", "b"), (), ("c",)]
    columns = Columns({"key": np.array(["K1", "K2", "K3"], dtype=object), "parts": lists}, size=3)
    elements = list_elements(columns, "parts", "key")
    assert [(0, 0, 0, "K1", "a"), (1, 0, 1, "K1", "b"), (2, 2, 0, "K3", "c")] == list(
        elements.rows("row", "position", "id", "value")
    )


def test_days_run_backwards_as_negative_numbers_and_absent_ones_as_none():
    """`days_from` judges nothing."""
    days = days_from(FRAME["covered"].to_numpy(), np.full(3, np.datetime64("2026-02-02", "s")))
    assert [-1.0, True, 1.0] == [days[0], bool(np.isnan(days[1])), days[2]]


TEXTS = st.lists(st.one_of(st.none(), st.sampled_from("abc")), max_size=8)


@given(TEXTS)
def test_repeats_groups_and_members_agree_with_pandas(texts):
    """The same answers as the library gives, with what is absent left out."""
    values, column = np.array([*texts, None], dtype=object)[:-1], pd.Series(texts, dtype="str")
    there = column.notna()
    assert (column.duplicated() & there).tolist() == repeats(values).tolist()
    assert (column.duplicated(keep=False) & there).tolist() == is_shared(values).tolist()
    assert column.isin(["a", "c"]).tolist() == is_in(values, {"a", "c"}).tolist()
    assert {key: rows.tolist() for key, rows in column.groupby(column).groups.items()} == group_rows(values)
