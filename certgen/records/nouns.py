"""Numbers before nouns: one bag, two bags. Every sentence that counts something takes its noun from here."""

from __future__ import annotations

import re
from typing import Final

#: What a grower calls one record of a table, and several.
NOUNS: Final = {
    "season": ("season", "seasons"),
    "blocks": ("block", "blocks"),
    "plantings": ("planting", "plantings"),
    "trees": ("tree", "trees"),
    "observations": ("observation", "observations"),
    "rounds": ("round", "rounds"),
    "submissions": ("submission sheet", "submission sheets"),
    "letters": ("letter", "letters"),
    "screening": ("sample", "samples"),
    "bagging": ("bag", "bags"),
    "harvests": ("picking", "pickings"),
    "batches": ("batch", "batches"),
    "cleaning": ("cleaning", "cleanings"),
    "lots": ("lot", "lots"),
    "tests": ("test", "tests"),
    "movements": ("movement", "movements"),
    "materials": ("approved material", "approved materials"),
    "compost": ("heap", "heaps"),
    "inputs": ("input", "inputs"),
    "scouting": ("scouting walk", "scouting walks"),
    "water_tests": ("water test", "water tests"),
    "visits": ("visit", "visits"),
    "incidents": ("incident", "incidents"),
    "recalls": ("recall", "recalls"),
    "explanations": ("explanation", "explanations"),
    "evidence": ("evidence file", "evidence files"),
    "packets": ("packet", "packets"),
}

_IRREGULAR: Final = {
    "leaf": "leaves",
    "fruit": "fruit",
    "entry": "entries",
}


def noun(what: str, number: float = 1) -> str:
    """The noun for so many of a table's records, or of any other thing named in the singular.

    `noun("harvests", 2)` is "pickings", `noun("month", 1)` is "month". A part of one is plural: 0.5 months.
    """
    if what in NOUNS:
        return NOUNS[what][number != 1]
    return what if number == 1 else _IRREGULAR.get(what, f"{what}s")


_AGREE: Final = re.compile(
    r"(?<!to )(?<![\w.,])1 (?:(day|month|hour|time|seed|embryo|fruit|year|member)s|leaves)\b"
)


def agree(text: str) -> str:
    """The text with each unit that follows a one in the singular: `at most 1 months` is `at most 1 month`.

    A range keeps its plural: 0 to 1 days. For figures whose unit comes with them, as practice has it; who
    names the thing counts it with `count`.
    """
    return _AGREE.sub(lambda found: f"1 {found[1] or 'leaf'}", text)


def count(number: float, what: str) -> str:
    """`count(14, "bagging")` is "14 bags", `count(1, "month")` is "1 month"."""
    return f"{number if isinstance(number, int) else f'{number:g}'} {noun(what, number)}"
