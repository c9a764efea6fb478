"""The binder is one text."""

from __future__ import annotations

from certgen.report.writing import set_html


def test_the_binder_is_one_text(result):
    """A page from its first line to its last."""
    text = set_html(result).decode()

    assert (text.startswith("<!DOCTYPE html>"), text.rstrip().endswith("</html>")) == (True, True)
