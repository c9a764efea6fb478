"""The stock ledger: no more goes out than came in, counts are met, and a season opens as the last one "
"closed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.figures.ledger import OUT_KINDS, compare_with_counts, find_negative_days
from certgen.figures.stock_book import keep_book
from certgen.lineage import Node
from certgen.records.quantities import QuantityError, format_mass, parse_quantity
from certgen.rules.findings import Finding, Weight
from certgen.rules.registry import rule
from certgen.rules.selection import look_up, rows
from certgen.rules.wording import day, name

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pandas import DataFrame

    from certgen.rules.case import Case

_BALANCE: Final = ("us-nop:205.403(d)(4)", "eu:2021/771 1(b)")
_ACCOUNTS: Final = (*_BALANCE, "eu:2021/2119 2", "codex:annex 3 A accounts")


@rule(
    weight="unproven",
    clauses=_BALANCE,
    remedy="Weigh or add up again: correct the batch's `dry_weight`, or the weights under `sources` of the "
    "lots. If seed of another batch went in, name that batch.",
)
def batch_overdrawn(case: Case) -> Iterator[Finding]:
    """More seed of a batch was packed than the batch gave.

    The seed beyond its dry weight came from somewhere else, and nobody can say which seed that is.
    A milligram a source is allowed for, since ounces are kept in whole milligrams.
    """
    packed = case.packed
    packed = packed[packed["batch"].notna()]
    taken = packed.groupby("batch")["weight_mg"].agg(["sum", "size"])
    batches = case.season.table("batches")
    batches = batches.assign(
        taken=look_up(batches["batch"], taken["sum"]), parts=look_up(batches["batch"], taken["size"])
    )
    over = (batches["taken"] - batches["parts"] > batches["dry_weight_mg"]).fillna(value=False)
    for row, batch, dry, drawn in rows(batches[over], "batch", "dry_weight_mg", "taken"):
        lots = list(dict.fromkeys(packed["lot"][packed["batch"] == batch].tolist()))
        yield Finding(
            "batches",
            batch,
            row,
            ("dry_weight",),
            f"Batch {batch} gave {format_mass(dry)} of dry seed, and {format_mass(int(drawn))} of it "
            "went into "
            f"{name('lots', lots)}.",
            supply=f"the source of {format_mass(int(drawn) - dry)} that batch {batch} can't have given",
        )


@rule(
    weight="unproven",
    clauses=_BALANCE,
    remedy="Look for the entry that is wrong or missing: a sale under another lot's number, a return that "
    "wasn't entered, a weight in other units.",
    after=("date-out-of-order", "sold-before-packed"),
)
def lot_overdrawn(case: Case) -> Iterator[Finding]:
    """By the ledger more of a lot had gone out, on some day, than there was.

    Seed that wasn't there can't have been sold: some of what left under this number is other seed. It
    counts on any day, also if a later entry brings the sum back above nothing.
    """
    ledger = case.ledger
    came = ledger["kind"].isin(["produced", "blended from", "opening stock", "received"])
    # A lot that nothing brought into this book is told by the rules about openings and unknown numbers.
    held = set(ledger["lot"][came])
    days = find_negative_days(ledger[ledger["lot"].isin(held)])
    days = days.assign(slack=look_up(days["lot"], ledger.groupby("lot").size()))
    days = days[days["stock_mg"] < -days["slack"]]
    days = days[~days["lot"].duplicated()]
    for _, lot, when, stock in rows(days, "lot", "date", "stock_mg"):
        on = ledger[(ledger["lot"] == lot) & (ledger["date"].dt.date == when)]
        out = on[on["kind"].isin(OUT_KINDS)]
        record, kind = (out if len(out) else on)[["record", "kind"]].iloc[-1].tolist()
        table = "lots" if kind in {"blended into", "lost in packing"} else "movements"
        yield Finding(
            table,
            record,
            case.season.row(table, record),
            ("weight",) if table == "movements" else ("sources",),
            f"At the end of {day(when)} the ledger of lot {lot} stood at {format_mass(-stock)} less than "
            "nothing.",
            reaches=(case.lot_node(lot), Node(table, record))
            if table == "movements"
            else (case.lot_node(lot),),
            supply=f"the entry that brought {format_mass(-stock)} more into lot {lot}",
        )


@rule(
    weight="unproven",
    clauses=_ACCOUNTS,
    remedy="Count again. Then look for the entry that is missing or wrong: a sale, a sample, a spill. Enter "
    "what was lost as `discarded` with a note; never change the count to fit.",
    after=("lot-overdrawn",),
)
def ledger_does_not_close(case: Case) -> Iterator[Finding]:
    """What was counted isn't what the ledger says.

    Seed that is missing has gone somewhere, and seed too much came from somewhere. If you have set
    yourself a `mass_balance` trigger under `review_triggers`, a smaller difference is advice: that figure
    is yours, no standard names one.
    """
    counts = compare_with_counts(ledger := case.ledger)
    entries = ledger.groupby("lot").size()
    counts = counts.assign(slack=look_up(counts["lot"], entries))
    off = counts[counts["difference_mg"].abs() > counts["slack"]]
    if off.empty:
        return
    came = ledger["change_mg"].clip(lower=0).groupby(ledger["lot"]).sum()
    trigger = _trigger(case)
    for _, lot, movement, counted, book, difference in rows(
        off, "lot", "record", "counted_mg", "book_mg", "difference_mg"
    ):
        small = trigger is not None and abs(difference) * 100 <= trigger * int(came[lot])
        weight: Weight | None = "advice" if small else None
        within = f" That is within your own trigger of {trigger:g} %." if small else ""
        word = "missing" if counted < book else "too much"
        yield Finding(
            "movements",
            movement,
            case.season.row("movements", movement),
            ("weight",),
            f"Of lot {lot} {format_mass(counted)} was counted where the ledger says {format_mass(book)}: "
            f"{format_mass(abs(difference))} is {word}.{within}",
            weight=weight,
            supply=f"the entry for {format_mass(abs(difference))} of lot {lot}",
        )


def _trigger(case: Case) -> float | None:
    """The grower's own percentage for a mass balance, if one is set."""
    typed = case.season.details.review_triggers.get("mass_balance")
    try:
        return None if typed is None else float(parse_quantity(str(typed), "percent").si)
    except QuantityError:
        return None


@rule(
    weight="unproven",
    clauses=_ACCOUNTS,
    remedy="Enter the stock that the season before closed with as `opening stock`, or write what became "
    "of the difference.",
)
def carry_over_differs(case: Case) -> Iterator[Finding]:
    """A lot opens the season with other than what the season before closed with.

    Between two seasons seed neither grows nor goes. A difference means that an entry is missing on one of
    the two sides. A lot that this season packed itself has no opening stock.
    """
    import pandas as pd

    moves = case.season.table("movements")
    opening = moves[moves["kind"] == "opening stock"]
    twice = opening[
        opening["lot"].isin(case.keyed("lots").index) & ~opening["lot"].isin(case.earlier_lots.index)
    ]
    for row, movement, lot in rows(twice, "movement", "lot"):
        yield Finding(
            "movements",
            movement,
            row,
            ("kind",),
            f"Lot {lot} is written as packed in these records and as opening stock: it stands in the "
            "ledger twice.",
            supply=f"one beginning for lot {lot}",
        )
    before = case.season.previous
    if before is None:
        return
    book = keep_book(before)
    closing = book.groupby("lot")["stock_mg"].last() if len(book) else pd.Series(dtype="int64")
    entries = book.groupby("lot").size() if len(book) else closing
    opened = opening[~opening.index.isin(twice.index)]
    sums = opened.groupby("lot")["weight_mg"].sum()
    both = pd.DataFrame({"closed": closing, "opened": sums, "entries": entries}).fillna(0).astype("int64")
    both = both[((both["closed"] - both["opened"]).abs() > both["entries"]) & (both["closed"] >= 0)]
    label = before.details.label
    for lot, closed, opened_mg in rows(both, "closed", "opened"):
        yield _carried(case, lot, closed, opened_mg, opened, label)


def _carried(case: Case, lot: str, closed: int, opened: int, opening: DataFrame, label: str) -> Finding:
    entries = opening[opening["lot"] == lot]
    supply = f"the entry for {format_mass(abs(closed - opened))} of lot {lot} between two seasons"
    if entries.empty:
        return Finding(
            "season",
            case.season.details.label,
            None,
            ("previous",),
            f"Season {label} closed with {format_mass(closed)} of lot {lot}, and this season doesn't "
            "open with it.",
            reaches=(Node("lots", lot, label),),
            supply=supply,
        )
    row, movement = next(rows(entries, "movement"))
    return Finding(
        "movements",
        movement,
        row,
        ("weight",),
        f"Lot {lot} opens with {format_mass(opened)}, and season {label} closed with "
        f"{format_mass(closed)} of it.",
        supply=supply,
    )
