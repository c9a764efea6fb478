"""Kinds of material that no rulebook here allows, found by their common names in what people write."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from certgen.standards.reading import read_data
from certgen.standards.rulebook import DEMAND_MARKS

#: Before a name: `free of glyphosate`, `no urea`, `non-urea`, `without any NPK`.
_DENIAL: Final = re.compile(
    r"(?:\bfree (?:of|from)|\bwithout|\bno|\bnot|\bnever|\bnon)[\s-]+"
    r"(?:(?:any|added|use of|residues? of|traces? of|synthetic|chemical)\s+)*$"
)
#: Behind a name: `glyphosate-free`, but not `urea, free of charge`.
_WITHOUT: Final = re.compile(r"[\s-]+free\b(?![\s-]+(?:of|from|sample|gift|trial|bag)\b)")
#: What carries a denial on to the next name: `free of glyphosate or urea`.
_NEXT: Final = re.compile(r"\s+(?:or|nor|and)\s+")
_BLANK: Final = re.compile(r"\s")
#: Signs that look like a hyphen or like nothing.
_DASHES: Final = str.maketrans(
    {
        **dict.fromkeys("\u2010\u2011\u2012\u2013\u2014\u2212", "-"),
        **dict.fromkeys("\u200b\u200c\u200d\u2060\u00ad\ufeff", ""),
    }
)


@dataclass(frozen=True, slots=True)
class ProhibitedName:
    """A name found in a text, the kind of material that bears it, and where that is from (`mark`: how that
    was read)."""

    name: str
    kind: str
    source: str
    mark: str


@lru_cache(maxsize=1)
def _kinds() -> tuple[re.Pattern[str], dict[str, ProhibitedName]]:
    """A pattern of all names, the longest first, and what each stands for, by its letters and digits."""
    known: dict[str, ProhibitedName] = {}
    with read_data("prohibited") as file:
        for kind, entry in file.sections("kinds"):
            with entry:
                source, mark = entry.text("source"), entry.word("mark", DEMAND_MARKS)
                for name in entry.words("names"):
                    known[_letters(name)] = ProhibitedName(name, kind, source, mark)
    names = sorted((one.name for one in known.values()), key=len, reverse=True)
    # `Ammonium-nitrate` and `ammonium  nitrate` are one name; `2.4-D` and `2,4 D`, too.
    spelled = [re.escape(name).replace(r"\ ", r"[\s_-]*").replace(r"\-", r"[\s-]?") for name in names]
    pattern = "|".join(spelled).replace(",", "[,.]")
    return re.compile(rf"(?<!\w)(?:{pattern})s?(?!\w)"), known


def _letters(text: str) -> str:
    return re.sub(r"[\W_]+", "", text)


def list_prohibited() -> tuple[ProhibitedName, ...]:
    """All names that are known, in the order of the data file."""
    return tuple(_kinds()[1].values())


#: So far before a name a denial may begin; of a page of names each would look through all before it.
_NEAR: Final = 400


def _just_before(text: str, end: int) -> str:
    """What stands before a place, from a blank on, so that no part of a word is taken for a word."""
    start = end - _NEAR
    if start <= 0:
        return text[:end]
    blank = _BLANK.search(text, start, end)
    return text[blank.start() : end] if blank else ""


# Thousands of inputs may be of one material.
@lru_cache(maxsize=4096)
def find_prohibited(text: str) -> ProhibitedName | None:
    """The first prohibited name that a material's description gives, or None.

    Letter case, hyphens and spaces make no other name; a name within a word is none (`bureau` holds no urea).
    A name that is denied right beside it (`free of glyphosate`, `no urea`, `NPK-free`) is none either; what
    is denied further off, or by a word that may mean something else, counts as named.
    """
    plain = unicodedata.normalize("NFKC", text).translate(_DASHES).casefold()
    pattern, known = _kinds()
    end_denied = -1
    for found in pattern.finditer(plain):
        before = _just_before(plain, found.start())
        carried = end_denied >= 0 and _NEXT.fullmatch(plain, end_denied, found.start())
        if _DENIAL.search(before) or carried:
            end_denied = found.end()
        elif _WITHOUT.match(plain, found.end()):
            continue
        else:
            letters = _letters(found[0])
            # A name may be written in the plural.
            return known.get(letters) or known[letters[:-1]]
    return None
