"""Lots of packed seed: what they are made of."""

from __future__ import annotations

from typing import TYPE_CHECKING

from certgen.lineage import Node
from certgen.records.quantities import format_mass
from certgen.rules.departures import known_lots
from certgen.rules.findings import Finding, Weight
from certgen.rules.registry import rule
from certgen.rules.selection import look_up, rows
from certgen.rules.wording import day, join

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pandas import DataFrame

    from certgen.rules.case import Case


@rule(
    weight="rejects",
    clauses=("us-nop:205.272", "us-nop:205.2 commingling", "us-nop:205.103(b)(2)", "seed-law:201.2 lot"),
    remedy="Take the parts that don't belong out of the lot, if they can still be told apart; else give the "
    "lot the lower status, or don't sell it under a variety's name.",
    after=("batch-mixed-status", "batch-mixed-variety"),
)
def lot_mixed(case: Case) -> Iterator[Finding]:
    """A lot holds seed of another variety, or of a lower status, than it is called.

    What stands on the label must be true of every seed in the packet.
    """
    parts = _parts(case)
    other = parts[parts["other_variety"] | parts["other_status"]]
    for lot, group in other.groupby("lot"):
        told, fields, nodes = [], [], []
        for _, position, batch, source, variety, status, by_variety, row in rows(
            group, "position", "batch", "source_lot", "variety", "status", "other_variety", "lot_row"
        ):
            what = f"batch {batch}" if batch else f"lot {source}"
            told.append(f"{what} is {variety if by_variety else status}")
            fields.append((row, position))
            nodes.append(Node("batches", batch) if batch else case.lot_node(source))
        row, position = fields[0]
        called = f"{parts.loc[group.index[0], 'lot_variety']}, {parts.loc[group.index[0], 'lot_status']}"
        yield Finding(
            "lots",
            str(lot),
            row,
            ("sources", position),
            f"Lot {lot} is called {called}, but {join(told)}.",
            take_out=tuple(nodes),
        )


def _parts(case: Case) -> DataFrame:
    """Every source of every lot, with its own variety and status beside the lot's.

    A batch of more than one variety is left to the rule about batches: it has no variety to compare.
    """
    lots, batches = case.keyed("lots"), case.keyed("batches")
    varieties = case.batch_varieties
    pure = varieties[~varieties["batch"].duplicated(keep=False)].set_index("batch")["variety"]
    packed = case.packed
    lot_variety = case.spell(look_up(packed["lot"], lots["variety"]))
    lot_status = look_up(packed["lot"], lots["status"])
    known = known_lots(case)
    variety = look_up(packed["batch"], pure).fillna(
        case.spell(look_up(packed["source_lot"], known["variety"]))
    )
    status = look_up(packed["batch"], batches["status"]).fillna(
        look_up(packed["source_lot"], known["status"])
    )
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
    known = case.packed.groupby("lot_row")["weight_mg"].sum()
    accounted = look_up(lots.index.to_series(), known).fillna(0).astype("int64")
    chosen = lots.assign(accounted=accounted, short=lots["weight_mg"] - accounted)
    chosen = chosen[(chosen["short"] > 0).fillna(value=False)]
    for row, lot, total, accounted_mg, short in rows(chosen, "lot", "weight_mg", "accounted", "short"):
        yield Finding(
            "lots",
            lot,
            row,
            ("sources",),
            f"Lot {lot} weighs {format_mass(total)}; its sources account for {format_mass(accounted_mg)}."
            if accounted_mg
            else f"Nothing says where the {format_mass(total)} of lot {lot} came from.",
            supply=f"the source of {format_mass(short)} of lot {lot}",
            only_rest=True,
        )


@rule(
    weight="unproven",
    clauses=("us-nop:205.103(b)(2)", "us-nop:205.403(d)(5)"),
    remedy="Mend the earlier season's records: `certgen check` on its folder shows what is missing.",
)
def blended_lot_unproven(case: Case) -> Iterator[Finding]:
    """A lot of an earlier season was blended in, and that season's records don't prove all of it.

    Seed hands on the standing that it came with. What is wrong with it stands in the earlier records.
    """
    standings = {node.id: standing for node, standing in case.earlier.items()}
    chosen = case.packed[case.packed["source_lot"].isin(list(standings))]
    for _, lot, row, position, source in rows(chosen, "lot", "lot_row", "position", "source_lot"):
        node = case.lot_node(source)
        standing = case.earlier.get(node)
        if standing is None or standing.standing == "traced":
            continue
        weight: Weight = "rejects" if standing.rejected_mg else "unproven"
        proved = format_mass(standing.traced_mg)
        yield Finding(
            "lots",
            lot,
            row,
            ("sources", position),
            f"Lot {source} of season {node.season}, blended into lot {lot}, is {standing.standing}: "
            f"its records prove {proved} of {format_mass(standing.weight_mg)}.",
            weight=weight,
            reaches=(node,),
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
    lots, earlier = case.season.table("lots"), case.earlier_lots
    again = lots[lots["lot"].isin(earlier.index)]
    for row, lot, packed in rows(again, "lot", "packed"):
        season, before = earlier.loc[lot, ["season", "packed"]].tolist()
        same = before.date() == packed
        yield Finding(
            "lots",
            lot,
            row,
            ("lot",),
            f"Lot {lot} stands in the records of season {season} already; there is no need to write it again."
            if same
            else f"Season {season} gave the number {lot} to a lot packed on {day(before.date())}.",
            weight="advice" if same else None,
            remedy="Take this record out; what is left of the lot comes in as `opening stock`."
            if same
            else None,
            supply=None if same else f"a number of its own for lot {lot}",
        )
