"""The stock ledger: no more goes out than came in, counts are met, and each season opens as the last
closed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from certgen.lineage import Node
from certgen.records.quantities import QuantityError, format_mass, parse_quantity
from certgen.rules.findings import Finding
from certgen.rules.registry import rule
from certgen.rules.seed.departures import is_of_kind, tell_movement
from certgen.rules.wording import day, join, name

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.lineage.custody import Event, LotBook
    from certgen.records.columns import Columns
    from certgen.rules.case import Case

_BALANCE: Final = ("us-nop:205.403(d)(4)", "eu:2021/771 1(5)(a)-(i)")
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
    A step of the scale is allowed for, and a milligram a source, since ounces are kept in whole milligrams.
    """
    batches = tell_drawn(case)
    over = batches["drawn"] - batches["slack"] > batches["dry_weight_mg"]
    for row, batch, dry, drawn in batches.rows("batch", "dry_weight_mg", "drawn", where=over):
        packed = case.joined("packed")
        lots = list(dict.fromkeys(packed["lot"][packed["batch"] == batch].tolist()))
        yield Finding(
            "batches",
            batch,
            row,
            ("dry_weight",),
            f"Batch {batch} gave {format_mass(dry)} of dry seed, and {format_mass(int(drawn))} of it "
            f"went into {name('lots', lots)}.",
            supply=f"the source of {format_mass(int(drawn) - dry)} that batch {batch} can't have given",
        )


def tell_drawn(case: Case) -> Columns:
    """Batches, row for row, with what lots took of them (`drawn`; absent where none did, and where a batch
    stood before under the number), what was never packed (`kept`), and the scales' `slack`."""
    batches, packed = case.columns("batches"), case.joined("packed")
    row = batches.find("batch", packed["batch"])
    named, size = row >= 0, len(batches)
    parts = np.bincount(row[named], minlength=size)
    masses = np.nan_to_num(packed["weight_mg"][named])
    drawn = np.bincount(row[named], weights=masses, minlength=size)
    # What was kept back without a word of its end is nowhere all the same.
    kept = np.where(batches.known("never_packed.why"), batches["never_packed.weight_mg"], 0)
    return batches.adding(
        drawn=np.where(parts > 0, drawn, np.nan),
        kept=np.nan_to_num(kept),
        slack=np.maximum(parts, case.scale_step_mg),
    )


@rule(
    weight="unproven",
    clauses=_BALANCE,
    remedy="Write under `never_packed` what became of the rest and how much it was, or name the lot that it "
    "went into.",
    after=("batch-overdrawn",),
)
def batch_remainder_unaccounted(case: Case) -> Iterator[Finding]:
    """Less seed of a batch was packed than the batch gave, and nothing says where the rest is.

    What was dried and not packed is in a jar somewhere, or was sold without a number. A step of the scale is
    no difference, and a batch that is still being packed is asked once its first lot is there.
    """
    batches = tell_drawn(case)
    rest = batches["dry_weight_mg"] - batches["drawn"] - batches["kept"]
    for row, batch, dry, drawn, kept in batches.rows(
        "batch", "dry_weight_mg", "drawn", "kept", where=rest > batches["slack"]
    ):
        told = f", and {format_mass(int(kept))} was never packed" if kept else ""
        left = int(dry) - int(drawn) - int(kept)
        yield Finding(
            "batches",
            batch,
            row,
            ("dry_weight",),
            f"Batch {batch} gave {format_mass(dry)} of dry seed; {format_mass(int(drawn))} of it was"
            f" packed{told}. {format_mass(left)} is nowhere.",
            touches="whole",
            supply=f"what became of {format_mass(left)} of batch {batch}",
        )


@rule(
    weight="unproven",
    clauses=_BALANCE,
    remedy="Look for the entry that is wrong or missing: a sale under another lot's number, a return that "
    "wasn't entered, a weight in other units.",
    after=("sold-before-packed",),
)
def lot_overdrawn(case: Case) -> Iterator[Finding]:
    """By the ledger more of a lot had gone out, on some day, than there was.

    Seed that wasn't there can't have been sold: some of what left under this number is other seed, and so is
    some of what was blended into another lot. It counts on any day, also if a later entry brings the sum
    back.
    """
    for lot, book in case.books.items():
        if book.overdrawn is None:
            continue
        entry, short = book.overdrawn
        table = entry.node.table
        row = case.season.row(table, entry.node.id)
        drew = [Node("lots", entry.node.id)] if entry.kind == "blended into" else []
        yield Finding(
            table,
            entry.node.id,
            row,
            ("weight",) if table == "movements" else ("sources",),
            f"At the end of {day(entry.day)} the ledger of lot {lot} stood at {format_mass(short)} less than "
            "nothing.",
            reaches=(Node("lots", lot), *drew, *([entry.node] if table == "movements" else [])),
            supply=f"the entry that brought {format_mass(short)} more into lot {lot}",
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

    Seed that is missing is nowhere: it is unaccounted, and what was counted keeps its origin. Seed too much
    came from somewhere, and what is there from that day on is mixed with it. What the scale can't show is no
    difference. A `mass_balance` trigger of your own is said beside it and changes nothing.
    """
    trigger = _trigger(case)
    for lot, book, event in _events(case, "counted"):
        share = 100 * event.mass_mg / book.packed_mg if book.packed_mg else 100.0
        own = f" Your own trigger is {trigger:g} %; this is {share:.2g} %." if trigger is not None else ""
        (counted,) = tell_movement(case, event.node.id, "weight_mg")
        missing = event.kind == "missing"
        expected = counted + event.mass_mg if missing else counted - event.mass_mg
        yield Finding(
            "movements",
            event.node.id,
            case.season.row("movements", event.node.id),
            ("weight",),
            f"Of lot {lot} {format_mass(counted)} was counted where the ledger says {format_mass(expected)}: "
            f"{format_mass(event.mass_mg)} is {'missing' if missing else 'too much'}.{own}",
            touches="missing" if missing else "mixed",
            supply=f"the entry for {format_mass(event.mass_mg)} of lot {lot}",
        )


def _events(case: Case, kind: str) -> Iterator[tuple[str, LotBook, Event]]:
    """What changed lots at movements of a kind: grams missing, seed that came in."""
    for lot, book in case.books.items():
        for event in (*book.missing, *book.mixing):
            node = event.node
            if node.table == "movements" and tell_movement(case, node.id, "kind") == (kind,):
                yield lot, book, event


def _trigger(case: Case) -> float | None:
    """The grower's own percentage for a mass balance, if one is set."""
    typed = case.season.details.review_triggers.get("mass_balance")
    try:
        return None if typed is None else float(parse_quantity(str(typed), "percent").si)
    except QuantityError:
        return None


@rule(
    weight="unproven",
    clauses=(*_BALANCE, "us-nop:205.103(b)(2)", "us-nop:205.2 commingling", "us-nop:205.272(a)"),
    remedy="Seed that was bought belongs in a lot of its own, with its supplier as the source. If it "
    "was entered under the wrong lot, correct that.",
)
def received_into_own_lot(case: Case) -> Iterator[Finding]:
    """Seed from elsewhere was put into a lot of one's own.

    It has no parents in these records, whatever status it claims, and from then on lies mixed with what was
    there. If it is of a lower status than the lot it speaks against all of that.
    """
    for lot, _, event in _events(case, "received"):
        status, party, own = tell_movement(case, event.node.id, "status", "party", "lot_status")
        lower = status is not None and own == "organic" and status != "organic"
        source = f" from {party}" if party is not None else ""
        yield Finding(
            "movements",
            event.node.id,
            case.season.row("movements", event.node.id),
            ("lot",),
            f"{format_mass(event.mass_mg)}{source} was taken into lot {lot} on {day(event.day)}"
            f"{f' as {status}' if lower else ''}. It has no parents in these records, and lies among "
            "the rest.",
            weight="rejects" if lower else None,
            touches="mixed",
            supply=None if lower else f"the right lot for movement {event.node.id}",
        )


@rule(
    weight="unproven",
    clauses=(*_BALANCE, "us-nop:205.103(b)(2)", "us-nop:205.272(a)"),
    remedy="Look at the papers of the sale and of the return, and correct the party, the lot or the weight. "
    "Write under `opened` whether the packets were whole; opened ones belong in the bin, not in the lot.",
)
def returned_seed_mixed(case: Case) -> Iterator[Finding]:
    """Seed came back that can't be shown to be what went out.

    More came back than that buyer had of the lot, or packets that were opened, or nobody says whether they
    were. Put back into the lot it lies among the rest.
    """
    for lot, _, event in _events(case, "returned"):
        opened, party = tell_movement(case, event.node.id, "opened", "party")
        told = []
        if event.mass_mg:
            told.append(
                f"{format_mass(event.mass_mg)} more came back than was sold there and not yet returned"
            )
        if opened is None and not event.mass_mg:
            told.append("nothing says whether the packets had been opened")
        elif opened:
            told.append("the packets had been opened")
        if not told:
            # It came back without a paper, which has a gap of its own.
            continue
        yield Finding(
            "movements",
            event.node.id,
            case.season.row("movements", event.node.id),
            ("weight",) if event.mass_mg else ("opened",),
            f"Of the seed of lot {lot} that {'somebody' if party is None else party} brought back"
            f" on {day(event.day)}, {join(told)}.",
            touches="mixed",
            supply=f"what shows that movement {event.node.id} is the seed that was sold",
        )


@rule(
    weight="unproven",
    clauses=_ACCOUNTS,
    remedy="Enter the stock that the season before closed with as `opening stock`, or write what became "
    "of the difference.",
)
def carry_over_differs(case: Case) -> Iterator[Finding]:
    """A lot opens a season with other than what the season before closed with.

    Between two seasons seed neither grows nor goes. A difference means that an entry is missing on one of
    the two sides. A lot that a season packed itself has no opening stock in it.
    """
    moves, labels = case.columns("movements"), case.season.labels("movements")
    own = dict(zip(case.columns("lots")["lot"], case.season.labels("lots"), strict=True))
    opening = list(moves.rows("movement", "lot", "weight_mg", where=is_of_kind(moves, "opening stock")))
    for row, movement, lot, _ in opening:
        if own.get(lot) == labels[row]:
            yield Finding(
                "movements",
                movement,
                row,
                ("kind",),
                f"Lot {lot} is written as packed in these records and as opening stock: it stands in the "
                "ledger twice.",
                reaches=(Node("lots", lot),),
                supply=f"one beginning for lot {lot}",
            )
    for lot, _, event in _events(case, "opening stock"):
        opened = sum(mass or 0 for _, _, one, mass in opening if one == lot)
        missing = event.kind == "missing"
        closed = opened + event.mass_mg if missing else opened - event.mass_mg
        yield Finding(
            "movements",
            event.node.id,
            case.season.row("movements", event.node.id),
            ("weight",),
            f"Lot {lot} opens with {format_mass(opened)}, and the season before closed with "
            f"{format_mass(closed)} of it.",
            touches="missing" if missing else "mixed",
            supply=f"the entry for {format_mass(event.mass_mg)} of lot {lot} between two seasons",
        )
    yield from _unopened(case, {lot for row, _, lot, _ in opening if not labels[row]})


def _unopened(case: Case, opened: set[str]) -> Iterator[Finding]:
    """Lots of earlier seasons with stock that this season neither opens with nor says anything of."""
    start = case.season.details.start
    lots, moves = case.columns("lots"), case.columns("movements")
    moved = set(moves["lot"][case.own("movements")].tolist())
    for lot in dict.fromkeys(lots["lot"][~case.own("lots")].tolist()):
        closed = case.books[lot].stock_before(start)
        if lot in opened or closed <= case.scale_step_mg:
            continue
        gone = ", though it moved some" if lot in moved else ""
        yield Finding(
            "season",
            case.season.details.label,
            None,
            ("previous",),
            f"The season before closed with {format_mass(closed)} of lot {lot}, and this season doesn't open "
            f"with it{gone}.",
            reaches=(Node("lots", lot),),
            touches="whole",
            supply=f"the opening stock of lot {lot}",
        )
