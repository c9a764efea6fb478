"""Land, plantings, inputs, cleaning, incidents, what changed since last season, and the cautions of the
work."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from certgen.dossier.due import list_retention
from certgen.report.chapters.inspections import build_inspections
from certgen.report.chapters.land_map import build_land_map, build_plan_sections
from certgen.report.tables import NOTHING, Column, table
from certgen.report.wording import count_of, key, linked, plain, say_most, whole, write
from certgen.rules.wording import join
from certgen.typeset.parts import Caution, Cautions, Cell, Chapter, Prose, Run, Section

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from certgen.dossier.due import Keep
    from certgen.lineage.changes import Alteration, Change
    from certgen.report.context import Context
    from certgen.typeset.parts import Part


@dataclass(frozen=True, slots=True)
class _Kind:
    """Records that get a section: their table, the section, what is said where there are none, and columns by
    the fields that each joins."""

    table: str
    anchor: str
    title: str
    none: str
    columns: Mapping[str, tuple[str, ...]]


_KINDS: Final = (
    _Kind(
        "blocks",
        "blocks",
        "Blocks",
        "No block is recorded.",
        {
            "Name and area": ("name", "area"),
            "Status": ("status",),
            "Organic since": ("organic_since",),
            "Last prohibited substance": ("last_prohibited_substance",),
            "Boundary and buffer": ("boundary", "buffer"),
            "Nearest same crop": ("nearest_same_crop",),
        },
    ),
    _Kind(
        "plantings",
        "plantings-page",
        "Plantings",
        "No planting is recorded.",
        {
            "Block": ("block",),
            "Variety": ("variety",),
            "Planted": ("planted",),
            "Material": ("material", "material_status"),
            "Origin": ("origin.lot", "origin.supplier", "origin.certificate"),
            "Evidence": ("non_gm_statement", "search_log"),
        },
    ),
    _Kind(
        "observations",
        "selection",
        "Selection of the parents",
        "No observation of trees is recorded.",
        {
            "Date": ("date",),
            "Trees": ("trees",),
            "Seen": ("kind", "seen", "sex"),
            "Decision": ("decision", "because"),
            "By": ("by",),
        },
    ),
    _Kind(
        "materials",
        "materials",
        "Approved materials",
        "No list of approved materials is kept.",
        {
            "Name and kind": ("name", "kind"),
            "Approved by": ("approved_by", "paper"),
            "From, until": ("from", "until"),
            "Condition": ("condition", "blocks", "purposes"),
            "Label": ("reentry_interval", "days_to_harvest"),
        },
    ),
    _Kind(
        "compost",
        "compost",
        "Compost",
        "No heap of compost is recorded.",
        {
            "Begun": ("begun",),
            "Made of": ("ingredients",),
            "Method": ("method",),
            "Turned": ("turnings",),
            "Ready": ("ready",),
        },
    ),
    _Kind(
        "inputs",
        "inputs",
        "Inputs",
        "No input is recorded for this season.",
        {
            "Date": ("date",),
            "Block": ("block",),
            "Material": ("material",),
            "Purpose, rate": ("purpose", "rate"),
            "Allowed by": ("approval", "allowed_by", "condition_met"),
            "Supplier": ("supplier", "heap"),
        },
    ),
    _Kind(
        "scouting",
        "scouting",
        "Walks for pests",
        "No walk for pests is recorded.",
        {
            "Date": ("date",),
            "Block": ("block",),
            "Found": ("pest", "found"),
            "By": ("by",),
        },
    ),
    _Kind(
        "water_tests",
        "water-tests",
        "Water tests",
        "No test of water is recorded.",
        {
            "Drawn": ("date",),
            "Source, use": ("source", "used_for"),
            "Laboratory": ("laboratory", "report"),
            "Found": ("found", "action"),
        },
    ),
    _Kind(
        "cleaning",
        "cleaning",
        "Cleaning",
        "No cleaning is recorded.",
        {
            "Date": ("date",),
            "Equipment": ("equipment",),
            "How": ("method",),
            "Before batch": ("before",),
        },
    ),
    _Kind(
        "incidents",
        "incidents",
        "Incidents",
        "No incident is recorded for this season.",
        {
            "Date": ("date",),
            "Kind": ("kind",),
            "About": ("about",),
            "Action": ("action",),
            "Held": ("held_from", "released"),
            "Closed": ("closed",),
            "Certifier told": ("certifier_notified",),
        },
    ),
)
#: Where no list of approved materials is kept.
_WORDS_ALONE: Final = (
    "What allows an input is told in the operation’s own words; no list of approved materials is kept."
)
#: Longer tables stand in the registers only, or are cut; here their number is given.
_MOST: Final = 60
_LEAD: Final = (
    "Where the parents stand, where they came from, what was brought onto the land, how equipment was"
    " cleaned, what inspectors found, what went wrong and what was done about it, what changed since last"
    " season, and how long to keep what."
)


def build_land(context: Context, width: float) -> Chapter:
    """The chapter of land and follow-up; `width` is the text's, in points."""
    sections = [Section("land", "Land and follow-up", 1, (Prose((_LEAD,)),), style="chapter")]
    inspections = build_inspections(context)
    if inspections is not None:
        sections.append(inspections)
    missing = [kind.none for kind in _KINDS if not context.own_rows(kind.table)]
    for kind in _KINDS:
        rows = context.own_rows(kind.table)
        if rows:
            note = _WORDS_ALONE if kind.table == "inputs" and not context.own_rows("materials") else ""
            part = _show(context, kind, rows, note)
            sections.append(Section(kind.anchor, kind.title, 2, (part,), style="part"))
        if kind.table == "blocks":
            beside = (build_land_map(context, width), build_plan_sections(context))
            sections += [section for section in beside if section is not None]
    if missing:
        part = Prose((" ".join(missing),))
        sections.append(Section("unrecorded", "Not recorded", 2, (part,), style="part"))
    return Chapter("land", (*sections, build_changes(context), build_retention(context)))


def _show(context: Context, kind: _Kind, rows: Sequence[dict[str, Any]], note: str = "") -> Part:
    """The records, in the columns that anybody wrote anything in."""
    if len(rows) > _MOST:
        return Prose((f"{count_of(kind.table, len(rows))} are recorded; they stand in the registers.",))
    identifier = context.key_of(kind.table)
    title = context.tables[kind.table].column(identifier).field.title or kind.title
    used = [
        (head, [field for field in fields if field in rows[0]])
        for head, fields in kind.columns.items()
        if any(row.get(field) is not None for row in rows for field in fields)
    ]

    def column(head: str, fields: Sequence[str]) -> Column[dict[str, Any]]:
        return Column(head, "text", lambda row: _say(context, kind.table, row, fields))

    return table(
        f"{kind.title}: {count_of(kind.table, len(rows))}",
        (
            Column(title, "key", lambda row: key(row[identifier], f"{kind.table}/{row[identifier]}")),
            *(column(head, fields) for head, fields in used),
        ),
        rows,
        note=note,
    )


def _say(context: Context, name: str, row: Mapping[str, Any], fields: Sequence[str]) -> Cell:
    """What a record says in some fields, identifiers leading to their records."""
    runs: list[Run] = []
    for field in fields:
        value = row[field]
        if value is None:
            continue
        column = context.tables[name].column(field)
        texts = map(write, value) if column.kind == "list" and column.refers_to else [write(value)]
        for text in texts:
            runs += [Run(", ")] if runs else []
            runs.append(Run(text, context.href_in(column.refers_to, text)))
    return Cell(tuple(runs) or plain(NOTHING))


def build_cautions(context: Context) -> Section | None:
    """The cautions of the crop's work, in the order of the job and in full."""
    cautions = [
        Caution(
            f"{caution.title} ({join(caution.work)})", f"{caution.long} This defers to {caution.defers_to}."
        )
        for caution in context.profile.cautions.all
    ]
    if not cautions:
        return None
    pairs = tuple(tuple(cautions[at : at + 2]) for at in range(0, len(cautions), 2))
    return Section("cautions", "Cautions where work can hurt someone", 2, (Cautions(pairs),), style="part")


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
    note = _say_same([change.title for change in changes.subjects if not change.any])
    caption = f"Season {changes.before} and season {changes.after}"
    return [
        *_show_moved(context, moved, caption, note),
        *_show_altered(context, altered, "" if moved else note),
    ]


def _say_same(titles: Sequence[str]) -> str:
    return f"Unchanged: {join([title[0].lower() + title[1:] for title in titles])}." if titles else ""


def _show_moved(context: Context, changes: Sequence[Change], caption: str, note: str) -> list[Part]:
    columns: tuple[Column[Change], ...] = (
        Column("Subject", "text", lambda change: change.title),
        Column("New", "text", lambda change: _names(context, change)),
        Column("No longer there", "text", lambda change: say_most(change.removed, _NAMES) or None),
    )
    return [table(caption, columns, changes, note=note)] if changes else []


def _names(context: Context, change: Change) -> Cell | str | None:
    known = context.order.get(change.key, {})
    if change.added and all(name in known for name in change.added):
        return Cell(linked(change.key, change.added, _NAMES))
    return say_most(change.added, _NAMES) or None


def _show_altered(context: Context, changes: Sequence[Change], note: str) -> list[Part]:
    if not changes:
        return []
    rows = [(change.key, altered) for change in changes for altered in change.altered]
    left = len(rows) - _ALTERED
    if left > 0:
        note = f"And {whole(left)} more, which the registers of both seasons show. {note}".strip()
    return [
        table(
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
    ]


def _record(context: Context, name: str, altered: Alteration) -> Cell:
    href = f"{name}/{altered.id}" if altered.id in context.order.get(name, {}) else ""
    return Cell((Run(altered.id, href),), "long")


def _field_title(context: Context, name: str, field: str) -> str:
    if name in context.tables:
        return (context.tables[name].column(field).field.title or field).lower()
    return field.replace("_", " ")


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
