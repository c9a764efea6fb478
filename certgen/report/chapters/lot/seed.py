"""A lot's pickings, runs, tests and ledger, as tables of its dossier."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from certgen.dossier.viability import NO_FORECAST, tell_decline, tell_fall, tell_tests
from certgen.figures.ledger import COUNT_KIND
from certgen.figures.moisture import wet_basis
from certgen.lineage import Node
from certgen.report.chapters.stock import describe_ledger
from certgen.report.tables import Column, as_amount, fold, mass, table
from certgen.report.wording import cell, count_of, key, linked_gaps, say_days, say_fields, weigh, write
from certgen.rules.wording import count, day
from certgen.typeset.parts import Cell, Listing, Prose, Run

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence
    from datetime import datetime

    from certgen.report.context import Context
    from certgen.report.drawings.ledger import LedgerPicture
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


_KILOGRAM: Final = 1_000_000


class _Step(NamedTuple):
    """A picking on its way through a run. `batch` is None for a picking that went into none, `harvest` for a
    run without one; `first` is the line that tells of the run."""

    batch: Mapping[str, Any] | None
    harvest: Mapping[str, Any] | None
    first: bool


def show_runs(context: Context, line: set[Node]) -> list[Part]:
    """Pickings and the runs they went into, with equipment and drying, and the cleanings before them."""
    batches, pickings = context.rows_of("batches", line), context.rows_of("harvests", line)
    steps = list(_list_steps(batches, pickings))
    if not steps:
        return []
    columns: tuple[Column[_Step], ...] = (
        Column("Picking", "key", lambda step: _of(step.harvest, _name_picking)),
        Column("Picked", "text", lambda step: _of(step.harvest, lambda row: _say_day(row["date"]))),
        Column("Fruit", "number", lambda step: _of(step.harvest, lambda row: row["fruits"])),
        Column("Weight", "number", lambda step: _of(step.harvest, lambda row: _weigh(row, "weight"))),
        Column("Ripeness", "text", lambda step: _of(step.harvest, lambda row: row["stage"])),
        Column("Status", "text", lambda step: _of(step.harvest, lambda row: row["status"])),
        Column("Batch", "text", lambda step: _of(step.batch, lambda row: _name_run(context, row))),
        Column("Extracted", "text", lambda step: _once(step, lambda row: _say_day(row["date"]))),
        Column(
            "Equipment, blade",
            "text",
            lambda step: _of(step.batch, lambda row: say_fields(row, "equipment", "blade", between="; ")),
        ),
        Column("Rinses", "number", lambda step: _once(step, lambda row: _as_written(row["rinses"]))),
        Column("Drying", "text", lambda step: _once(step, _say_drying)),
        Column("Wet", "number", lambda step: _once(step, lambda row: _weigh(row, "wet_weight"))),
        Column("Dry", "number", lambda step: _once(step, lambda row: _weigh(row, "dry_weight"))),
        Column("Moisture", "number", lambda step: _once(step, lambda row: _as_written(row["moisture"]))),
    )
    kept, note = fold(columns, steps)
    said = f"{count_of('harvests', len(pickings))}, {count_of('batches', len(batches))}"
    cleanings = _group_cleanings(context.rows_of("cleaning", _cleanings_of(context, line)))
    listed = [Listing(tuple(cleanings))] if cleanings else []
    return [table(said, kept, steps, note=note), *listed]


def _list_steps(
    batches: Sequence[Mapping[str, Any]], pickings: Sequence[Mapping[str, Any]]
) -> Iterator[_Step]:
    """Each run with its pickings, and then the pickings that no run names."""
    left = {row["harvest"]: row for row in pickings}
    by_name = dict(left)
    for batch in batches:
        named = [by_name[name] for name in dict.fromkeys(batch["harvests"] or ()) if name in by_name]
        yield _Step(batch, named[0] if named else None, True)
        yield from (_Step(batch, row, False) for row in named[1:])
        for row in named:
            left.pop(row["harvest"], None)
    yield from (_Step(None, row, True) for row in left.values())


def _of(row: Mapping[str, Any] | None, say: Callable[[Mapping[str, Any]], Shown]) -> Shown:
    return None if row is None else say(row)


def _once(step: _Step, say: Callable[[Mapping[str, Any]], Shown]) -> Shown:
    """What is said of a run, on its first line only."""
    return _of(step.batch, say) if step.first else ""


def _name_picking(row: Mapping[str, Any]) -> Cell:
    return key(row["harvest"], f"harvests/{row['harvest']}")


def _name_run(context: Context, row: Mapping[str, Any]) -> Cell:
    """The run, leading to its record, and what is open at it."""
    name = row["batch"]
    runs = [Run(name, f"batches/{name}")]
    opened = context.matrices.find_open([Node("batches", name)])
    if opened.numbers:
        runs += [
            Run(", "),
            Run(opened.word, mark=opened.standing),
            Run(", gap "),
            *linked_gaps(opened.numbers),
        ]
    return Cell(tuple(runs))


def _say_day(when: Any) -> str | None:
    return day(when) if when else None


def _as_written(value: Any) -> Shown:
    """A quantity in the words of the record."""
    return as_amount(write(value)) or None


def _weigh(row: Mapping[str, Any], field: str) -> Shown:
    """A weight in the unit of its column, and beside it what was typed in another."""
    typed, milligrams = write(row[field]), row[f"{field}_mg"]
    if milligrams is None:
        return _as_written(row[field])
    if typed.rpartition(" ")[2] in {"g", "kg"}:
        return mass(milligrams)
    # No finer than a scale of pounds and ounces is read; what was typed says it exactly.
    return f"{weigh(round(milligrams, -3 if milligrams >= _KILOGRAM else -2))} ({typed})"


def _say_drying(row: Mapping[str, Any]) -> str | None:
    how = say_fields(row, "drying.method", "drying.temperature")
    when = (
        say_days([one for one in (row["drying.from"], row["drying.to"]) if one])
        if row["drying.from"]
        else None
    )
    return ", ".join(part for part in (how, when) if part) or None


def _cleanings_of(context: Context, line: set[Node]) -> set[Node]:
    """The cleanings that the batches of a line name, and those on the line itself."""
    batches = [node for node in line if node.table == "batches"]
    links = [link for node in batches for link in context.lineage.sources(node)]
    named = {link.source for link in links if link.kind == "cleaned for"}
    return named | {node for node in line if node.table == "cleaning"}


def _group_cleanings(rows: Sequence[Mapping[str, Any]]) -> list[tuple[Run, ...]]:
    """Cleanings, those alike in one sentence: `Cleaned before: C26-02, 26 June 2026: pulper, brushed`."""
    alike: defaultdict[str, list[Mapping[str, Any]]] = defaultdict(list)
    for row in rows:
        alike[say_fields(row, "equipment", "method") or "not recorded how"].append(row)
    told = []
    for words, group in alike.items():
        runs = [Run("Cleaned before: ")]
        for number, row in enumerate(group):
            runs += [Run("; ")] if number else []
            when = f", {day(row['date'])}" if row["date"] else ""
            runs += [Run(row["cleaning"], f"cleaning/{row['cleaning']}"), Run(when)]
        told.append((*runs, Run(f": {words}")))
    return told


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
                Column("Date", "text", lambda row: _say_day(row["date"])),
                Column("Kind", "text", lambda row: row["kind"]),
                Column("Found", "text", _say_test, "34%"),
                Column("How", "text", lambda row: say_fields(row, "temperature", "substrate")),
                Column("Laboratory’s report", "text", lambda row: _say_report(context, row)),
            ),
            rows,
        ),
        *_show_decline(context, name),
    ]


def _say_report(context: Context, row: Mapping[str, Any]) -> Cell | None:
    """The laboratory, and its report, leading to the paper."""
    laboratory, report = say_fields(row, "laboratory"), say_fields(row, "report")
    runs = [Run(f"{laboratory}, " if report else laboratory)] if laboratory else []
    if report:
        runs.append(Run(report, context.paper_of(row)))
    return Cell(tuple(runs)) if runs else None


def _show_decline(context: Context, name: str) -> list[Part]:
    """How the lot's germination went down over its tests, where there are several."""
    followed = context.declines.get(name)
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


def describe_lot(context: Context, lot: str, width: float) -> LedgerPicture | None:
    """Where a lot's grams went, ready to be drawn; None where no weight of it is in the ledger."""
    ledger = context.result.ledger
    ledger = ledger[ledger["lot"] == lot]
    if not len(ledger):
        return None
    counts = ledger["mass_mg"][ledger["kind"] == COUNT_KIND].tolist()
    balance = context.account.balance.loc[lot].iloc[0]
    return describe_ledger(
        f"Where every gram of lot {lot} went", balance, counts[-1] if counts else None, width
    )


def show_ledger(context: Context, lot: str) -> list[Part]:
    """A lot's ledger with its running stock."""
    ledger = context.result.ledger
    ledger = ledger[ledger["lot"] == lot]
    if not len(ledger):
        return [Prose(("No weight of this lot is in the ledger.",))]
    entries = [
        _Entry(*values) for values in zip(*(ledger[name].tolist() for name in _Entry._fields), strict=True)
    ]
    return [
        table(
            count_of("movements", sum(entry.record in context.order["movements"] for entry in entries)),
            (
                Column("Date", "text", lambda entry: day(entry.date.date())),
                Column("Entry", "text", lambda entry: "packed" if entry.kind == "produced" else entry.kind),
                Column("In", "number", lambda entry: _moved(entry, 1)),
                Column("Out", "number", lambda entry: _moved(entry, -1)),
                Column("Counted", "number", _counted),
                Column("Stock", "number", lambda entry: mass(entry.stock_mg)),
                Column("Party", "text", lambda entry: entry.party or ""),
                Column("Document", "text", lambda entry: _document(context, entry)),
                Column("Record", "key", lambda entry: _record(context, entry.record or "")),
            ),
            entries,
            close=True,
        ),
    ]


def _moved(entry: _Entry, sign: int) -> Shown:
    """What came in (`sign` 1) or went out (−1); a count moves nothing."""
    moved = sign * entry.change_mg
    return mass(moved) if moved > 0 and entry.kind != COUNT_KIND else ""


def _counted(entry: _Entry) -> Shown:
    return mass(entry.mass_mg) if entry.kind == COUNT_KIND else ""


def _document(context: Context, entry: _Entry) -> Cell:
    """The document that went with a movement, leading to the paper."""
    rows = context.rows_by("movements", "movement").get(entry.record or "", ())
    return cell(entry.document or "", context.paper_of(rows[0]) if rows and entry.document else "")


def _record(context: Context, name: str) -> Cell:
    return key(name, f"movements/{name}" if name in context.order["movements"] else "")
