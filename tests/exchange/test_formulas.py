"""Text that a spreadsheet would run is made harmless and given back as it was."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.exchange.formulas import looks_like_formula, neutralise, restore


@given(st.one_of(st.text(max_size=12), st.text("'=+-@|% \tab1", max_size=8)))
def test_restore_undoes_neutralise(text: str) -> None:
    """Every text comes back as it was, apostrophes and all."""
    assert text == restore(neutralise(text))


@given(st.text("'=+-@|% \tab1", max_size=8))
def test_what_is_written_starts_nothing(text: str) -> None:
    """What is written begins with an apostrophe, or is no formula."""
    written = neutralise(text)

    assert written.startswith("'") or not looks_like_formula(written)


@pytest.mark.parametrize(
    "text",
    ["=1+1", "+1+cmd|'x'!A1", "-2+3", "@SUM(A1)", " =1", "\t=1", "\u00a0=1", "＝1", "%x", "|x", "\r=1"],
)
def test_formulas_are_known(text: str) -> None:
    """The ways to begin a formula that spreadsheet programs know (common practice)."""
    assert looks_like_formula(text)


@pytest.mark.parametrize("text", ["-5 °C", "+3", "-1.5", "-5 %", "12 g", "B-12", "", "a=b", "-12 min"])
def test_readings_are_left_alone(text: str) -> None:
    """Plain readings and words get no apostrophe."""
    assert text == neutralise(text)
