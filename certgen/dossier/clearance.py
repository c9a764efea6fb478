"""Which trees may be bagged: their screening is proven, as the checks on a bag will ask, and came in.

A tree is cleared from the day on which its result came in. The rule `screened-after-covering` asks less: only
that the leaf was cut before the flower was covered, for the result may come weeks later.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from certgen.dossier.odds import weigh_trees
from certgen.records.rows import look_up, plain_rows
from certgen.rules.growing.selection import list_unfit
from certgen.rules.wording import join

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from datetime import date

    from certgen.examination import Result


@dataclass(frozen=True, slots=True)
class Clearance:
    """A standing tree that bears seed and whose results are clean: where it is, since when, by which sample.

    `lacks` says why a bag put on it would stay unproven all the same; it is empty for a tree that is cleared.
    """

    tree: str
    about: str
    since: date
    sample: str
    lacks: str


def list_clearances(result: Result) -> Iterator[Clearance]:
    """Trees of the sexes that bear seed, standing on the day, fit as parents and with a result that came in
    and is clean.
    """
    import pandas as pd

    trees, on = result.case.trees, pd.Timestamp(result.on)
    samples = result.case.season.table("screening").drop_duplicates("sample").set_index("sample")
    reported = look_up(trees["clearing_sample"], samples["reported"])
    proven = trees["tree"].map(result.case.soundly_cleared).astype("datetime64[s]") <= on
    trees = trees.assign(cleared=reported.where(reported.notna(), trees["cleared"]), proven=proven)
    wanted = (*result.profile.role("seed_parents"), *result.profile.role("needs_pollen_parent"))
    standing = trees["removed"].isna() | (trees["removed"] > on)
    known = trees["cleared"] <= on
    unfit = [tree for tree, since in list_unfit(result.case).items() if since <= result.on]
    fit = trees["sex"].isin(wanted) & ~trees["tree"].isin(unfit)
    clean = trees[(trees["verdict"] == "clear") & known & standing & fit]
    names = ("tree", "block", "row", "position", "variety", "cleared", "clearing_sample", "proven")
    odds = weigh_trees(result)
    for tree, block, row, position, variety, cleared, sample, shown in plain_rows(clean, *names):
        where = ", ".join(
            f"{word} {part}" for word, part in (("block", block), ("row", row), ("place", position)) if part
        )
        about = "; ".join(part for part in (variety, where) if part)
        lacks = "" if shown else _say_lack(odds[tree].unseen, sample)
        yield Clearance(tree, about, cleared, sample, lacks)


def _say_lack(unseen: Sequence[str], sample: str) -> str:
    if unseen:
        return (
            f"its tests can't see {join(unseen)}, and a bag on it proves nothing; have it tested for what "
            f"{'that event carries' if len(unseen) == 1 else 'those events carry'}"
        )
    return f"sample {sample} is not shown as a bag needs it; certgen check says what is missing"
