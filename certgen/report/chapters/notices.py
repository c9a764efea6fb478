"""Suspect seed that has left: the deliveries, and the draft of a notice to each who holds some."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.dossier.notices import draft_notices, list_suspect
from certgen.report.wording import cell, figure, key, weigh, write
from certgen.typeset.parts import Chapter, Grid, Head, Prose, Row, Run, Section

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.dossier.notices import Suspect
    from certgen.report.context import Context
    from certgen.typeset.parts import Part


def show_suspect(context: Context) -> list[Part]:
    """The deliveries of seed that isn't traced, in one table; nothing where there are none."""
    suspect = list_suspect(context.result)
    if not suspect:
        return []
    return [
        Grid(
            "Seed that is not traced and has left",
            (
                Head("Gap", "key"),
                Head("Lot", "key"),
                Head("Standing"),
                Head("Weight", "number"),
                Head("To"),
                Head("Document"),
                Head("Day", "date"),
            ),
            tuple(_row(one) for one in suspect),
            note="Each holder is to be told, and the certifier. Drafts of the notices stand in the next"
            " chapter.",
        )
    ]


def _row(one: Suspect) -> Row:
    return Row(
        (
            key(str(one.number), f"gap/{one.number}"),
            key(one.lot, f"lots/{one.lot}"),
            cell(one.standing, mark=one.standing),
            figure(weigh(one.weight_mg)),
            cell(one.party or "not recorded"),
            cell(one.document or "none"),
            cell(write(one.day), kind="date"),
        ),
        tone="faulty" if one.standing == "rejected" else "plain",
    )


_OPENING: Final = (
    "Drafts for the operation to look over, correct and sign. They say what the records say and decide"
    " nothing: what becomes of the seed is for the certifier, and for the buyer, to settle."
)


def build_notices(context: Context) -> Iterator[Chapter]:
    """The chapter of draft notices; none where no suspect seed has left."""
    notices = draft_notices(context.result)
    if not notices:
        return
    opening = Prose((_OPENING,))
    sections = [Section("notices", "Draft notices", 1, (opening,), style="chapter")]
    for number, notice in enumerate(notices, start=1):
        body = tuple(Prose((line,)) for line in notice.lines)
        sections.append(Section(f"notices/{number}", f"To {notice.party}", 2, body, style="minor"))
    yield Chapter("notices", tuple(sections))


def cover_lines(context: Context) -> tuple[Run, ...]:
    """What the first page says of suspect seed, in one line; nothing where none has left."""
    suspect = list_suspect(context.result)
    if not suspect:
        return ()
    whole = weigh(sum(one.weight_mg for one in suspect))
    parties = len({one.party for one in suspect})
    return (
        Run(
            f"{whole} of seed that is not traced has left, to {parties} "
            f"{'holder' if parties == 1 else 'holders'}: each is to be told",
            "season",
        ),
    )
