"""Noxious weeds found against those labelled."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from certgen.figures.weeds import most_found


@given(st.integers(0, 5000))
def test_more_labelled_allows_more_found(labelled):
    """Monotone, across the end of the table too, and always above what is labelled."""
    assert labelled < most_found(labelled)[0] < most_found(labelled + 1)[0]
