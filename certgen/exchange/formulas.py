"""Text that a spreadsheet would run as a formula, made harmless, and given back as it was.

A note such as `=HYPERLINK(…)` in a record is text. Written to CSV as it stands it becomes a formula on the
machine of whoever opens it, so it is written with an apostrophe before it (common practice among
spreadsheet programs). `neutralise` and `restore` are each other's inverse for every text.
"""

from __future__ import annotations

import re

_STARTS = "=+-@|%\t\r\n"
# "-5 °C" and "+3" are plain readings; an apostrophe before them would only puzzle people.
_READING = re.compile(r"[+-][0-9]{1,12}(?:\.[0-9]{1,12})?(?: ?(?:%|°?[A-Za-z]{1,3}))?")


def looks_like_formula(text: str) -> bool:
    """Whether a spreadsheet might run the text, leading apostrophes and spaces aside."""
    bare = text.lstrip("'").lstrip(" \u00a0\ufeff")
    if not bare:
        return False
    # Full-width signs become plain ones in some programs.
    first = {"＝": "=", "＋": "+", "－": "-", "＠": "@"}.get(bare[0], bare[0])
    return first in _STARTS and _READING.fullmatch(bare) is None


def neutralise(text: str) -> str:
    """The text with an apostrophe before it if a spreadsheet might run it, else as it is."""
    return "'" + text if looks_like_formula(text) else text


def restore(text: str) -> str:
    """What `neutralise` was given."""
    return text[1:] if text.startswith("'") and looks_like_formula(text) else text
