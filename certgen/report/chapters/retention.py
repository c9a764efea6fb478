"""Until when records and samples are to be kept, as the season's standards ask."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.dossier.retention import list_retention
from certgen.report.tables import Column, table
from certgen.report.wording import count_of, key
from certgen.typeset.parts import Prose, Section

if TYPE_CHECKING:
    from certgen.dossier.retention import Keep
    from certgen.report.context import Context
    from certgen.typeset.parts import Part

#: More rows than this are counted.
_MOST: Final = 60


def build_retention(context: Context) -> Section:
    """The section: a row a season or lot and standard that sets a time."""
    kept = list_retention(context.result)
    part: Part = Prose(("None of the season’s standards sets a time for keeping records.",))
    if kept:
        lots = context.result.lots
        left = len(kept) - _MOST
        part = table(
            "Keep until",
            (
                Column("What", "text", lambda keep: keep.what),
                Column(
                    "Season or lot",
                    "key",
                    lambda keep: key(
                        keep.identifier, f"lots/{keep.identifier}" if keep.identifier in lots else ""
                    ),
                ),
                Column("Until", "date", lambda keep: keep.until or "not known yet"),
                Column("Years", "number", lambda keep: keep.years),
                Column("Counted from", "text", _say_start),
                Column("Clause", "text", _say_clause),
            ),
            kept[:_MOST],
            note=f"And {count_of('lots', left)} more." if left > 0 else "",
        )
    return Section("keep", "How long to keep what", 2, (part,), style="part")


def _say_start(keep: Keep) -> str:
    return f"{keep.counted_from.isoformat()}, {keep.why}" if keep.counted_from else f"not yet: {keep.why}"


def _say_clause(keep: Keep) -> str:
    return keep.clause if keep.mark == "read" else f"{keep.clause} ({keep.mark})"
