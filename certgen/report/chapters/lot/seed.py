"""A lot's extraction, drying and tests, as tables of its dossier."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from certgen.figures.moisture import wet_basis
from certgen.report.wording import cell, count_of, days, figure, key, linked, write
from certgen.typeset.parts import Cell, Grid, Head, Listing, Prose, Row, Run

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from certgen.lineage import Node
    from certgen.report.context import Context
    from certgen.typeset.parts import Part


def show_runs(context: Context, line: set[Node]) -> list[Part]:
    """Batches with their equipment and drying, and the cleanings before them."""
    rows = context.rows_of("batches", line)
    if not rows:
        return []
    grid = []
    for row in rows:
        drying = [write(row[field]) for field in ("drying.method", "drying.temperature") if row[field]]
        if row["drying.from"]:
            drying.append(days([day for day in (row["drying.from"], row["drying.to"]) if day]))
        equipment = [write(row[field]) for field in ("equipment", "blade") if row[field]]
        grid.append(
            Row(
                (
                    key(row["batch"], f"batches/{row['batch']}"),
                    cell(write(row["date"]), kind="date"),
                    Cell(linked("harvests", row["harvests"] or ())),
                    cell("; ".join(equipment) or "–"),
                    figure(write(row["rinses"]) or "–"),
                    cell(", ".join(drying) or "–"),
                    figure(write(row["wet_weight"]) or "–"),
                    figure(write(row["dry_weight"]) or "–"),
                    figure(write(row["moisture"]) or "–"),
                )
            )
        )
    parts: list[Part] = [
        Grid(
            count_of("batches", len(rows)).capitalize(),
            (
                Head("Batch", "key"),
                Head("Date", "date"),
                Head("Pickings"),
                Head("Equipment, blade"),
                Head("Rinses", "number"),
                Head("Drying"),
                Head("Wet", "number"),
                Head("Dry", "number"),
                Head("Moisture", "number"),
            ),
            tuple(grid),
        )
    ]
    prepared = {
        link.source
        for node in line
        if node.table == "batches"
        for link in context.lineage.sources(node)
        if link.kind == "cleaned for"
    } | {node for node in line if node.table == "cleaning"}
    cleanings = context.rows_of("cleaning", prepared)
    if cleanings:
        parts.append(
            Listing(
                tuple(
                    (
                        Run(row["cleaning"], f"cleaning/{row['cleaning']}"),
                        Run(f", {write(row['date'])}: {write(row['equipment'])}, {write(row['method'])}"),
                    )
                    for row in cleanings
                )
            )
        )
    return parts


def show_tests(context: Context, name: str) -> list[Part]:
    """The tests of the lot's seed."""
    rows = context.rows_by("tests", "lot").get(name, [])
    if not rows:
        return [Prose(("No test of this lot is recorded.",))]
    grid = [
        Row(
            (
                key(row["test"], f"tests/{row['test']}"),
                cell(write(row["date"]), kind="date"),
                cell(row["kind"] or "–"),
                cell(_say_test(row)),
                cell(
                    ", ".join(write(row[field]) for field in ("temperature", "substrate") if row[field])
                    or "–"
                ),
                cell(", ".join(write(row[field]) for field in ("laboratory", "report") if row[field]) or "–"),
            )
        )
        for row in rows
    ]
    return [
        Grid(
            count_of("tests", len(rows)).capitalize(),
            (
                Head("Test", "key"),
                Head("Date", "date"),
                Head("Kind"),
                Head("Found", share="34%"),
                Head("How"),
                Head("Laboratory’s report"),
            ),
            tuple(grid),
        )
    ]


def _say_weighings(weighings: Sequence[Mapping[str, Any]]) -> str:
    """The moisture that weighings of dish, moist and dry seed give, repeat by repeat, and their mean."""
    try:
        shares = [wet_basis(one["container_mg"], one["before_mg"], one["after_mg"]) for one in weighings]
    except ValueError:
        return "weighings that can’t be right"
    each = " and ".join(f"{share:.2f} %" for share in shares)
    mean = f", mean {sum(shares) / len(shares):.2f} %" if len(shares) > 1 else ""
    return f"moisture by weighing {each}{mean}"


def _say_test(row: dict[str, Any]) -> str:
    said = []
    if row.get("replicates"):
        said.append(f"normal seedlings {write(row['replicates'])}")
        if row.get("per_replicate"):
            said.append(f"of {write(row['per_replicate'])} each")
    for field, title in (
        ("moisture", "moisture"),
        ("pure", "pure"),
        ("other", "other seed"),
        ("inert", "inert"),
        ("hundred_seed_weights", "hundred seeds weigh"),
    ):
        if row.get(field):
            said.append(f"{title} {write(row[field])}")
    if row.get("weighings"):
        said.append(_say_weighings(row["weighings"]))
    if row.get("pools") is not None:
        said.append(
            f"{write(row.get('positive_pools')) or '?'} of {write(row['pools'])} pools positive,"
            f" {write(row.get('seeds_per_pool'))} seeds a pool"
        )
        if row.get("targets"):
            said.append(f"targets {write(row['targets'])}")
        if row.get("detection_limit"):
            said.append(f"detection limit {write(row['detection_limit'])}")
    return ", ".join(said) or "nothing recorded"
