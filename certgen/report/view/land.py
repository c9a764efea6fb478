"""Land, plantings, inputs, cleaning, incidents, what changed since last season, and the cautions of the
work."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from certgen.report.packet import (
    Caution,
    Cautions,
    Cell,
    Chapter,
    Facts,
    Grid,
    Head,
    Listing,
    Prose,
    Row,
    Run,
    Section,
)
from certgen.report.view.wording import count_of, fact, key, linked, write

if TYPE_CHECKING:
    from collections.abc import Sequence

    from certgen.report.packet import Part
    from certgen.report.view.story import Story

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


def build_land(story: Story) -> Chapter:
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
                            " cleaned, what went wrong and what was done about it, and what changed since"
                            " last season."
                        ),
                    )
                ),
            ),
            style="chapter",
        )
    ]
    for table, title, empty, columns in _TABLES:
        rows = story.all_rows(table)
        part: Part = Prose((empty,))
        if len(rows) > _MOST:
            part = Prose((f"{count_of(table, len(rows))} are recorded; they stand in the registers.",))
        elif rows:
            part = _grid(story, table, title, columns, rows)
        sections.append(Section(_ANCHORS[table], title, 2, (part,), style="part"))
    sections.append(Section("changes", "Changes since last season", 2, tuple(_changes(story)), style="part"))
    return Chapter("land", tuple(sections))


def _grid(
    story: Story,
    table: str,
    title: str,
    columns: Sequence[tuple[str, tuple[str, ...]]],
    rows: Sequence[dict[str, Any]],
) -> Grid:
    name_of = story.key_of(table)
    used = [
        (head, [field for field in fields if field in rows[0]])
        for head, fields in columns
        if any(row.get(field) is not None for row in rows for field in fields)
    ]
    body = []
    for row in rows:
        cells = [key(row[name_of], f"{table}/{row[name_of]}")]
        for _, fields in used:
            cells.append(_cell(story, table, row, fields))
        body.append(Row(tuple(cells)))
    return Grid(
        f"{title}: {count_of(table, len(rows))}",
        (
            Head(story.tables[table].column(name_of).field.title or title, "key"),
            *(Head(head) for head, _ in used),
        ),
        tuple(body),
    )


def _cell(story: Story, table: str, row: dict[str, Any], fields: Sequence[str]) -> Cell:
    runs: list[Run] = []
    for field in fields:
        value = row[field]
        if value is None:
            continue
        if runs:
            runs.append(Run(", "))
        column = story.tables[table].column(field)
        if column.kind == "list" and column.refers_to:
            for number, one in enumerate(value):
                if number:
                    runs.append(Run(", "))
                runs.append(Run(write(one), _known(story, column.refers_to, write(one))))
        else:
            runs.append(Run(write(value), _known(story, column.refers_to, write(value))))
    return Cell(tuple(runs) or (Run("–"),))


def _known(story: Story, tables: Sequence[str], name: str) -> str:
    for table in tables:
        if name in story.order.get(table, {}):
            return f"{table}/{name}"
    return ""


def _changes(story: Story) -> list[Part]:
    before = story.season.previous
    if before is None:
        return [Prose(("No earlier season is named in these records, so there is nothing to compare with.",))]
    now = story.season
    items: list[tuple[Run, ...]] = []
    for table, field, words in (
        ("blocks", "block", "blocks"),
        ("plantings", "planting", "plantings"),
        ("lots", "variety", "varieties packed"),
        ("movements", "party", "parties dealt with"),
    ):
        old = {str(value) for value in before.table(table)[field].dropna().tolist()}
        new = {str(value) for value in now.table(table)[field].dropna().tolist()}
        added, gone = sorted(new - old), sorted(old - new)
        if added:
            shown = linked(table, added, 12) if field in {"block", "planting"} else (Run(_listed(added)),)
            items.append((Run(f"New {words}: "), *shown, Run(".")))
        if gone:
            items.append((Run(f"No longer there, {words}: {_listed(gone)}."),))
    for label, old_value, new_value in (
        ("Certifier", before.details.operation.certifier, now.details.operation.certifier),
        ("Certificate", before.details.operation.certificate, now.details.operation.certificate),
        ("Responsible", before.details.operation.responsible, now.details.operation.responsible),
        ("Standards", ", ".join(before.details.standards), ", ".join(now.details.standards)),
    ):
        if old_value != new_value:
            items.append(
                (Run(f"{label}: was {old_value or 'not recorded'}, is {new_value or 'not recorded'}."),)
            )
    status_before = dict(
        zip(before.table("blocks")["block"].tolist(), before.table("blocks")["status"].tolist(), strict=True)
    )
    for row in story.all_rows("blocks"):
        was = status_before.get(row["block"])
        if isinstance(was, str) and was != row["status"]:
            items.append((Run(f"Block {row['block']}: was {was}, is {row['status']}."),))
    facts = Facts(
        (
            fact("Compared with", f"season {before.details.label}"),
            fact("Trees then and now", f"{len(before.table('trees'))} and {len(now.table('trees'))}"),
            fact("Bags then and now", f"{len(before.table('bagging'))} and {len(now.table('bagging'))}"),
            fact("Lots then and now", f"{len(before.table('lots'))} and {len(now.table('lots'))}"),
        )
    )
    return [facts, Listing(tuple(items))] if items else [facts, Prose(("Nothing else differs.",))]


def _listed(names: list[str]) -> str:
    return ", ".join(names[:12]) + (f" and {len(names) - 12} more" if len(names) > 12 else "")


def build_cautions(story: Story) -> Section | None:
    """The crop's cautions, in the order of the work."""
    cautions = [
        Caution(f"{one.title} ({one.stage})", f"{one.text} What counts: {one.defers_to}.")
        for one in story.profile.cautions.values()
    ]
    if not cautions:
        return None
    pairs = tuple(tuple(cautions[at : at + 2]) for at in range(0, len(cautions), 2))
    return Section("cautions", "Cautions where work can hurt someone", 2, (Cautions(pairs),), style="part")
