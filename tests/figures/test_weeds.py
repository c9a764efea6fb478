"""Noxious weeds found against those labelled."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.figures.purity import most_found

COVERS = ("certgen.figures.purity",)


@given(st.integers(0, 5000))
def test_more_labelled_allows_more_found(labelled):
    """Monotone, across the end of the table too, and always above what is labelled."""
    assert labelled < most_found(labelled)[0] < most_found(labelled + 1)[0]


@pytest.mark.parametrize(
    # 7 CFR 201.65: every fifth row, the last one, and the formula behind the table.
    ("labelled", "found", "in_table"),
    [(0, 2, True), (5, 11, True), (10, 17, True), (15, 23, True), (20, 29, True), (25, 35, True),
     (30, 42, True), (36, 48.76, False), (100, 120.6, False)],
)  # fmt: skip
def test_rows_of_the_table_and_beyond(labelled, found, in_table):
    """Up to thirty by the table, then X + 1 + 1.96·sqrt(X)."""
    assert (pytest.approx(found), in_table) == most_found(labelled)


def test_labels_are_whole():
    """Fewer than none cannot be labelled."""
    with pytest.raises(ValueError, match="number labelled"):
        most_found(-1)
