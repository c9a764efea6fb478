"""Suspect seed that has left: the deliveries, and the draft of a notice to each who holds some."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

from certgen.dossier.notices import draft_notices, list_suspect
from certgen.dossier.recall_outcomes import list_outcomes, say_share
from certgen.report.chapters.register_entries import build_entries
from certgen.report.tables import Column, grams, table
from certgen.report.wording import cell, key, weigh, write_quantity
from certgen.rules.wording import count, day
from certgen.typeset.entries import CompactRegister, Entries, Entry, EntryGroup
from certgen.typeset.parts import Chapter, Prose, Run, Section

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from certgen.dossier.notices import Notice, Suspect
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
    drafts = tuple(_show_draft(number, notice) for number, notice in enumerate(notices, start=1))
    parts = (Prose((_OPENING,)), Entries(drafts, level=2, small=True))
    yield Chapter("notices", (Section("notices", "Draft notices", 1, parts, style="chapter"),))


def _show_draft(number: int, notice: Notice) -> CompactRegister:
    """A draft in whole, a paragraph a line."""
    lines = tuple(Entry("", (Run(""), Run(line))) for line in notice.lines)
    anchor = f"notices/{number}"
    return CompactRegister(anchor, f"To {notice.party}", "", (), (EntryGroup((), lines),), anchor=anchor)


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
    if told:
        parts.append(_show_notices(context, told))
    records = build_entries(context, "recalls", without=frozenset({"notices"}))
    parts.append(Entries((replace(records, lead=""),), level=2, small=True))
    section = Section("recalls", "Recalls, drills and complaints", 1, tuple(parts), style="chapter")
    yield Chapter("recalls", (section,))


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


def _show_notices(context: Context, told: Sequence[_Told]) -> Part:
    def text(*names: str) -> Callable[[_Told], str | None]:
        return lambda row: ", ".join(str(row[1][name]) for name in names if row[1].get(name)) or None

    def lot(row: _Told) -> Cell:
        return key(row[1]["lot"], context.href_in(("lots",), row[1]["lot"]))

    columns: list[Column[_Told]] = [
        Column("Notice", "text", lambda row: str(row[1].get("notice") or row[0].name)),
        Column("Party", "text", text("party", "contact")),
        Column("Lot", "key", lot),
        Column("Document", "text", text("document")),
        grams("Weight", lambda row: row[1].get("weight_mg")),
        Column("Told", "date", lambda row: row[1].get("told_on")),
        Column("How", "text", text("how")),
        Column("Answered", "date", lambda row: row[1].get("answered_on")),
        grams("Still there", lambda row: row[1].get("still_there_mg")),
        grams("Sown", lambda row: row[1].get("sown_mg")),
        grams("Passed on", lambda row: row[1].get("passed_on_mg")),
        Column("To", "text", text("passed_to")),
        grams("Sent back", lambda row: row[1].get("sent_back_mg")),
        Column("Booked as", "text", text("returned")),
        Column("As typed", "text", _say_typed),
    ]
    # A column in which nobody wrote anything only takes room.
    used = [column for column in columns if any(column.shown(row) not in {None, ""} for row in told)]
    return table("Who was told, and what came back", used, told)


#: A recall and one of its notices.
_Told = tuple["Called", "Mapping[str, Any]"]
#: What is weighed in a notice, with the word that tells it apart.
_WEIGHED: Final = (
    ("weight", ""),
    ("still_there", "there"),
    ("sown", "sown"),
    ("passed_on", "on"),
    ("sent_back", "back"),
)


def _say_typed(row: _Told) -> str | None:
    """The weights that were typed in other units than the columns'."""
    typed = ((word, str(row[1].get(field) or "")) for field, word in _WEIGHED)
    others = [f"{text} {word}".strip() for word, text in typed if "(" in write_quantity(text, "mass")]
    return ", ".join(others) or None


def cover_lines(context: Context) -> tuple[Run, ...]:
    """What the first page says of suspect seed, in one line; nothing where none has left."""
    suspect = list_suspect(context.result)
    if not suspect:
        return ()
    total = weigh(sum(row.weight_mg for row in suspect))
    holders = len({row.party for row in suspect})
    words = f"{holders} {'holder' if holders == 1 else 'holders'}"
    return (Run(f"{total} of seed that is not traced has left, to {words}: each is to be told", "season"),)
