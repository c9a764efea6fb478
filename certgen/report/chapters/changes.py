"""Changes since the season before: what came, what went, what reads differently now."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.report.wording import cell, linked, plain, whole
from certgen.rules.wording import join
from certgen.typeset.parts import Cell, Grid, Head, Prose, Row, Run, Section

if TYPE_CHECKING:
    from certgen.lineage.changes import Change
    from certgen.report.context import Context
    from certgen.typeset.parts import Part

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
        parts.append(
            Grid(
                f"Season {changes.before} and season {changes.after}",
                (Head("Subject"), Head("New"), Head("No longer there")),
                tuple(
                    Row((cell(change.title), _names(context, change, change.added), _gone(change.removed)))
                    for change in moved
                ),
                note=note,
            )
        )
    if altered:
        parts.append(_altered(context, altered, "" if moved else note))
    return parts


def _names(context: Context, change: Change, names: tuple[str, ...]) -> Cell:
    if not names:
        return cell("–")
    known = context.order.get(change.key, {})
    if all(name in known for name in names):
        return Cell(linked(change.key, names, _NAMES))
    return _gone(names)


def _gone(names: tuple[str, ...]) -> Cell:
    more = f" and {whole(len(names) - _NAMES)} more" if len(names) > _NAMES else ""
    return Cell(plain((", ".join(names[:_NAMES]) or "–") + more))


def _altered(context: Context, changes: list[Change], note: str) -> Grid:
    rows = []
    for change in changes:
        known = context.order.get(change.key, {})
        for one in change.altered:
            href = f"{change.key}/{one.id}" if one.id in known else ""
            rows.append(
                Row(
                    (
                        Cell((Run(one.id, href),), "long"),
                        cell(_field_title(context, change.key, one.field)),
                        cell(one.before or "nothing"),
                        cell(one.after or "nothing"),
                    )
                )
            )
    left = len(rows) - _ALTERED
    if left > 0:
        note = f"And {whole(left)} more, which the registers of both seasons show. {note}".strip()
    return Grid(
        "Reads differently now",
        (Head("Record"), Head("Field"), Head("Before"), Head("Now")),
        tuple(rows[:_ALTERED]),
        note=note,
    )


def _field_title(context: Context, table: str, field: str) -> str:
    if table in context.tables:
        return (context.tables[table].column(field).field.title or field).lower()
    return field.replace("_", " ")
