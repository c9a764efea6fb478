"""Changes since the season before: what came, what went, what reads differently now."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.report.tables import Column, table
from certgen.report.wording import linked, say_most, whole
from certgen.rules.wording import join
from certgen.typeset.parts import Cell, Prose, Run, Section

if TYPE_CHECKING:
    from collections.abc import Sequence

    from certgen.lineage.changes import Alteration, Change
    from certgen.report.context import Context
    from certgen.typeset.parts import Grid, Part

#: Names and alterations past these are counted; the registers of both seasons have each.
_NAMES: Final = 12
_ALTERED: Final = 40


def build_changes(context: Context) -> Section:
    """The section, from the comparison that the result holds."""
    return Section("changes", "Changes since last season", 2, tuple(_parts(context)), style="part")


def _parts(context: Context) -> list[Part]:
    changes = context.result.changes
    if changes is None:
        return [Prose(("No earlier season is named in these records, so there is nothing to compare with.",))]
    moved = [change for change in changes.changed if change.added or change.removed]
    altered = [change for change in changes.changed if change.altered]
    if not moved and not altered:
        return [Prose((f"Nothing differs from season {changes.before}.",))]
    same = [change.title for change in changes.subjects if not change.any]
    note = f"Unchanged: {join([title[0].lower() + title[1:] for title in same])}." if same else ""
    parts: list[Part] = []
    if moved:
        caption = f"Season {changes.before} and season {changes.after}"
        parts.append(_show_moved(context, moved, caption, note))
    if altered:
        parts.append(_show_altered(context, altered, "" if moved else note))
    return parts


def _show_moved(context: Context, changes: Sequence[Change], caption: str, note: str) -> Grid:
    return table(
        caption,
        (
            Column("Subject", "text", lambda change: change.title),
            Column("New", "text", lambda change: _names(context, change)),
            Column("No longer there", "text", lambda change: say_most(change.removed, _NAMES) or None),
        ),
        changes,
        note=note,
    )


def _names(context: Context, change: Change) -> Cell | str | None:
    known = context.order.get(change.key, {})
    if change.added and all(name in known for name in change.added):
        return Cell(linked(change.key, change.added, _NAMES))
    return say_most(change.added, _NAMES) or None


def _show_altered(context: Context, changes: Sequence[Change], note: str) -> Grid:
    rows = [(change.key, altered) for change in changes for altered in change.altered]
    left = len(rows) - _ALTERED
    if left > 0:
        note = f"And {whole(left)} more, which the registers of both seasons show. {note}".strip()
    return table(
        "Reads differently now",
        (
            Column("Record", "long", lambda row: _record(context, *row)),
            Column("Field", "text", lambda row: _field_title(context, row[0], row[1].field)),
            Column("Before", "text", lambda row: row[1].before or "nothing"),
            Column("Now", "text", lambda row: row[1].after or "nothing"),
        ),
        rows[:_ALTERED],
        note=note,
    )


def _record(context: Context, name: str, altered: Alteration) -> Cell:
    href = f"{name}/{altered.id}" if altered.id in context.order.get(name, {}) else ""
    return Cell((Run(altered.id, href),), "long")


def _field_title(context: Context, name: str, field: str) -> str:
    if name in context.tables:
        return (context.tables[name].column(field).field.title or field).lower()
    return field.replace("_", " ")
