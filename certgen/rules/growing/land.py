"""The ground that the parents stand on."""

from __future__ import annotations

from typing import TYPE_CHECKING

from certgen.lineage import Node
from certgen.records.columns import group_rows, is_known
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
    blocks, picked = case.columns("blocks"), case.joined("picked")
    claimed = case.columns("harvests").at("status", picked["harvest_row"]) == "organic"
    rows = blocks.find("block", picked["block"])
    standing = blocks.at("status", rows)
    other = is_known(standing) & (standing != "organic")
    early = (standing == "organic") & (picked["date"] < blocks.at("organic_since", rows))
    for block, group in sorted(group_rows(picked["block"], where=claimed & (other | early)).items()):
        row = blocks.first("block")[block]
        status, since = blocks["status"][row], blocks.values("organic_since")[row]
        harvests = list(dict.fromkeys(picked["harvest"][group].tolist()))
        state = f"is {status}" if status != "organic" else f"is organic only since {day(since)}"
        yield Finding(
            "blocks",
            block,
            row,
            ("status",) if status != "organic" else ("organic_since",),
            f"Block {block} {state}, but {name('harvests', harvests)} from it "
            f"{'is' if len(harvests) == 1 else 'are'} called organic.",
            reaches=tuple(Node("harvests", harvest) for harvest in harvests),
        )
