"""Picking, extraction and drying: that only what belongs together comes together."""

from __future__ import annotations

from typing import TYPE_CHECKING

from certgen.records.rows import indexed_rows, look_up
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
    loose = case.picked[case.picked["loose"]]
    for harvest, group in loose.groupby("harvest"):
        trees = list(dict.fromkeys(group["tree"].tolist()))
        yield Finding(
            "harvests",
            str(harvest),
            int(group["harvest_row"].iloc[0]),
            ("trees",),
            f"Picking {harvest} holds fruit of {name('trees', trees)} that no bag stands for.",
        )
    harvests = case.season.table("harvests")
    named = set(case.picked["harvest_row"].tolist())
    silent = harvests[~harvests.index.isin(named) & (harvests["fruits"] > 0).fillna(value=False)]
    for row, harvest, fruits in indexed_rows(silent, "harvest", "fruits"):
        yield Finding(
            "harvests",
            harvest,
            row,
            (),
            f"Picking {harvest} of {fruits} fruit names neither bags nor trees.",
            # Nothing is known against this fruit: what is missing can still be written down.
            weight="unproven" if harvest in _behind(case) else None,
            supply=f"the bags of picking {harvest}",
            remedy="Name the bags that the fruit grew under.",
        )


def _behind(case: Case) -> set[str]:
    frame = case.season.table("harvests")
    return set(frame["harvest"][case.behind("harvests")])


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
    frame = case.season.table("batches")
    lots = case.season.table("lots")
    claimed = case.packed["lot_row"].isin(lots.index[lots["status"] != "conventional"])
    packed = frame["batch"].isin(case.packed["batch"][claimed])
    mixed = frame[((frame["harvests"].str.len() > 0) | packed) & frame["other_seed"].notna()]
    for row, batch, other in indexed_rows(mixed, "batch", "other_seed"):
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
    status = case.season.table("batches")["status"]
    processed = case.processed.assign(claimed=lambda frame: look_up(frame["batch_row"], status))
    wrong = processed[
        (processed["claimed"] == "organic")
        & processed["harvest_status"].notna()
        & (processed["harvest_status"] != "organic")
    ]
    for batch, group in wrong.groupby("batch"):
        harvests = group["harvest"].tolist()
        states = join(dict.fromkeys(group["harvest_status"].tolist()))
        yield Finding(
            "batches",
            str(batch),
            int(group["batch_row"].iloc[0]),
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
    varieties = case.batch_varieties
    mixed = varieties[varieties["batch"].duplicated(keep=False)]
    rows_of = case.keyed("batches")["row_of"]
    for batch, group in mixed.groupby("batch"):
        yield Finding(
            "batches",
            str(batch),
            int(rows_of[batch]),
            ("harvests",),
            f"Batch {batch} holds seed of {join(group['variety'].tolist())}: no one name is true of it.",
            supply=f"the one variety of batch {batch}",
        )
