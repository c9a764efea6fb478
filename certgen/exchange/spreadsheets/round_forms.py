"""The sheet of a round as a spreadsheet: a row a bag or tree, filled in after the walk and imported.

What held is written beside each bag that was seen; a row left empty was not seen, and nothing is said of it.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING, Final

from certgen.exchange.spreadsheets.csv_tables import csv_bytes

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

#: What stands once for a walk: written into its first row, and empty below it.
WALK: Final = ("round", "kind", "date", "by")
#: Where to find it: printed for whoever walks, and read back by nobody but for the tree.
PLACE: Final = ("block", "row", "place", "tree")
#: What a walk of a kind answers of each thing it met, by the fields of `rounds`.
ANSWERS: Final[Mapping[str, tuple[str, ...]]] = MappingProxyType(
    {
        "sampling": ("marked", "tissue"),
        "bagging": (
            "flower", "stage", "other_buds_cleared", "secured", "bag_use", "tagged", "numbered",
        ),
        "check": ("condition", "petals_fallen"),
        "uncovering": ("condition", "outcome", "fruit_marked"),
    }
)  # fmt: skip
#: What a row is about, and what it says of that alone: the new record's own fields.
ABOUT: Final[Mapping[str, tuple[str, tuple[str, ...]]]] = MappingProxyType(
    {
        "sampling": ("sample", ("petiole",)),
        "bagging": ("bag", ()),
        "check": ("bag", ()),
        "uncovering": ("bag", ()),
    }
)


def form_headings(kind: str) -> tuple[str, ...]:
    """The columns of the form of a kind of round."""
    about, own = ABOUT[kind]
    return (*WALK, *PLACE, about, *own, *ANSWERS[kind], "note")


def write_form(kind: str, identifier: str, rows: Sequence[Mapping[str, str]]) -> bytes:
    """The form of a round as CSV: `rows` say by heading what is known before the walk."""
    headings = form_headings(kind)
    known = [{"round": identifier, "kind": kind} | dict(row) for row in rows]
    return csv_bytes([list(headings), *([row.get(name, "") for name in headings] for row in known)])
