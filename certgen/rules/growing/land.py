"""The ground that the parents stand on."""

from __future__ import annotations

from typing import TYPE_CHECKING

from certgen.lineage import Node
from certgen.records.rows import indexed_rows, look_up
from certgen.rules.findings import Finding
from certgen.rules.registry import rule
from certgen.rules.wording import day, name

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.rules.case import Case


@rule(
    weight="rejects",
    clauses=(
        "us-nop:205.202(b)",
        "us-nop:205.272(a)",
        "eu:2018/848 10",
        "eu:2018/848 annex II 1.7.1",
        "codex:annex 1 A conversion",
        "canada:5.1",
    ),
    remedy="Fruit of such a block can't be called organic: correct the block's entry if it is wrong, or "
    "give the pickings and what came of them their true status.",
    after=("identifier-repeated",),
)
def block_not_organic(case: Case) -> Iterator[Finding]:
    """Fruit was called organic although its trees stood on ground that wasn't, on the day it was picked.

    The ground's status is the first thing that an organic claim rests on. Careful bagging can't mend it.
    """
    blocks = case.keyed("blocks")
    picked = case.picked
    picked = picked.assign(
        claimed=look_up(picked["harvest_row"], case.season.table("harvests")["status"]),
        status=look_up(picked["block"], blocks["status"]),
        since=look_up(picked["block"], blocks["organic_since"]),
        block_row=look_up(picked["block"], blocks["row_of"]),
    )
    other = picked["status"].notna() & (picked["status"] != "organic")
    early = (picked["status"] == "organic") & (picked["date"] < picked["since"])
    wrong = picked[(picked["claimed"] == "organic") & (other | early)]
    for block, group in wrong.groupby("block"):
        _, status, since, row = next(indexed_rows(group, "status", "since", "block_row"))
        harvests = list(dict.fromkeys(group["harvest"].tolist()))
        state = f"is {status}" if status != "organic" else f"is organic only since {day(since)}"
        yield Finding(
            "blocks",
            str(block),
            int(row),
            ("status",) if status != "organic" else ("organic_since",),
            f"Block {block} {state}, but {name('harvests', harvests)} from it "
            f"{'is' if len(harvests) == 1 else 'are'} called organic.",
            reaches=tuple(Node("harvests", harvest) for harvest in harvests),
        )
