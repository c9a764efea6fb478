"""A fraud: an edit of a clean season with what must come of it, and whether it did."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from frauds_edits import Edit, together
from frauds_seasons import Folder, folder_of
from stand_ins import StandIns

from certgen.examination import Result, examine

if TYPE_CHECKING:
    from frauds_wants import Want

ON = date(2026, 11, 25)


@dataclass(frozen=True)
class Fraud:
    """An edit of a clean season, and what must come of it. An honest variant is one too."""

    slug: str
    stage: str
    base: str
    wants: tuple[Want, ...]
    says: str
    edit: Edit = field(repr=False)


def of_stage(stage: str) -> Callable[..., Fraud]:
    """Writes down frauds of a stage: slug, base, what must come of it (one or several), words, edits."""

    def write(slug: str, base: str, wants: Want | tuple[Want, ...], says: str, *edits: Edit) -> Fraud:
        return Fraud(
            slug, stage, base, wants if isinstance(wants, tuple) else (wants,), says, together(*edits)
        )

    return write


def examine_folder(folder: Folder) -> Result:
    """The result of a folder, written to a place of its own."""
    with tempfile.TemporaryDirectory() as place:
        return examine(folder.write(Path(place) / "season"), ON, packets=StandIns())


@cache
def clean_result(base: str) -> Result:
    """The result of a clean season."""
    return examine_folder(folder_of(base))


def tell_wrong(fraud: Fraud, result: Result) -> list[str]:
    """What is wrong with a result, by what must come of the fraud; empty if nothing is."""
    clean = clean_result(fraud.base)
    return [one for want in fraud.wants for one in want.tell(result, clean)]
