"""A worked trace-back: one sale followed from the invoice to the leaf samples, every step with its place.

A spot check follows it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final, NamedTuple

from certgen.lineage import Node
from certgen.report.chapters.spot_check import build_spot_check
from certgen.report.tables import Column, table
from certgen.report.wording import count_of, linked, say_fields, write
from certgen.rules.wording import noun
from certgen.typeset.parts import Cell, Chapter, Prose, Run, Section

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.report.context import Context

#: The steps back, in order, with the fields that say what each record holds.
_STEPS = (
    ("lots", ("variety", "packed", "weight")),
    ("tests", ("kind", "date")),
    ("batches", ("date", "dry_weight")),
    ("cleaning", ("date", "method")),
    ("harvests", ("date", "fruits", "weight")),
    ("bagging", ("covered", "tree")),
    ("trees", ("planting", "row", "position", "sex")),
    ("screening", ("collected", "method", "result", "report")),
    ("plantings", ("variety", "planted", "material")),
    ("blocks", ("name", "status", "organic_since")),
)


#: Records of a step listed by name; the lot's pages have all.
_LISTED: Final = 3


class _Step(NamedTuple):
    """A step of the walk: what it comes to, the records there, what they say, and where it is written."""

    title: str
    records: tuple[Run, ...]
    words: str
    place: tuple[Run, ...]


def build_trace(context: Context) -> Chapter:
    """The chapter of the worked trace-back."""
    sale = _choose(context)
    if sale is None:
        part = Prose(("No sale of a lot of this season is recorded, so there is none to trace back.",))
        section = Section("trace", "A worked trace-back", 1, (part,), style="chapter")
        return Chapter("trace", (section, build_spot_check(context)))
    buyer = f" to {sale['party']}" if sale["party"] else ""
    words = (
        f"The largest sale of a lot of this season, {write(sale['weight'])} of lot {sale['lot']}{buyer} on"
        f" {write(sale['date'])}, followed to the ground: each line answers “and where did that come from?”"
        " and says where it is written. The same walk can be made from any tag, lot or invoice."
    )
    grid = table(
        f"From {sale['document'] or sale['movement']} back to the ground",
        (
            Column("Step", "text", lambda step: step.title, "11%"),
            Column("Records", "text", lambda step: Cell(step.records), "26%"),
            Column("What they say", "text", lambda step: step.words),
            Column("Written in", "text", lambda step: Cell(step.place), "22%"),
        ),
        list(_walk(context, sale)),
    )
    section = Section("trace", "A worked trace-back", 1, (Prose((words,)), grid), style="chapter")
    return Chapter("trace", (section, build_spot_check(context)))


def _walk(context: Context, sale: dict[str, Any]) -> Iterator[_Step]:
    """The sale, and what stands behind it table by table."""
    movement = sale["movement"]
    yield _Step(
        "Sale",
        (Run(movement, f"movements/{movement}"),),
        say_fields(sale, "date", "weight", "party", "document") or "",
        _place(context, "movements", movement),
    )
    line = set(context.lineage.line_of_lot(sale["lot"])) | {Node("lots", sale["lot"])}
    for name, fields in _STEPS:
        rows = context.rows_of(name, line)
        if not rows:
            continue
        names = [row[context.key_of(name)] for row in rows]
        first = say_fields(rows[0], *fields) or ""
        yield _Step(
            count_of(name, len(names)) if len(names) > 1 else noun(name, 1).capitalize(),
            linked(name, names, _LISTED),
            f"the first: {first}" if len(names) > 1 else first,
            _place(context, name, names[0]),
        )


def _choose(context: Context) -> dict[str, Any] | None:
    sales = [
        row
        for row in context.own_rows("movements")
        if row["kind"] == "sold"
        and row["lot"] in context.result.lots
        and row["weight_mg"] is not None
        and row["movement"]
    ]
    return min(sales, key=lambda row: (-int(row["weight_mg"]), row["movement"]), default=None)


def _place(context: Context, name: str, identifier: str) -> tuple[Run, ...]:
    """The file that a record is written in, which opens where it is attached, and the line."""
    farm = context.result.farm
    row = farm.row(name, identifier)
    if row is None:
        return ()
    place = farm.place(name, row)
    line, _ = farm.locate([place])[place]
    return Run(str(place.file), context.record_file(str(place.file))), Run(f", line {line}")
