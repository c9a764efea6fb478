"""Lots of packed seed: what they are made of."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from certgen.lineage import Node
from certgen.records.columns import group_rows, is_known
from certgen.records.quantities import format_mass
from certgen.rules.clauses import TRUE_NAME
from certgen.rules.findings import Finding
from certgen.rules.registry import rule
from certgen.rules.seed.purchases import shown_by_packet
from certgen.rules.wording import capital, day, join, name

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.records.columns import Array, Columns
    from certgen.rules.case import Case

_NOT_MIXED: Final = ("us-nop:205.272(a)", "us-nop:205.2 commingling")


@rule(
    weight="rejects",
    clauses=(*_NOT_MIXED, *TRUE_NAME),
    remedy="Take the parts that don't belong out of the lot, if they can still be told apart; else give the "
    "lot the lower status, or don't sell it under a variety's name.",
    after=("batch-mixed-status", "batch-mixed-variety"),
)
def lot_mixed(case: Case) -> Iterator[Finding]:
    """A lot holds seed of another variety, or of a lower status, than it is called.

    What stands on the label must be true of every seed in the packet. Seed of a lower status speaks against
    the organic claim. Seed of another variety, organic as well, doesn't: it makes the name false, and the
    name is unproven.
    """
    parts = list_parts(case)
    other = parts["other_variety"] | parts["other_status"]
    names = (
        "position", "batch", "source_lot", "variety", "status", "other_variety", "other_status", "lot_row",
    )  # fmt: skip
    for lot, rows in sorted(group_rows(parts["lot"], other).items()):
        told, fields, nodes = [], [], []
        chosen = parts.where(np.array(rows), *names)
        lower = bool(chosen["other_status"].any())
        for _, position, batch, source, variety, status, by_variety, by_status, row in chosen.rows(*names):
            what = f"batch {batch}" if batch else f"lot {source}"
            told.append(f"{what} is {variety if by_variety and not by_status else status}")
            fields.append((row, position))
            nodes.append(Node("batches", batch) if batch else Node("lots", source))
        row, position = fields[0]
        called = f"{parts['lot_variety'][rows[0]]}, {parts['lot_status'][rows[0]]}"
        yield Finding(
            "lots",
            lot,
            row,
            ("sources", position),
            f"Lot {lot} is called {called}, but {join(told)}."
            + (
                "" if lower else " The name isn't true of all its seed; of the organic claim it says nothing."
            ),
            weight=None if lower else "unproven",
            clauses=None if lower else TRUE_NAME,
            supply=None if lower else f"one variety's name that is true of lot {lot}",
            take_out=tuple(nodes) if lower else (),
        )


def list_parts(case: Case) -> Columns:
    """Every source of every lot, with its own variety and status beside the lot's.

    Adds to the packed parts `lot_variety`, `lot_status`, `variety`, `status`, `other_variety` and
    `other_status`. A batch of more than one variety is left to the rule about batches: it has no variety to
    compare.
    """
    lots, packed, varieties = case.columns("lots"), case.joined("packed"), case.joined("batch_varieties")
    lot, source = lots.find("lot", packed["lot"]), lots.find("lot", packed["source_lot"])
    of_batch = {batch: rows[0] for batch, rows in group_rows(varieties["batch"]).items() if len(rows) == 1}
    pure = [of_batch.get(batch, -1) for batch in packed["batch"].tolist()]
    lot_variety, lot_status = case.spelling.spell(lots.at("variety", lot)), lots.at("status", lot)
    variety = varieties.at("variety", np.array(pure, dtype="int64"))
    variety = _either(variety, case.spelling.spell(lots.at("variety", source)))
    status = _either(
        case.columns("batches").look_up("batch", packed["batch"], "status"), lots.at("status", source)
    )
    # What a packet shows is of the lot's own variety and status: else it shows nothing.
    by_packet = shown_by_packet(case)
    variety, status = np.where(by_packet, lot_variety, variety), np.where(by_packet, lot_status, status)
    return packed.adding(
        lot_variety=lot_variety,
        lot_status=lot_status,
        variety=variety,
        status=status,
        other_variety=is_known(variety) & is_known(lot_variety) & (variety != lot_variety),
        other_status=(lot_status == "organic") & is_known(status) & (status != "organic"),
    )


def _either(one: Array, other: Array) -> Array:
    return np.where(is_known(one), one, other)


@rule(
    weight="unproven",
    clauses=("us-nop:205.103(b)(2)", "us-nop:205.403(d)(4)", "us-nop:205.403(d)(5)"),
    remedy="Write under `sources` every batch or earlier lot that went in, with its weight.",
)
def lot_without_source(case: Case) -> Iterator[Finding]:
    """A lot weighs more than what is known to have gone into it.

    Seed without a batch behind it could come from anywhere. Only the grams that no source accounts for
    are unproven.
    """
    lots = case.columns("lots")
    accounted, slack = _weigh_parts(case)
    short = lots["weight_mg"] - accounted > np.where(accounted > 0, slack, 0)
    for row, lot, total in lots.rows("lot", "weight_mg", where=short):
        accounted_mg = int(accounted[row])
        yield Finding(
            "lots",
            lot,
            row,
            ("sources",),
            f"Lot {lot} weighs {format_mass(total)}; its sources account for {format_mass(accounted_mg)}."
            if accounted_mg
            else f"Nothing says where the {format_mass(total)} of lot {lot} came from.",
            supply=f"the source of {format_mass(total - accounted_mg)} of lot {lot}",
            touches="rest",
        )


def _weigh_parts(case: Case) -> tuple[Array, Array]:
    """For each lot the milligrams of its sources that name where seed came from, a batch, a lot or a
    supplier, and what is no difference from them: a milligram each, or a step of the scale."""
    packed, size = case.joined("packed"), len(case.columns("lots"))
    named = packed.known("batch") | packed.known("source_lot") | packed.known("supplier")
    row, masses = packed["lot_row"][named], np.nan_to_num(packed["weight_mg"][named])
    parts = np.bincount(row, minlength=size)
    return np.bincount(row, weights=masses, minlength=size), np.maximum(parts, case.scale_step_mg)


@rule(
    weight="unproven",
    clauses=("us-nop:205.403(d)(4)", "us-nop:205.103(b)(2)"),
    remedy="Weigh again, and correct the weight of the lot or of its sources. What was spilt or kept back in "
    "packing belongs in a lot's ledger as `discarded`, or in the batch as `never_packed`.",
)
def lot_packing_differs(case: Case) -> Iterator[Finding]:
    """More seed went into a lot than it weighs.

    What is missing between the scale and the jar is nowhere. A step of the scale is no difference.
    """
    lots = case.columns("lots")
    given, slack = _weigh_parts(case)
    for row, lot, weight in lots.rows("lot", "weight_mg", where=given - lots["weight_mg"] > slack):
        gave = int(given[row])
        yield Finding(
            "lots",
            lot,
            row,
            ("weight",),
            f"{format_mass(gave)} went into lot {lot}, which weighs {format_mass(weight)}: "
            f"{format_mass(gave - weight)} is nowhere.",
            touches="whole",
            supply=f"where {format_mass(gave - weight)} of lot {lot} went in packing",
        )


@rule(
    weight="unproven",
    clauses=("us-nop:205.103(b)(2)", "us-nop:205.2 audit trail", "eu:2018/848 annex III 2.1"),
    remedy="Ask the supplier for its own signed report on the lot, put it into `evidence`, and name it under "
    "`packet` beside the `supplier_lot`. Until it is there the seed is sold as what the supplier's "
    "certificate says, and not as traced to screened parents.",
)
def bought_seed_unproven(case: Case) -> Iterator[Finding]:
    """Seed in a lot was bought, and nothing here leads it back to its parents.

    A supplier's certificate says that the seed is organic. From which trees it came, and whether those were
    screened, stands in the supplier's records.
    """
    for one in case.purchases:
        bought = one.purchase
        # Of a packet that shows nothing a rule of its own tells.
        if bought.table != "lots" or not bought.supplier or one.shown or one.fault is not None:
            continue
        lot, supplier = bought.id, bought.supplier
        paper = f"certificate {bought.certificate}" if bought.certificate else "no certificate named"
        yield Finding(
            "lots",
            lot,
            bought.row,
            ("sources", bought.position),
            f"{format_mass(bought.weight_mg or 0)} of lot {lot} came from {supplier} ({paper}); its parents "
            "are not in these records.",
            touches="rest",
            cause=(lot, supplier),
            supply=f"what leads the seed of {supplier} in lot {lot} back to its parents",
        )


@rule(
    weight="unproven",
    clauses=("us-nop:205.103(b)(2)", "us-nop:205.403(d)(5)"),
    remedy="Name one thing for each part: a batch, a lot or a supplier, each with its weight.",
)
def source_ambiguous(case: Case) -> Iterator[Finding]:
    """One part of a lot is said to have come from two places.

    Seed out of a run wasn't bought, and bought seed came out of no run here. Which of the two it was can't
    be told.
    """
    packed = case.joined("packed")
    batch, source, supplier = (packed.known(name) for name in ("batch", "source_lot", "supplier"))
    several = (batch & source) | (batch & supplier) | (source & supplier)
    for _, lot, row, position in packed.rows("lot", "lot_row", "position", where=several):
        yield Finding(
            "lots",
            lot,
            row,
            ("sources", position),
            f"Part {position + 1} of lot {lot} is said to come from two places at once.",
            supply=f"where part {position + 1} of lot {lot} came from",
        )


@rule(
    weight="unproven",
    clauses=("us-nop:205.103(b)(2)", "us-nop:205.403(d)(5)"),
    remedy="Correct the sources: a lot can't have been packed out of itself.",
)
def blend_circular(case: Case) -> Iterator[Finding]:
    """Lots were blended into one another in a circle, so none of them has a beginning.

    Each would have to be there before the other. One of the sources is another lot's.
    """
    for lots in list_circles(case):
        first = lots[0]
        yield Finding(
            "lots",
            first,
            case.season.row("lots", first),
            ("sources",),
            f"{capital(name('lots', lots))} {'is' if len(lots) == 1 else 'are'} blended into "
            f"{'itself' if len(lots) == 1 else 'one another'} in a circle.",
            reaches=tuple(Node("lots", lot) for lot in lots),
            supply=f"the sources of {name('lots', lots)}",
        )


@rule(
    weight="unproven",
    clauses=("us-nop:205.103(b)(2)", "us-nop:205.307(a)(2)", "seed-law:201.2 lot"),
    remedy="Give the newer lot a number that was never used, on its labels and papers too. Tell whoever "
    "bought seed under the old number which lot they have.",
    after=("identifier-repeated",),
)
def lot_number_reused(case: Case) -> Iterator[Finding]:
    """A lot bears a number that an earlier season gave to another lot.

    A buyer who comes back with that number can mean either. A number is used once, in all years.
    """
    labels = case.season.labels("lots")
    for row, lot, packed in case.columns("lots").rows("lot", "packed", where=~case.own("lots")):
        # Where two years gave one number, the farm calls the earlier lot by its season too.
        number = lot.removesuffix(f" ({labels[row]})")
        if number != lot:
            later = case.season.row("lots", number)
            yield Finding(
                "lots",
                number,
                later,
                ("lot",),
                f"Season {labels[row]} gave the number {number} to a lot packed on {day(packed)}.",
                reaches=(Node("lots", number), Node("lots", lot)),
                supply=f"a number of its own for lot {number}",
            )


def list_circles(case: Case) -> list[list[str]]:
    """The lots of each circle of records that came out of one another."""
    blended = case.joined("packed").known("source_lot").any()
    if not blended and not case.columns("plantings").known("origin.lot").any():
        # Most farms blend nothing; then the whole line need not be searched.
        return []
    circles = ([node.id for node in group if node.table == "lots"] for group in case.lineage.cycles)
    return [lots for lots in circles if lots]
