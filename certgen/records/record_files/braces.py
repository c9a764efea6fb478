"""Where a field stands in a record that is written in braces on one line, without composing it once more.

Only where nothing but names, plain words and closed brackets stand there: what has quotes, comments, line
breaks or anything else that would have to be interpreted is left to YAML.
"""

from __future__ import annotations

import re
from functools import cache
from typing import Final

_NAME: Final = r"[a-z_]{1,40}+: "
#: A word has signs alone that mean nothing to YAML where they stand; a colon only right before the next sign.
_SIGNS: Final = "0-9A-Za-zÀ-ÖØ-öø-ÿ"
_WORD: Final = rf"[{_SIGNS}_.(](?:[{_SIGNS}_.()/;=+%°'–-]|:(?=[{_SIGNS}]))*+"
_WORDS: Final = rf"{_WORD}(?: {_WORD})*+"


def _hold(value: str) -> str:
    """A value of words, or of such values in brackets or braces."""
    pair = f"{_NAME}(?:{value})"
    return rf"{_WORDS}|\[(?:(?:{value})(?:, (?:{value}))*+)?\]|\{{(?:{pair}(?:, {pair})*+)?\}}"


_PAIR: Final = f"{_NAME}(?:{_hold(_hold(_WORDS))})"
_BRACKETS: Final = re.compile(r"[\[\]{}]")
_MARKS: Final = re.compile(r"[\[\]{},]")
_OPENING: Final = frozenset("[{")


@cache
def _record() -> re.Pattern[str]:
    """The form of a whole record. To compile it takes 20 ms, and few seasons have such records."""
    return re.compile(rf"\{{{_PAIR}(?:, {_PAIR})*+\}}")


def is_plain(text: str, start: int, end: int) -> bool:
    """Whether a stretch of a file is such a record, to be looked through with `find_step`."""
    return text.startswith("{", start) and _record().fullmatch(text, start, end) is not None


def find_step(text: str, at: int, end: int, step: str | int) -> tuple[int, int] | None:
    """Where the name or the entry of a value stands that begins at a place, and where what it bears begins.

    `end` is where the record ends, which `is_plain`. None for a name or number that isn't there.
    """
    if isinstance(step, str):
        return _find_name(text, at, end, step) if text[at] == "{" else None
    return _find_entry(text, at, end, step) if text[at] == "[" and step >= 0 else None


def _find_name(text: str, at: int, end: int, name: str) -> tuple[int, int] | None:
    sought = f"{name}: "
    found = text.find(sought, at, end)
    depth, looked = 0, at
    while found >= 0:
        for bracket in _BRACKETS.finditer(text, looked, found):
            depth += 1 if bracket.group() in _OPENING else -1
            if not depth:
                return None
        if depth == 1 and text[found - 1] in " {":
            return found, found + len(sought)
        looked, found = found, text.find(sought, found + 1, end)
    return None


def _find_entry(text: str, at: int, end: int, number: int) -> tuple[int, int] | None:
    depth, begins = 0, at + 1
    for mark in _MARKS.finditer(text, at, end):
        sign = mark.group()
        if sign in _OPENING:
            depth += 1
        elif sign != ",":
            depth -= 1
        if not depth or (depth == 1 and sign == ","):
            if not number:
                return (begins, begins) if begins < mark.start() else None
            if not depth:
                return None
            number -= 1
            begins = mark.end() + 1
    return None
