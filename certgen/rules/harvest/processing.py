"""Picking, extraction and drying: that only what belongs together comes together."""

from __future__ import annotations

from typing import TYPE_CHECKING

from certgen.records.columns import group_rows, is_in, is_shared
from certgen.rules.clauses import TRUE_NAME
from certgen.rules.findings import Finding
from certgen.rules.registry import rule
from certgen.rules.wording import IN_A_LOT, join, name

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.rules.case import Case

_NOT_MIXED = ("us-nop:205.272(a)", "us-nop:205.2 commingling", "us-nop:205.201(a)(5)")


@rule(
    weight="rejects",
    clauses=("us-nop:205.201(a)(5)", "us-nop:205.105(e)", "eu:2018/848 11", "us-nop:205.103(b)(2)"),
    remedy="If the fruit did grow under bags, name them under `bags` in place of the trees. If not, keep its "
    "seed out of every lot.",
    packed="If the fruit did grow under bags, name them under `bags` in place of the trees. "
    f"Otherwise: {IN_A_LOT}",
)
def fruit_unbagged(case: Case) -> Iterator[Finding]:
    """Fruit was picked for seed that no bag stands for, so any pollen may have set it.

    A clean tree's leaf says nothing about the pollen. Only the bag does.
    """
    picked = case.joined("picked")
    for harvest, rows in sorted(group_rows(picked["harvest"], picked["loose"]).items()):
        trees = list(dict.fromkeys(picked["tree"][rows].tolist()))
        yield Finding(
            "harvests",
            harvest,
            int(picked["harvest_row"][rows[0]]),
            ("trees",),
            f"Picking {harvest} holds fruit of {name('trees', trees)} that no bag stands for.",
        )
    harvests = case.columns("harvests")
    silent = harvests.absent("bags") & harvests.absent("trees") & (harvests["fruits"] > 0)
    behind = case.behind("harvests") if silent.any() else ()
    for row, harvest, fruits in harvests.rows("harvest", "fruits", where=silent):
        yield Finding(
            "harvests",
            harvest,
            row,
            (),
            f"Picking {harvest} of {fruits} fruit names neither bags nor trees.",
            # Nothing is known against this fruit: what is missing can still be written down.
            weight="unproven" if behind[row] else None,
            supply=f"the bags of picking {harvest}",
            remedy="Name the bags that the fruit grew under.",
        )


@rule(
    weight="rejects",
    clauses=(*_NOT_MIXED, "us-nop:205.103(b)(2)"),
    remedy="Keep the run's seed out of every lot. If nothing else went through the machine with it, "
    "correct the entry.",
    packed=f"If nothing else went through the machine with it, correct the entry. Otherwise: {IN_A_LOT}",
)
def batch_with_other_seed(case: Case) -> Iterator[Finding]:
    """Seed that no picking stands for went into a run whose seed is in a lot, or beside fruit of pickings.

    A cup of somebody else's seed in the mixer is in every packet afterwards. Seed of other sorts may be run,
    but by itself.
    """
    batches = case.columns("batches")
    foreign = batches.known("other_seed")
    if not foreign.any():
        return
    claims = (case.columns("lots")["status"] != "conventional").tolist()
    packed = {batch for _, batch, lot in case.joined("packed").rows("batch", "lot_row") if claims[lot]}
    mixed = foreign & (batches.known("harvests") | is_in(batches["batch"], packed))
    for row, batch, other in batches.rows("batch", "other_seed", where=mixed):
        yield Finding(
            "batches",
            batch,
            row,
            ("other_seed",),
            f"Batch {batch} holds seed that no picking stands for: {other}.",
        )


@rule(
    weight="rejects",
    clauses=_NOT_MIXED,
    remedy="Give the run and its seed the status of the lowest fruit. Mixed seed can't be sorted again.",
)
def batch_mixed_status(case: Case) -> Iterator[Finding]:
    """Organic fruit and other fruit went into one run that is called organic.

    From the mixer on, nobody can say which seed was which; all of it has the status of the lowest.
    """
    processed = case.joined("processed")
    other = processed.known("harvest_status") & (processed["harvest_status"] != "organic")
    if not other.any():
        return
    organic = case.columns("batches")["status"][processed["batch_row"]] == "organic"
    for batch, rows in sorted(group_rows(processed["batch"], organic & other).items()):
        harvests = processed["harvest"][rows].tolist()
        states = join(dict.fromkeys(processed["harvest_status"][rows].tolist()))
        yield Finding(
            "batches",
            batch,
            int(processed["batch_row"][rows[0]]),
            ("harvests",),
            f"Batch {batch} is called organic, but {name('harvests', harvests)} in it "
            f"{'is' if len(harvests) == 1 else 'are'} {states}.",
        )


@rule(
    weight="unproven",
    clauses=TRUE_NAME,
    remedy="Correct the picking or the variety if one is wrong. Seed of two varieties can't be sorted again: "
    "keep it out of lots that bear a variety's name.",
)
def batch_mixed_variety(case: Case) -> Iterator[Finding]:
    """Fruit of two varieties went into one run.

    A lot of it would bear a name that is true of only part of the seed. It is the name that is unproven: two
    organic varieties together are no commingling, and nothing here speaks against organic seed.
    """
    varieties = case.joined("batch_varieties")
    row_of = case.columns("batches").first("batch")
    for batch, rows in sorted(group_rows(varieties["batch"], is_shared(varieties["batch"])).items()):
        yield Finding(
            "batches",
            batch,
            row_of[batch],
            ("harvests",),
            f"Batch {batch} holds seed of {join(varieties['variety'][rows].tolist())}: no one name is true of"
            " it.",
            supply=f"the one variety of batch {batch}",
        )
