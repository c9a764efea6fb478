"""Names and numbers exchanged for codes: `Tree-3` for a tree, `Party-1` for a buyer.

A tree's number can be guessed, so nothing that is computed from it alone may be printed. Codes are counted
out, kind by kind, in the order of a digest under a key that only whoever has the whole season can know. So
they tell neither the names nor their order, and come out the same on every machine.
"""

from __future__ import annotations

import hashlib
import hmac
from typing import TYPE_CHECKING, Final

from certgen.rules.harvest.equipment import is_called_dryer
from certgen.rules.wording import noun

if TYPE_CHECKING:
    from collections.abc import Mapping

#: Kinds of names that may be one: a person may be the laboratory too. The first is the word used.
_NAMES: Final = ("person", "party", "laboratory")
_WORDS: Final = {"paper": "Paper", "equipment": "Equipment", "dryer": "Dryer", "file": "File"}


class Codes:
    """Codes for the names of one disclosed season.

    `key` is secret; `kept` are names by kind that stay as they are, since whoever is told knows them. First
    every name that will be needed is asked for (`code` gives it back as it is), then `settle` counts the
    codes out.
    """

    def __init__(self, key: bytes, kept: Mapping[str, frozenset[str]]) -> None:
        self._key = key
        self._kept = {_key(kind, name): name for kind, names in kept.items() for name in names}
        self._asked: dict[tuple[str, str], set[str]] = {}
        self._codes: dict[tuple[str, str], str] = {}
        self._settled = False

    def code(self, kind: str, name: str) -> str:
        """The code of a name; `kind` is a table, or a kind of name that `x-discloses` knows."""
        if kind == "equipment" and is_called_dryer(name):
            # What seed dries on holds it for days; the rules know it by what it is called.
            kind = "dryer"
        at = _key(kind, name)
        if at in self._kept:
            return self._kept[at]
        if self._settled:
            return self._codes[at]
        self._asked.setdefault(at, set()).add(kind)
        return name

    def settle(self) -> None:
        """Counts the codes out. No other name can be asked for from here on."""
        numbers: dict[str, int] = {}
        for at in sorted(self._asked, key=self._digest):
            word = _word(self._asked[at])
            while True:
                numbers[word] = numbers.get(word, 0) + 1
                found = f"{word}-{numbers[word]}"
                if found not in self._kept.values():
                    break
            self._codes[at] = found
        self._settled = True

    def _digest(self, at: tuple[str, str]) -> bytes:
        return hmac.new(self._key, "\0".join(at).encode(), hashlib.sha256).digest()


def _key(kind: str, name: str) -> tuple[str, str]:
    """What a name is found under: 010 and 10 are two trees, and a person's name is one in any letter case."""
    free = kind in _NAMES or kind in _WORDS
    return ("name" if kind in _NAMES else kind, _plain(name) if free else name)


def _word(kinds: set[str]) -> str:
    name = next((kind for kind in _NAMES if kind in kinds), "")
    if name:
        return name.capitalize()
    (kind,) = kinds
    return _WORDS.get(kind) or noun(kind).capitalize().replace(" ", "-")


def _plain(name: str) -> str:
    """Letter case and spaces make no other name."""
    return " ".join(name.split()).casefold()
