"""Suspect seed that has left: the deliveries, and the draft of a notice to each who holds some."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from certgen.dossier.notices import draft_notices, list_suspect
from certgen.dossier.recall_outcomes import list_outcomes, say_share
from certgen.report.tables import Column, grams, table
from certgen.report.wording import cell, key, weigh
from certgen.rules.wording import count, day
from certgen.typeset.parts import Chapter, Prose, Run, Section

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence
    from datetime import date

    from certgen.dossier.notices import Suspect
    from certgen.dossier.recall_outcomes import Outcome
    from certgen.report.context import Context
    from certgen.rules.seed.recalls import Called
    from certgen.typeset.parts import Cell, Part

_OPENING: Final = (
    "Drafts for the operation to look over, correct and sign. They say what the records say and decide"
    " nothing: what becomes of the seed is for the certifier, and for the buyer, to settle."
)


def show_suspect(context: Context, lot: str | None = None) -> list[Part]:
    """The deliveries of seed that isn't traced, in one table, of all lots or of one; nothing where there are
    none."""
    suspect = [row for row in list_suspect(context.result) if lot in {None, row.lot}]
    if not suspect:
        return []
    columns: tuple[Column[Suspect], ...] = (
        Column("Gap", "key", lambda row: key(str(row.number), f"gap/{row.number}")),
        Column("Lot", "key", lambda row: key(row.lot, f"lots/{row.lot}")),
        Column("Standing", "standing", lambda row: row.standing),
        grams("Weight", lambda row: row.weight_mg),
        Column("To", "text", lambda row: row.party or "not recorded"),
        Column("Document", "text", lambda row: _say_document(context, row)),
        Column("Day", "text", lambda row: day(row.day)),
    )
    return [
        table(
            "Seed that is not traced and has left",
            columns if lot is None else (*columns[:1], *columns[2:]),
            suspect,
            note=""
            if lot
            else "Each holder is to be told, and the certifier. Drafts of the notices stand in the next"
            " chapter.",
            tone=lambda row: "faulty" if row.standing == "rejected" else "plain",
        )
    ]


def _say_document(context: Context, suspect: Suspect) -> Cell:
    """The document of a delivery, leading to the paper."""
    rows = context.rows_by("movements", "movement").get(suspect.movement, ())
    return cell(suspect.document or "none", context.paper_of(rows[0]) if rows else "")


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


_RECALLS: Final = (
    "Whom seed was called back from, or who complained of it, what each was told and what came back. A drill"
    " is an exercise: it says how soon the holders of a lot are found, and nothing of the seed. How often one"
    " is held is common practice and no rule."
)


def build_recalls(context: Context) -> Iterator[Chapter]:
    """The chapter of recalls, drills and complaints; none where none is on record."""
    outcomes = list_outcomes(context.result)
    if not outcomes:
        return
    told = [(one.called, notice) for one in outcomes for notice in one.called.notices]
    parts: list[Part] = [Prose((_RECALLS,)), _show_outcomes(outcomes)]
    sections = [Section("recalls", "Recalls, drills and complaints", 1, tuple(parts), style="chapter")]
    if told:
        part = _show_notices(context, told)
        sections.append(Section("recalls/told", "Who was told, and what came back", 2, (part,), style="part"))
    yield Chapter("recalls", tuple(sections))


def _show_outcomes(outcomes: Sequence[Outcome]) -> Part:
    return table(
        "What each came to",
        (
            Column("Record", "key", lambda row: key(row.called.name, f"recalls/{row.called.name}")),
            Column("Kind", "text", lambda row: row.called.kind),
            Column("Opened", "date", lambda row: row.called.opened),
            Column("About", "text", lambda row: ", ".join(row.called.about)),
            grams("Had left", lambda row: row.left_mg),
            grams("Of that found", lambda row: row.found_mg if row.answered else None),
            Column("Share", "number", say_share),
            Column("Took", "text", lambda row: "" if row.minutes is None else count(row.minutes, "minute")),
            Column("Answered", "number", lambda row: f"{row.answered} of {len(row.called.notices)}"),
            Column("Closed", "date", lambda row: row.called.closed),
            Column("Paper", "text", lambda row: "filed" if row.called.shown else "none"),
        ),
        outcomes,
    )


def _show_notices(context: Context, told: Sequence[tuple[Called, Mapping[str, Any]]]) -> Part:
    def text(name: str) -> Callable[[tuple[Called, Mapping[str, Any]]], str]:
        return lambda row: str(row[1].get(name) or "")

    def when(name: str) -> Callable[[tuple[Called, Mapping[str, Any]]], date | None]:
        return lambda row: row[1].get(name)

    def lot(row: tuple[Called, Mapping[str, Any]]) -> Cell:
        return key(row[1]["lot"], context.href_in(("lots",), row[1]["lot"]))

    return table(
        "Notices and their answers, as they were written",
        (
            Column("Notice", "text", lambda row: str(row[1].get("notice") or row[0].name)),
            Column("Party", "text", text("party")),
            Column("Lot", "key", lot),
            Column("Document", "text", text("document")),
            Column("Weight", "number", text("weight")),
            Column("Told", "date", when("told_on")),
            Column("How", "text", text("how")),
            Column("Answered", "date", when("answered_on")),
            Column("Still there", "number", text("still_there")),
            Column("Sown", "number", text("sown")),
            Column("Passed on", "text", lambda row: " to ".join(filter(None, map(str, (
                row[1].get("passed_on") or "", row[1].get("passed_to") or ""))))),
            Column("Sent back", "number", text("sent_back")),
        ),
        told,
    )  # fmt: skip


def cover_lines(context: Context) -> tuple[Run, ...]:
    """What the first page says of suspect seed, in one line; nothing where none has left."""
    suspect = list_suspect(context.result)
    if not suspect:
        return ()
    total = weigh(sum(row.weight_mg for row in suspect))
    holders = len({row.party for row in suspect})
    words = f"{holders} {'holder' if holders == 1 else 'holders'}"
    return (Run(f"{total} of seed that is not traced has left, to {words}: each is to be told", "season"),)
