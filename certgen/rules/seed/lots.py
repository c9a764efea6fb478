"""Lots of packed seed: what they are made of."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.lineage import Node
from certgen.records.quantities import format_mass
from certgen.records.rows import indexed_rows, look_up, plain_rows
from certgen.rules.clauses import TRUE_NAME
from certgen.rules.findings import Finding
from certgen.rules.registry import rule
from certgen.rules.seed.purchases import shown_by_packet
from certgen.rules.wording import capital, day, join, name

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pandas import DataFrame

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
    other = parts[parts["other_variety"] | parts["other_status"]]
    for lot, group in other.groupby("lot"):
        told, fields, nodes = [], [], []
        lower = bool(group["other_status"].any())
        for position, batch, source, variety, status, by_variety, by_status, row in plain_rows(
            group,
            "position",
            "batch",
            "source_lot",
            "variety",
            "status",
            "other_variety",
            "other_status",
            "lot_row",
        ):
            what = f"batch {batch}" if batch else f"lot {source}"
            told.append(f"{what} is {variety if by_variety and not by_status else status}")
            fields.append((row, position))
            nodes.append(Node("batches", batch) if batch else Node("lots", source))
        row, position = fields[0]
        called = f"{parts.loc[group.index[0], 'lot_variety']}, {parts.loc[group.index[0], 'lot_status']}"
        yield Finding(
            "lots",
            str(lot),
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


def list_parts(case: Case) -> DataFrame:
    """Every source of every lot, with its own variety and status beside the lot's.

    A batch of more than one variety is left to the rule about batches: it has no variety to compare.
    """
    lots, batches = case.keyed("lots"), case.keyed("batches")
    varieties = case.batch_varieties
    pure = varieties[~varieties["batch"].duplicated(keep=False)].set_index("batch")["variety"]
    packed = case.packed
    lot_variety = case.spelling.spell(look_up(packed["lot"], lots["variety"]))
    lot_status = look_up(packed["lot"], lots["status"])
    known = lots
    variety = look_up(packed["batch"], pure).fillna(
        case.spelling.spell(look_up(packed["source_lot"], known["variety"]))
    )
    status = look_up(packed["batch"], batches["status"]).fillna(
        look_up(packed["source_lot"], known["status"])
    )
    # What a packet shows is of the lot's own variety and status: else it shows nothing.
    by_packet = shown_by_packet(case)
    variety, status = variety.mask(by_packet, lot_variety), status.mask(by_packet, lot_status)
    return packed.assign(
        lot_variety=lot_variety,
        lot_status=lot_status,
        variety=variety,
        status=status,
        other_variety=variety.notna() & lot_variety.notna() & (variety != lot_variety),
        other_status=(lot_status == "organic") & status.notna() & (status != "organic"),
    )


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
    lots = case.season.table("lots")
    known = _named_parts(case).groupby("lot_row")["weight_mg"].agg(["sum", "size"])
    accounted = look_up(lots.index.to_series(), known["sum"]).fillna(0).astype("int64")
    slack = look_up(lots.index.to_series(), known["size"]).fillna(0).clip(lower=case.scale_step_mg)
    chosen = lots.assign(accounted=accounted, short=lots["weight_mg"] - accounted)
    chosen = chosen[(chosen["short"] > slack.where(accounted > 0, 0)).fillna(value=False)]
    for row, lot, total, accounted_mg, short in indexed_rows(
        chosen, "lot", "weight_mg", "accounted", "short"
    ):
        yield Finding(
            "lots",
            lot,
            row,
            ("sources",),
            f"Lot {lot} weighs {format_mass(total)}; its sources account for {format_mass(accounted_mg)}."
            if accounted_mg
            else f"Nothing says where the {format_mass(total)} of lot {lot} came from.",
            supply=f"the source of {format_mass(short)} of lot {lot}",
            touches="rest",
        )


def _named_parts(case: Case) -> DataFrame:
    """The sources of lots that name where seed came from: a batch, a lot or a supplier."""
    packed = case.packed
    return packed[packed["batch"].notna() | packed["source_lot"].notna() | packed["supplier"].notna()]


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
    lots = case.season.table("lots")
    known = _named_parts(case).groupby("lot_row")["weight_mg"].agg(["sum", "size"])
    given = look_up(lots.index.to_series(), known["sum"])
    slack = look_up(lots.index.to_series(), known["size"]).clip(lower=case.scale_step_mg)
    chosen = lots.assign(given=given)[((given - lots["weight_mg"]) > slack).fillna(value=False)]
    for row, lot, weight, gave in indexed_rows(chosen, "lot", "weight_mg", "given"):
        yield Finding(
            "lots",
            lot,
            row,
            ("weight",),
            f"{format_mass(int(gave))} went into lot {lot}, which weighs {format_mass(weight)}: "
            f"{format_mass(int(gave) - weight)} is nowhere.",
            touches="whole",
            supply=f"where {format_mass(int(gave) - weight)} of lot {lot} went in packing",
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
    packed = case.packed
    kinds = packed[["batch", "source_lot", "supplier"]].notna().sum(axis="columns")
    for lot, row, position in plain_rows(packed[kinds > 1], "lot", "lot_row", "position"):
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
    lots = case.season.table("lots")
    labels = case.season.labels("lots")
    for row, lot, packed in indexed_rows(lots[~case.own("lots")], "lot", "packed"):
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
    sown = case.season.table("plantings")["origin.lot"]
    if case.packed["source_lot"].isna().all() and sown.isna().all():
        # Most farms blend nothing; then the whole line need not be searched.
        return []
    circles = ([node.id for node in group if node.table == "lots"] for group in case.lineage.cycles)
    return [lots for lots in circles if lots]
