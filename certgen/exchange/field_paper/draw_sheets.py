"""A spot check as a sheet to take along: what the records say, room for what is found, how it was drawn."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.dossier.spot_check import REPEAT, say_draw, say_order
from certgen.exchange.field_paper.labels import LabelError
from certgen.exchange.field_paper.sheet import FieldSheet, set_field_sheet
from certgen.figures.draws import plain_text, write_fingerprint
from certgen.rules.wording import join

if TYPE_CHECKING:
    from certgen.dossier.spot_check import SpotCheck
    from certgen.examination import Result

_WORK: Final = {"bags": "bag round", "trees": "leaf round", "lots": "treated seed"}
#: Numbers of faulty items whose chance to be missed is printed.
_MISSES: Final = (1, 3, 10)


def build_draw_sheet(check: SpotCheck) -> FieldSheet:
    """A row an item, in walking order within its group, with room for what is found.

    Raises `LabelError` where nothing was drawn.
    """
    if not check.drawn:
        raise LabelError("nothing was drawn, so there is nothing to put on a sheet")
    told = [name for name, _ in check.drawn[0].says]
    placed = {"bags": ("Row", "Place", "Tree"), "trees": ("Row", "Place"), "lots": ()}[check.kind]
    heads = (
        "Group",
        *placed,
        check.kind[:-1].capitalize(),
        *(name.capitalize() for name in told),
        "Found",
        "By",
    )
    rows = tuple(
        (
            item.stratum,
            *(item.row, item.position, item.tree)[: len(placed)],
            item.identifier,
            *(text for _, text in item.says),
            "",
            "",
        )
        for item in check.drawn
    )
    widths = (*(0.0,) * (len(heads) - 2), 1.0, 0.4)
    return FieldSheet("Spot check", (_WORK[check.kind],), heads, widths, rows, spare=0, above=_tell(check))


def _tell(check: SpotCheck) -> str:
    """What was drawn, by what, what that is worth, what it can miss and how to draw it again."""
    misses = join(
        f"{100 * chance:.1f} % for {faults}" for faults, chance in check.misses if faults in _MISSES
    )
    return " ".join(
        (
            say_draw(check),
            f"Text “{check.key.text}”, hashed as {plain_text(check.key.text)}. Fingerprint",
            f"{' '.join(write_fingerprint(check.key.fingerprint))}.",
            say_order(check),
            f"Chance at worst that the sample holds none of so many faulty ones: {misses}.",
            REPEAT,
        )
    )


def set_draw_sheet(result: Result, check: SpotCheck, page: str = "A4") -> bytes:
    """The sheet as PDF, on A4 or Letter. Raises `LabelError` where nothing was drawn."""
    return set_field_sheet(result, build_draw_sheet(check), page)
