"""Control characters survive the XML of a workbook."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from certgen.exchange.controls import escape_controls, unescape_controls


@given(st.text(st.characters(exclude_categories=["Cs"]), max_size=20) | st.text("_x0041 \r\x07", max_size=16))
def test_unescaping_undoes_escaping(text: str) -> None:
    """Every text comes back as it was, also when it looks escaped already."""
    assert text == unescape_controls(escape_controls(text))


@given(st.text(max_size=20))
def test_nothing_unspeakable_is_left(text: str) -> None:
    """What is written holds no control character but tab and line feed."""
    assert [] == [sign for sign in escape_controls(text) if ord(sign) < 32 and sign not in "\t\n"]
