"""Until when records and samples are to be kept, as the season's standards ask."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.dossier.retention import list_retention
from certgen.report.wording import cell, count_of, figure, key, whole
from certgen.typeset.parts import Grid, Head, Prose, Row, Section

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
        left = len(kept) - _MOST
        part = Grid(
            "Keep until",
            (
                Head("What"),
                Head("Season or lot", "key"),
                Head("Until", "date"),
                Head("Years", "number"),
                Head("Counted from"),
                Head("Clause"),
            ),
            tuple(_row(context, one) for one in kept[:_MOST]),
            note=f"And {count_of('lots', left)} more." if left > 0 else "",
        )
    return Section("keep", "How long to keep what", 2, (part,), style="part")


def _row(context: Context, one: Keep) -> Row:
    href = f"lots/{one.identifier}" if one.identifier in context.result.lots else ""
    since = f"{one.counted_from.isoformat()}, {one.why}" if one.counted_from else f"not yet: {one.why}"
    mark = "" if one.mark == "read" else f" ({one.mark})"
    return Row(
        (
            cell(one.what),
            key(one.identifier, href),
            cell(one.until.isoformat() if one.until else "not known yet", kind="date"),
            figure(whole(one.years)),
            cell(since),
            cell(f"{one.clause}{mark}"),
        )
    )
