"""One sheet to work from, before it is set and as a PDF."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from certgen.typeset.design import COLOURS, RULE, RULE_HAIR, RULE_HEAVY, SANS, SERIF, TYPE
from certgen.typeset.faces import families
from certgen.typeset.legibility import fit_to_set
from certgen.typeset.typst_pages import UNDATED, compile_typst

if TYPE_CHECKING:
    from certgen.examination import Result

#: Empty lines below the last row, to write on.
SPARE_LINES: Final = 3
#: Words that are too long for a narrow column, and the pieces that may stand in lines of their own.
_LONG: Final = re.compile("[!-~]{15,}")
_PIECES: Final = re.compile(".{1,7}")


@dataclass(frozen=True, slots=True)
class FieldSheet:
    """A sheet before it is set: the pieces of `work` whose cautions it bears, a heading and rows of cells (an
    empty one is written on), how wide each column is against the others (0: as wide as it needs), `spare`
    empty rows, `above`, a sentence over the table, and what was `left_out` of it and why. The first `place`
    columns say where one stands: a heavier line parts rows that differ in them. A `tight` sheet has lines so
    low that all of a fixed number fit on one page; one that is `signed` has a line for the day and the name.
    """

    title: str
    work: tuple[str, ...]
    heads: tuple[str, ...]
    widths: tuple[float, ...]
    rows: tuple[tuple[str, ...], ...]
    spare: int = SPARE_LINES
    above: str = ""
    left_out: str = ""
    place: int = 0
    tight: bool = False
    signed: bool = True


def set_field_sheet(result: Result, sheet: FieldSheet, page: str = "a4") -> bytes:
    """A sheet as PDF, on A4 or Letter, with whose records it is made from at its foot."""
    details = result.season.details
    under = (
        f"{fit_to_set(details.operation.name)}, season {fit_to_set(details.label)}, "
        f"as the records stood on {result.on.isoformat()}"
    )
    data = {
        "sans": families(SANS),
        "serif": families(SERIF),
        "colour": dict(COLOURS),
        "rule": {"heavy": RULE_HEAVY, "normal": RULE, "hair": RULE_HAIR},
        "sizes": {name: step.size for name, step in TYPE.items()},
        "title": sheet.title,
        "under": under,
        "above": fit_to_set(sheet.above),
        "left_out": fit_to_set(sheet.left_out),
        "heads": sheet.heads,
        "widths": sheet.widths,
        "rows": [[_let_break(fit_to_set(text)) for text in row] for row in sheet.rows],
        "partings": _part_rows(sheet),
        "spare": sheet.spare,
        "tight": sheet.tight,
        "signed": sheet.signed,
        "cautions": [
            {"title": one.title, "text": one.short, "defers": one.defers_to}
            for one in result.profile.cautions.at(*sheet.work)
        ],
        "page": "us-letter" if page.casefold() == "letter" else "a4",
    }
    return compile_typst("field_sheet.typ", data, epoch=UNDATED)


def _let_break(text: str) -> str:
    """A long number may go on in the next line of its cell: it must not run into its neighbour."""
    return _LONG.sub(lambda word: "\u200b".join(_PIECES.findall(word[0])), text)


def _part_rows(sheet: FieldSheet) -> list[int]:
    """The rows, counted from 0, that stand in another place than the row above them."""
    places = [row[: sheet.place] for row in sheet.rows]
    return [at for at in range(1, len(places)) if places[at] != places[at - 1]]
