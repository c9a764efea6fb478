"""Land, plantings, inputs, cleaning, incidents, what changed since last season, and the cautions of the
work."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from certgen.report.chapters.changes import build_changes
from certgen.report.chapters.retention import build_retention
from certgen.report.tables import NOTHING, Column, table
from certgen.report.wording import count_of, key, plain, write
from certgen.typeset.parts import Caution, Cautions, Cell, Chapter, Prose, Run, Section

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

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
        "inputs",
        "inputs",
        "Inputs",
        "No input is recorded for this season.",
        {
            "Date": ("date",),
            "Block": ("block",),
            "Material": ("material",),
            "Purpose, rate": ("purpose", "rate"),
            "Allowed by": ("allowed_by",),
            "Supplier": ("supplier",),
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
            "Closed": ("closed",),
            "Certifier told": ("certifier_notified",),
        },
    ),
)
#: Longer tables stand in the registers only; here their number is given.
_MOST: Final = 60
_LEAD: Final = (
    "Where the parents stand, where they came from, what was brought onto the land, how equipment was"
    " cleaned, what went wrong and what was done about it, what changed since last season, and how long to"
    " keep what."
)


def build_land(context: Context) -> Chapter:
    """The chapter of land and follow-up."""
    sections = [Section("land", "Land and follow-up", 1, (Prose((_LEAD,)),), style="chapter")]
    missing = [kind.none for kind in _KINDS if not context.own_rows(kind.table)]
    for kind in _KINDS:
        rows = context.own_rows(kind.table)
        if rows:
            part = _show(context, kind, rows)
            sections.append(Section(kind.anchor, kind.title, 2, (part,), style="part"))
    if missing:
        part = Prose((" ".join(missing),))
        sections.append(Section("unrecorded", "Not recorded", 2, (part,), style="part"))
    return Chapter("land", (*sections, build_changes(context), build_retention(context)))


def _show(context: Context, kind: _Kind, rows: Sequence[dict[str, Any]]) -> Part:
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
    """The crop's cautions, in the order of the work."""
    cautions = [
        Caution(f"{caution.title} ({caution.stage})", f"{caution.text} What counts: {caution.defers_to}.")
        for caution in context.profile.cautions.values()
    ]
    if not cautions:
        return None
    pairs = tuple(tuple(cautions[at : at + 2]) for at in range(0, len(cautions), 2))
    return Section("cautions", "Cautions where work can hurt someone", 2, (Cautions(pairs),), style="part")
