"""A worked trace-back: one sale followed from the invoice to the leaf samples, every step with its place."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from certgen.lineage import Node
from certgen.report.wording import cell, count_of, linked, linked_spans, write
from certgen.rules.wording import noun
from certgen.typeset.parts import Cell, Chapter, Grid, Head, Prose, Row, Run, Section

if TYPE_CHECKING:
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


def build_trace(context: Context) -> Chapter:
    """The chapter of the worked trace-back."""
    sale = _choose(context)
    if sale is None:
        part = Prose(("No sale of a lot of this season is recorded, so there is none to trace back.",))
        return Chapter("trace", (Section("trace", "A worked trace-back", 1, (part,), style="chapter"),))
    lot = sale["lot"]
    line = set(context.lineage.line_of_lot(lot)) | {Node("lots", lot)}
    rows = [
        Row(
            (
                cell("Sale"),
                Cell((Run(sale["movement"], f"movements/{sale['movement']}"),)),
                cell(
                    ", ".join(
                        write(sale[field])
                        for field in ("date", "weight", "party", "document")
                        if sale[field] is not None
                    )
                ),
                cell(_place(context, "movements", sale["movement"])),
            )
        )
    ]
    for table, fields in _STEPS:
        found = context.rows_of(table, line)
        if not found:
            continue
        names = [row[context.key_of(table)] for row in found]
        first = found[0]
        said = ", ".join(write(first[field]) for field in fields if first.get(field) is not None)
        order = context.order[table]
        rows.append(
            Row(
                (
                    cell(noun(table, len(names)).capitalize()),
                    Cell(linked_spans(table, names, order) if len(names) > 3 else linked(table, names)),
                    cell(f"{count_of(table, len(names))}; the first: {said}" if len(names) > 1 else said),
                    cell(_place(context, table, names[0])),
                )
            )
        )
    words = (
        f"One sale, chosen as the largest of a lot of this season: {write(sale['weight'])} of lot {lot}"
        + (f" to {sale['party']}" if sale["party"] else "")
        + f" on {write(sale['date'])}. Each line below answers the question “and where did that come from?”."
        " The same walk can be made from any tag, lot or invoice in the register, or with certgen trace."
    )
    grid = Grid(
        f"From {sale['document'] or sale['movement']} back to the ground",
        (
            Head("Step", share="11%"),
            Head("Records", share="37%"),
            Head("What they say"),
            Head("Written in", share="22%"),
        ),
        tuple(rows),
    )
    return Chapter(
        "trace", (Section("trace", "A worked trace-back", 1, (Prose((words,)), grid), style="chapter"),)
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


def _place(context: Context, table: str, name: str) -> str:
    farm = context.result.farm
    row = farm.row(table, name)
    if row is None:
        return ""
    place = farm.place(table, row)
    line, _ = farm.locate([place])[place]
    return f"{place.file}, line {line}"
