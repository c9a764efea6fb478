"""Control characters in the XML of a workbook, which XML cannot hold or would change."""

from __future__ import annotations

import re

#: Written as spreadsheet programs write them, `_x000D_`; and what looks like that already.
_UNSPEAKABLE = re.compile(r"[\x00-\x08\x0b-\x1f\ufffe\uffff]|_x[0-9A-Fa-f]{4}_")
_ESCAPED = re.compile(r"_x([0-9A-Fa-f]{4})_")


def escape_controls(text: str) -> str:
    """Text that an XML file can hold: control characters as `_x0007_`, and what looks like that as itself
    escaped.
    """

    def written(found: re.Match[str]) -> str:
        return f"_x{ord(found[0]):04X}_" if len(found[0]) == 1 else f"_x005F{found[0]}"

    return _UNSPEAKABLE.sub(written, text)


def unescape_controls(text: str) -> str:
    """What `escape_controls` was given."""
    return _ESCAPED.sub(lambda found: chr(int(found[1], 16)), text) if "_x" in text else text
