"""The certifier's visits: what earlier years left open first, then what was tried, asked for and found."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.dossier.visits import OpenItem, list_open
from certgen.report.tables import Column, table
from certgen.report.wording import cell, count_of, key
from certgen.rules.record_keeping.visit_entries import (
    Entry,
    is_answered,
    is_closed,
    is_settled,
    list_entries,
)
from certgen.typeset.parts import Cell, Prose, Run, Section

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.report.context import Context
    from certgen.typeset.parts import Part

_WHOSE: Final = (
    "What a certifier’s visits found, as the operation recorded it. The certifier’s letters count, not these"
    " lines; a finding is closed here only where such a letter is filed."
)
#: Rows that stand here; the register of visits has all.
_MOST: Final = 60


def open_lines(context: Context) -> Iterator[Cell]:
    """The cover's line: how much of earlier years' inspections is open."""
    earlier = [one for one in list_open(context.result.case) if one.earlier]
    if earlier:
        what = "One thing is" if len(earlier) == 1 else f"{len(earlier)} things are"
        yield cell(f"{what} open from an earlier year’s inspection", "inspections", mark="advice")


def build_inspections(context: Context) -> Section | None:
    """The section, or none where no visit is on record in any year."""
    case = context.result.case
    if not len(case.season.columns("visits")):
        return None
    parts: list[Part] = [Prose((_WHOSE,))]
    earlier = [one for one in list_open(case) if one.earlier]
    if earlier:
        parts.append(_show_open(earlier))
    rows = context.own_rows("visits")
    if rows:
        shows = {"exercises": _show_exercises, "findings": _show_findings, "requests": _show_requests}
        for column, own in _own_entries(context).items():
            if own:
                parts.append(shows[column](context, own))
    else:
        parts.append(Prose(("No visit of this season is on record.",)))
    return Section("inspections", "Inspections", 2, tuple(parts), style="part")


def _own_entries(context: Context) -> dict[str, list[Entry]]:
    """What this season's visits tried, found and asked for."""
    return {
        column: [one for one in list_entries(context.result.case, column) if one.visit.own]
        for column in ("exercises", "findings", "requests")
    }


def fields_told(context: Context) -> frozenset[str]:
    """The fields of a visit that the section's tables tell whole, so that its record needn't."""
    return frozenset(column for column, own in _own_entries(context).items() if len(own) <= _MOST)


def _show_open(items: list[OpenItem]) -> Part:
    return table(
        f"Left open by earlier years: {count_of('entry', len(items))}",
        (
            Column("Visit", "key", lambda one: key(one.visit.visit)),
            Column("Day", "date", lambda one: one.visit.first),
            Column("What", "text", lambda one: f"{one.kind} {one.number}"),
            Column("Ground", "text", lambda one: _and(one.severity, one.ground)),
            Column("Found or asked", "text", lambda one: one.says),
            Column("Until", "date", lambda one: one.last),
            Column("Now", "text", lambda one: one.state),
        ),
        items[:_MOST],
        note=_say_left(len(items)),
    )


def _and(*parts: str) -> str | None:
    return ", ".join(part for part in parts if part) or None


def _say_left(number: int) -> str:
    return f"And {number - _MOST} more, which the registers show." if number > _MOST else ""


def _about(context: Context, one: Entry) -> Cell:
    """The records that an entry names, each leading to its place."""
    runs: list[Run] = []
    for name in one.about:
        runs += [Run(", ")] if runs else []
        field = context.tables["visits"].column(one.column).field
        targets = field.item.fields["about"].item if field.item is not None else None
        runs.append(Run(name, context.href_in(targets.refers_to if targets else (), name)))
    return Cell(tuple(runs) or (Run("–"),))


def _papers(entries: list[Entry], *fields: str) -> list[Column[Entry]]:
    """A column of the papers that entries name, where one does."""
    if not any(one.text(field) for one in entries for field in fields):
        return []
    return [Column("Paper", "text", lambda one: _and(*(one.text(field) for field in fields)))]


def _show_exercises(context: Context, entries: list[Entry]) -> Part:
    case = context.result.case

    def outcome(one: Entry) -> str:
        if one.says["outcome"] != "differs":
            return str(one.says["outcome"])
        settled = one.day("settled")
        return f"differs; settled {settled}" if is_settled(case, one) else "differs; not settled"

    return table(
        f"Exercises: {count_of('exercise', len(entries))}",
        (
            Column("Visit", "key", lambda one: key(one.visit.visit)),
            Column("What was tried", "text", lambda one: str(one.says["kind"])),
            Column("About", "text", lambda one: _about(context, one)),
            Column("Drawn", "text", lambda one: one.text("draw") or None),
            Column("Figures", "text", lambda one: one.text("figures") or None),
            Column("Outcome", "text", outcome),
            *_papers(entries, "paper"),
        ),
        entries[:_MOST],
        note=_say_left(len(entries)),
    )


def _show_findings(context: Context, entries: list[Entry]) -> Part:
    case = context.result.case

    def now(one: Entry) -> str:
        if is_closed(case, one):
            return f"closed {one.day('closed')} by {one.text('closed_by')}"
        done = one.day("done")
        return f"answered {done}, open" if is_answered(case, one) and done else "open"

    return table(
        f"Findings: {count_of('finding', len(entries))}",
        (
            Column("Finding", "key", lambda one: key(one.number)),
            Column("Ground", "text", lambda one: _and(one.text("severity"), one.text("ground"))),
            Column("About", "text", lambda one: _about(context, one)),
            Column("Found", "text", lambda one: one.text("found") or str(one.says["kind"])),
            Column("Until", "date", lambda one: one.day("deadline")),
            Column("Corrective action", "text", lambda one: one.text("action") or None),
            Column("Now", "text", now),
            *_papers(entries, "paper", "letter"),
        ),
        entries[:_MOST],
        note=_say_left(len(entries)),
    )


def _show_requests(context: Context, entries: list[Entry]) -> Part:
    case = context.result.case

    def now(one: Entry) -> str:
        return f"answered {one.day('answered')}" if is_answered(case, one) else "no answer on record"

    return table(
        f"Requests: {count_of('request', len(entries))}",
        (
            Column("Visit", "key", lambda one: key(one.visit.visit)),
            Column("Asked for", "text", lambda one: one.text("asked")),
            Column("By", "date", lambda one: one.day("by")),
            Column("Now", "text", now),
            *_papers(entries, "paper"),
        ),
        entries[:_MOST],
        note=_say_left(len(entries)),
    )
