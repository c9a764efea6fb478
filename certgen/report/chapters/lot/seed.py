"""A lot's extraction, drying, tests and ledger, as tables of its dossier."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from certgen.dossier.viability import NO_FORECAST, follow_germination, tell_decline, tell_fall, tell_tests
from certgen.figures.balance import balance_period
from certgen.figures.ledger import COUNT_KIND
from certgen.figures.moisture import wet_basis
from certgen.report.chapters.stock import picture_ledger
from certgen.report.tables import Column, as_amount, mass, table
from certgen.report.wording import cell, count_of, days, key, linked, say_fields, write
from certgen.rules.wording import count
from certgen.typeset.parts import Cell, Listing, Prose, Run

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import datetime

    from certgen.lineage import Node
    from certgen.report.context import Context
    from certgen.report.tables import Shown
    from certgen.typeset.parts import Part

#: Figures of a test of seed that are told by their name and value alone.
_TOLD: tuple[tuple[str, str], ...] = (
    ("moisture", "moisture"),
    ("pure", "pure"),
    ("other", "other seed"),
    ("inert", "inert"),
    ("hundred_seed_weights", "hundred seeds weigh"),
)


def show_runs(context: Context, line: set[Node]) -> list[Part]:
    """Batches with their equipment and drying, and the cleanings before them."""
    rows = context.rows_of("batches", line)
    if not rows:
        return []
    grid = table(
        count_of("batches", len(rows)).capitalize(),
        (
            Column("Batch", "key", lambda row: key(row["batch"], f"batches/{row['batch']}")),
            Column("Date", "date", lambda row: write(row["date"])),
            Column("Pickings", "text", lambda row: Cell(linked("harvests", row["harvests"] or ()))),
            Column(
                "Equipment, blade", "text", lambda row: say_fields(row, "equipment", "blade", between="; ")
            ),
            Column("Rinses", "number", lambda row: _as_written(row["rinses"])),
            Column("Drying", "text", _say_drying),
            Column("Wet", "number", lambda row: _as_written(row["wet_weight"])),
            Column("Dry", "number", lambda row: _as_written(row["dry_weight"])),
            Column("Moisture", "number", lambda row: _as_written(row["moisture"])),
        ),
        rows,
    )
    cleanings = context.rows_of("cleaning", _cleanings_of(context, line))
    return [grid, *([Listing(tuple(_say_cleaning(row) for row in cleanings))] if cleanings else [])]


def _as_written(value: Any) -> Shown:
    """A quantity in the words of the record."""
    return as_amount(write(value)) or None


def _say_drying(row: Mapping[str, Any]) -> str | None:
    how = say_fields(row, "drying.method", "drying.temperature")
    when = (
        days([day for day in (row["drying.from"], row["drying.to"]) if day]) if row["drying.from"] else None
    )
    return ", ".join(part for part in (how, when) if part) or None


def _cleanings_of(context: Context, line: set[Node]) -> set[Node]:
    """The cleanings that the batches of a line name, and those on the line itself."""
    batches = [node for node in line if node.table == "batches"]
    links = [link for node in batches for link in context.lineage.sources(node)]
    named = {link.source for link in links if link.kind == "cleaned for"}
    return named | {node for node in line if node.table == "cleaning"}


def _say_cleaning(row: Mapping[str, Any]) -> tuple[Run, ...]:
    words = f", {write(row['date'])}: {write(row['equipment'])}, {write(row['method'])}"
    return Run(row["cleaning"], f"cleaning/{row['cleaning']}"), Run(words)


def show_tests(context: Context, name: str) -> list[Part]:
    """The tests of the lot's seed."""
    rows = context.rows_by("tests", "lot").get(name, [])
    if not rows:
        return [Prose(("No test of this lot is recorded.",))]
    return [
        table(
            count_of("tests", len(rows)).capitalize(),
            (
                Column("Test", "key", lambda row: key(row["test"], f"tests/{row['test']}")),
                Column("Date", "date", lambda row: write(row["date"])),
                Column("Kind", "text", lambda row: row["kind"]),
                Column("Found", "text", _say_test, "34%"),
                Column("How", "text", lambda row: say_fields(row, "temperature", "substrate")),
                Column("Laboratory’s report", "text", lambda row: say_fields(row, "laboratory", "report")),
            ),
            rows,
        ),
        *_show_decline(context, name),
    ]


def _show_decline(context: Context, name: str) -> list[Part]:
    """How the lot's germination went down over its tests, where there are several."""
    followed = follow_germination(context.result, name).get(name)
    if followed is None:
        return []
    told = (f"Germination: {tell_tests(followed)}.", tell_decline(followed), tell_fall(followed))
    return [Prose((" ".join(part for part in (*told, NO_FORECAST if followed.decline else "") if part),))]


def _say_weighings(weighings: Sequence[Mapping[str, Any]]) -> str:
    """The moisture that weighings of dish, moist and dry seed give, repeat by repeat, and their mean."""
    try:
        shares = [wet_basis(dish["container_mg"], dish["before_mg"], dish["after_mg"]) for dish in weighings]
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
    said += [f"{title} {write(row[field])}" for field, title in _TOLD if row.get(field)]
    if row.get("weighings"):
        said.append(_say_weighings(row["weighings"]))
    if row.get("pools") is not None:
        said += _say_pools(row)
    return ", ".join(said) or "nothing recorded"


def _say_pools(row: Mapping[str, Any]) -> list[str]:
    positive = write(row.get("positive_pools")) or "?"
    said = [
        f"{positive} of {count(int(row['pools']), 'pool')} positive",
        f"{count(int(row['seeds_per_pool']), 'seed')} a pool"
        if row.get("seeds_per_pool")
        else "? seeds a pool",
    ]
    for field, title in (("targets", "targets"), ("detection_limit", "detection limit")):
        if row.get(field):
            said.append(f"{title} {write(row[field])}")
    return said


class _Entry(NamedTuple):
    """A line of a lot's ledger; masses in milligrams, as the columns of the ledger."""

    date: datetime
    kind: str
    mass_mg: int
    change_mg: int
    stock_mg: int
    party: str | None
    document: str | None
    record: str | None


def show_ledger(context: Context, lot: str, width: float) -> list[Part]:
    """A lot's ledger with its running stock, and the picture of where its grams went."""
    ledger = context.result.ledger
    ledger = ledger[ledger["lot"] == lot]
    if not len(ledger):
        return [Prose(("No weight of this lot is in the ledger.",))]
    entries = [
        _Entry(*values) for values in zip(*(ledger[name].tolist() for name in _Entry._fields), strict=True)
    ]
    counts = [entry.mass_mg for entry in entries if entry.kind == COUNT_KIND]
    balance = balance_period(ledger, None, "all").iloc[0]
    title = f"Where every gram of lot {lot} went"
    return [
        picture_ledger(f"ledger-of-{lot}", title, balance, counts[-1] if counts else None, width),
        table(
            "Ledger",
            (
                Column("Date", "date", lambda entry: entry.date.date()),
                Column("Entry", "text", lambda entry: "packed" if entry.kind == "produced" else entry.kind),
                Column("In", "number", lambda entry: _moved(entry, 1)),
                Column("Out", "number", lambda entry: _moved(entry, -1)),
                Column("Counted", "number", _counted),
                Column("Stock", "number", lambda entry: mass(entry.stock_mg)),
                Column("Party", "text", lambda entry: entry.party or ""),
                Column("Document", "text", lambda entry: cell(entry.document or "")),
                Column("Record", "key", lambda entry: _record(context, entry.record or "")),
            ),
            entries,
        ),
    ]


def _moved(entry: _Entry, sign: int) -> Shown:
    """What came in (`sign` 1) or went out (−1); a count moves nothing."""
    moved = sign * entry.change_mg
    return mass(moved) if moved > 0 and entry.kind != COUNT_KIND else ""


def _counted(entry: _Entry) -> Shown:
    return mass(entry.mass_mg) if entry.kind == COUNT_KIND else ""


def _record(context: Context, name: str) -> Cell:
    return key(name, f"movements/{name}" if name in context.order["movements"] else "")
