"""Text survives a spreadsheet's cell, and nothing in it is run."""

from __future__ import annotations

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from certgen.exchange.spreadsheets.rows import (
    escape_controls,
    join_list,
    looks_like_formula,
    neutralise,
    restore,
    split_list,
    unescape_controls,
)

COVERS = ("certgen.exchange.spreadsheets.rows",)

ENTRIES = st.text(min_size=1, max_size=10).filter(lambda text: text == text.strip() and "\n" not in text)


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


@example("_x0000_x0008_")
@example("_x0000\x01")
@given(st.text(st.characters(exclude_categories=["Cs"]), max_size=20) | st.text("_x0041 \r\x07", max_size=16))
def test_unescaping_undoes_escaping(text: str) -> None:
    """Every text comes back as it was, also when it looks escaped already."""
    assert text == unescape_controls(escape_controls(text))


@given(st.text(max_size=20))
def test_nothing_unspeakable_is_left(text: str) -> None:
    """What is written holds no control character but tab and line feed."""
    assert [] == [sign for sign in escape_controls(text) if ord(sign) < 32 and sign not in "\t\n"]


@given(st.lists(ENTRIES))
def test_a_list_survives_one_cell(parts: list[str]) -> None:
    """Entries that hold semicolons and backslashes come out as they went in."""
    assert parts == split_list(join_list(parts))
