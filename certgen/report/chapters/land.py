"""Land, plantings, inputs, cleaning, incidents, what changed since last season, and the cautions of the
work."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from certgen.report.chapters.changes import build_changes
from certgen.report.chapters.retention import build_retention
from certgen.report.wording import count_of, key, write
from certgen.typeset.parts import (
    Caution,
    Cautions,
    Cell,
    Chapter,
    Grid,
    Head,
    Prose,
    Row,
    Run,
    Section,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from certgen.report.context import Context
    from certgen.typeset.parts import Part

_TABLES: tuple[tuple[str, str, str, tuple[tuple[str, tuple[str, ...]], ...]], ...] = (
    (
        "blocks",
        "Blocks",
        "No block is recorded.",
        (
            ("Name and area", ("name", "area")),
            ("Status", ("status",)),
            ("Organic since", ("organic_since",)),
            ("Last prohibited substance", ("last_prohibited_substance",)),
            ("Boundary and buffer", ("boundary", "buffer")),
            ("Nearest same crop", ("nearest_same_crop",)),
        ),
    ),
    (
        "plantings",
        "Plantings",
        "No planting is recorded.",
        (
            ("Block", ("block",)),
            ("Variety", ("variety",)),
            ("Planted", ("planted",)),
            ("Material", ("material", "material_status")),
            ("Origin", ("origin.lot", "origin.supplier", "origin.certificate")),
            ("Evidence", ("non_gm_statement", "search_log")),
        ),
    ),
    (
        "inputs",
        "Inputs",
        "No input is recorded for this season.",
        (
            ("Date", ("date",)),
            ("Block", ("block",)),
            ("Material", ("material",)),
            ("Purpose, rate", ("purpose", "rate")),
            ("Allowed by", ("allowed_by",)),
            ("Supplier", ("supplier",)),
        ),
    ),
    (
        "cleaning",
        "Cleaning",
        "No cleaning is recorded.",
        (
            ("Date", ("date",)),
            ("Equipment", ("equipment",)),
            ("How", ("method",)),
            ("Before batch", ("before",)),
        ),
    ),
    (
        "incidents",
        "Incidents",
        "No incident is recorded for this season.",
        (
            ("Date", ("date",)),
            ("Kind", ("kind",)),
            ("About", ("about",)),
            ("Action", ("action",)),
            ("Closed", ("closed",)),
            ("Certifier told", ("certifier_notified",)),
        ),
    ),
)
_ANCHORS = {
    "blocks": "blocks",
    "plantings": "plantings-page",
    "inputs": "inputs",
    "cleaning": "cleaning",
    "incidents": "incidents",
}
#: Longer tables stand in the registers only; here their number is given.
_MOST = 60


def build_land(context: Context) -> Chapter:
    """The chapter of land and follow-up."""
    sections = [
        Section(
            "land",
            "Land and follow-up",
            1,
            (
                Prose(
                    (
                        (
                            "Where the parents stand, where they came from, what was brought onto the land,"
                            " how equipment was"
                            " cleaned, what went wrong and what was done about it, what changed since last"
                            " season, and how long to keep what."
                        ),
                    )
                ),
            ),
            style="chapter",
        )
    ]
    missing: list[str] = []
    for table, title, empty, columns in _TABLES:
        rows = context.own_rows(table)
        if not rows:
            missing.append(empty)
            continue
        part: Part = (
            _grid(context, table, title, columns, rows)
            if len(rows) <= _MOST
            else Prose((f"{count_of(table, len(rows))} are recorded; they stand in the registers.",))
        )
        sections.append(Section(_ANCHORS[table], title, 2, (part,), style="part"))
    if missing:
        sections.append(
            Section("unrecorded", "Not recorded", 2, (Prose((" ".join(missing),)),), style="part")
        )
    sections.append(build_changes(context))
    sections.append(build_retention(context))
    return Chapter("land", tuple(sections))


def _grid(
    context: Context,
    table: str,
    title: str,
    columns: Sequence[tuple[str, tuple[str, ...]]],
    rows: Sequence[dict[str, Any]],
) -> Grid:
    name_of = context.key_of(table)
    used = [
        (head, [field for field in fields if field in rows[0]])
        for head, fields in columns
        if any(row.get(field) is not None for row in rows for field in fields)
    ]
    body = []
    for row in rows:
        cells = [key(row[name_of], f"{table}/{row[name_of]}")]
        for _, fields in used:
            cells.append(_cell(context, table, row, fields))
        body.append(Row(tuple(cells)))
    return Grid(
        f"{title}: {count_of(table, len(rows))}",
        (
            Head(context.tables[table].column(name_of).field.title or title, "key"),
            *(Head(head) for head, _ in used),
        ),
        tuple(body),
    )


def _cell(context: Context, table: str, row: dict[str, Any], fields: Sequence[str]) -> Cell:
    runs: list[Run] = []
    for field in fields:
        value = row[field]
        if value is None:
            continue
        if runs:
            runs.append(Run(", "))
        column = context.tables[table].column(field)
        if column.kind == "list" and column.refers_to:
            for number, one in enumerate(value):
                if number:
                    runs.append(Run(", "))
                runs.append(Run(write(one), _known(context, column.refers_to, write(one))))
        else:
            runs.append(Run(write(value), _known(context, column.refers_to, write(value))))
    return Cell(tuple(runs) or (Run("–"),))


def _known(context: Context, tables: Sequence[str], name: str) -> str:
    for table in tables:
        if name in context.order.get(table, {}):
            return f"{table}/{name}"
    return ""


def build_cautions(context: Context) -> Section | None:
    """The crop's cautions, in the order of the work."""
    cautions = [
        Caution(f"{one.title} ({one.stage})", f"{one.text} What counts: {one.defers_to}.")
        for one in context.profile.cautions.values()
    ]
    if not cautions:
        return None
    pairs = tuple(tuple(cautions[at : at + 2]) for at in range(0, len(cautions), 2))
    return Section("cautions", "Cautions where work can hurt someone", 2, (Cautions(pairs),), style="part")
