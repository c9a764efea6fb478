"""How a record's text stands in a spreadsheet's cell, and how it is taken out again unchanged.

A note such as `=HYPERLINK(…)` in a record is text. Written to CSV as it stands it becomes a formula on the
machine of whoever opens it, so it is written with an apostrophe before it (common practice among
spreadsheet programs). A workbook's XML cannot hold control characters, or would change them. A list is one
cell. Each of the three pairs of functions below is its own inverse for every text.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

#: What is nothing to the records' schemas. Python's own strip takes away more, such as a lone U+0085.
BLANKS = " \t\r\n"
_STARTS = "=+-@|%\t\r\n"
# "-5 °C" and "+3" are plain readings; an apostrophe before them would only puzzle people.
_READING = re.compile(r"[+-][0-9]{1,12}(?:\.[0-9]{1,12})?(?: ?(?:%|°?[A-Za-z]{1,3}))?")
#: Written as spreadsheet programs write them, `_x000D_`; and what looks like that already.
_UNSPEAKABLE = re.compile(r"[\x00-\x08\x0b-\x1f\ufffe\uffff]|_x[0-9A-Fa-f]{4}_")
_ESCAPED = re.compile(r"_x([0-9A-Fa-f]{4})_")


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


def escape_controls(text: str) -> str:
    """Text that XML can hold: control characters as `_x0007_`, and what looks like that escaped in turn."""

    def written(found: re.Match[str]) -> str:
        return f"_x{ord(found[0]):04X}_" if len(found[0]) == 1 else f"_x005F{found[0]}"

    return _UNSPEAKABLE.sub(written, text)


def unescape_controls(text: str) -> str:
    """What `escape_controls` was given."""
    return _ESCAPED.sub(lambda found: chr(int(found[1], 16)), text) if "_x" in text else text


def join_list(parts: Iterable[object]) -> str:
    """A list as one cell: entries parted by `; `, a semicolon or backslash inside one behind a backslash."""
    return "; ".join(re.sub(r"([;\\])", r"\\\1", str(part)) for part in parts)


def split_list(text: str) -> list[str]:
    """The entries of a cell that holds a list. Line feeds part entries as semicolons do."""
    parts, current, marked = [], "", False
    for sign in text:
        if marked:
            current, marked = current + sign, False
        elif sign == "\\":
            marked = True
        elif sign in ";\n":
            parts.append(current)
            current = ""
        else:
            current += sign
    parts.append(current + ("\\" if marked else ""))
    return [part.strip(BLANKS) for part in parts if part.strip(BLANKS)]
