"""Suspect seed that has left: the deliveries, and the draft of a notice to each who holds some."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.dossier.notices import draft_notices, list_suspect
from certgen.report.tables import Column, grams, table
from certgen.report.wording import key, weigh
from certgen.typeset.parts import Chapter, Prose, Run, Section

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.report.context import Context
    from certgen.typeset.parts import Part

_OPENING: Final = (
    "Drafts for the operation to look over, correct and sign. They say what the records say and decide"
    " nothing: what becomes of the seed is for the certifier, and for the buyer, to settle."
)


def show_suspect(context: Context) -> list[Part]:
    """The deliveries of seed that isn't traced, in one table; nothing where there are none."""
    suspect = list_suspect(context.result)
    if not suspect:
        return []
    return [
        table(
            "Seed that is not traced and has left",
            (
                Column("Gap", "key", lambda row: key(str(row.number), f"gap/{row.number}")),
                Column("Lot", "key", lambda row: key(row.lot, f"lots/{row.lot}")),
                Column("Standing", "standing", lambda row: row.standing),
                grams("Weight", lambda row: row.weight_mg),
                Column("To", "text", lambda row: row.party or "not recorded"),
                Column("Document", "text", lambda row: row.document or "none"),
                Column("Day", "date", lambda row: row.day),
            ),
            suspect,
            note="Each holder is to be told, and the certifier. Drafts of the notices stand in the next"
            " chapter.",
            tone=lambda row: "faulty" if row.standing == "rejected" else "plain",
        )
    ]


def build_notices(context: Context) -> Iterator[Chapter]:
    """The chapter of draft notices; none where no suspect seed has left."""
    notices = draft_notices(context.result)
    if not notices:
        return
    sections = [Section("notices", "Draft notices", 1, (Prose((_OPENING,)),), style="chapter")]
    for number, notice in enumerate(notices, start=1):
        body = tuple(Prose((line,)) for line in notice.lines)
        sections.append(Section(f"notices/{number}", f"To {notice.party}", 2, body, style="minor"))
    yield Chapter("notices", tuple(sections))


def cover_lines(context: Context) -> tuple[Run, ...]:
    """What the first page says of suspect seed, in one line; nothing where none has left."""
    suspect = list_suspect(context.result)
    if not suspect:
        return ()
    total = weigh(sum(row.weight_mg for row in suspect))
    holders = len({row.party for row in suspect})
    words = f"{holders} {'holder' if holders == 1 else 'holders'}"
    return (Run(f"{total} of seed that is not traced has left, to {words}: each is to be told", "season"),)
