"""Sheets to work from: what the records know is printed, what is done is written in.

Each begins with the cautions of its work, in their short form: they stand where the hands are. What a list
leaves out is told above its rows, by number and with its reason.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import count
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

from certgen.exchange.field_paper.bag_sheets import (
    build_bagging_round,
    build_check_round,
    build_picking_list,
    build_uncovering_round,
)
from certgen.exchange.field_paper.run_sheets import build_drying_log, build_run_sheet
from certgen.exchange.field_paper.sample_sheets import (
    build_leaf_round,
    build_split_receipt,
    build_submission_sheet,
)
from certgen.exchange.field_paper.sheet import set_field_sheet
from certgen.exchange.spreadsheets.round_forms import PLACE, form_headings, write_form

if TYPE_CHECKING:
    from collections.abc import Callable

    from certgen.examination import Result
    from certgen.exchange.field_paper.sheet import FieldSheet

#: What each kind of sheet is built by, by the name that the command line gives it.
SHEETS: Final[MappingProxyType[str, Callable[[Result], FieldSheet]]] = MappingProxyType(
    {
        "sample-round": build_leaf_round,
        "submission-sheet": build_submission_sheet,
        "split-receipt": build_split_receipt,
        "bagging-round": build_bagging_round,
        "check-round": build_check_round,
        "uncovering-round": build_uncovering_round,
        "picking-list": build_picking_list,
        "run-sheet": build_run_sheet,
        "drying-log": build_drying_log,
    }
)


#: The sheets that come back as a round, and the kind of it.
ROUNDS: Final = MappingProxyType(
    {
        "sample-round": "sampling",
        "bagging-round": "bagging",
        "check-round": "check",
        "uncovering-round": "uncovering",
    }
)


def name_round(result: Result, kind: str) -> str:
    """The number that a sheet gives the walk: its kind and the day for which it was printed."""
    taken = set(result.case.season.table("rounds")["round"].tolist())
    name = f"{ROUNDS[kind]}-{result.on.isoformat()}"
    return name if name not in taken else next(one for n in count(2) if (one := f"{name}-{n}") not in taken)


def write_round_form(result: Result, kind: str) -> bytes:
    """A sheet of one of the kinds in `ROUNDS` as CSV, to be filled in and imported as a round.

    Raises `LabelError` where there is nothing to put on it.
    """
    sheet = SHEETS[kind](result)
    known = [name.casefold() for name in sheet.heads]
    headings = form_headings(ROUNDS[kind])
    # On paper the columns after these are written on; the form has its own.
    printed = {name for name in ("bag", *PLACE) if name in headings}
    rows: list[dict[str, str]] = [
        {name: text for name, text in zip(known, row, strict=True) if name in printed} for row in sheet.rows
    ]
    return write_form(ROUNDS[kind], name_round(result, kind), rows)


def set_sheet(result: Result, kind: str, page: str = "a4") -> bytes:
    """A sheet of one of the kinds in `SHEETS` as PDF, on A4 or Letter.

    Raises `LabelError` where there is nothing to put on it.
    """
    sheet = SHEETS[kind](result)
    if kind in ROUNDS:
        told = (
            f"Round {name_round(result, kind)}. Walked on ________________ by ________________. A row left "
        )
        told += "empty was not walked, and nothing is recorded of it."
        sheet = replace(sheet, above=told, signed=False)
    return set_field_sheet(result, sheet, page)
