"""What a tree's samples say of it, taken together.

A result counts when its controls passed, or when nothing is written about controls; a result whose
controls failed or weren't run is inconclusive. A negative pool clears each of its trees; a positive
pool leaves each of them inconclusive, for it doesn't say which. A result settles one that contradicts
it if it is later, by another method, and sees at least the same events.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from certgen.rules.selection import look_up, rows

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from pandas import DataFrame, Series

    from certgen.records import Season
    from certgen.standards import Profile

VERDICTS: Final = ("clear", "positive", "inconclusive", "conflicting", "unscreened")
_COLUMNS: Final = ("collected", "method", "targets", "result", "controls")


def list_samples(season: Season) -> DataFrame:
    """One row a sample and tree, with the outcome that counts."""
    import pandas as pd

    frame = season.table("screening")
    single = frame.loc[frame["tree"].notna(), ["sample", "tree"]]
    single = single.assign(row=single.index, pooled=False)
    pool = season.exploded("screening", "trees").rename(columns={"id": "sample", "value": "tree"})
    # A pool of one tree is a sample of that tree.
    pool = pool.assign(
        pooled=pool.groupby("row")["row"].transform("size") > 1, tree=pool["tree"].astype("str")
    )
    both = pd.concat([single, pool[["sample", "tree", "row", "pooled"]]], ignore_index=True)
    both = both.assign(**{column: look_up(both["row"], frame[column]) for column in _COLUMNS})
    outcome = both["result"].astype("str").fillna("pending")
    void = both["controls"].isin(["failed", "not run"]) & both["result"].notna()
    unsure = both["pooled"].astype(bool) & (outcome == "positive")
    return both.assign(
        outcome=outcome.mask(void | unsure, "inconclusive"), pooled=both["pooled"].astype(bool)
    )


def judge_trees(samples: DataFrame, trees: Series[Any], profile: Profile) -> DataFrame:
    """`verdict`, `cleared` (day) and `clearing_sample` of each tree, by tree number."""
    import pandas as pd

    index = pd.Index(trees.dropna().unique(), name="tree", dtype="str")
    counts = {
        outcome: samples.loc[samples["outcome"] == outcome, "tree"]
        .value_counts()
        .reindex(index, fill_value=0)
        for outcome in ("negative", "positive", "inconclusive", "pending")
    }
    verdict = pd.Series("unscreened", index=index, dtype="str")
    verdict = verdict.mask((counts["inconclusive"] + counts["pending"]) > 0, "inconclusive")
    verdict = verdict.mask(counts["negative"] > 0, "clear").mask(counts["positive"] > 0, "positive")
    negative = samples[samples["outcome"] == "negative"].sort_values("collected", kind="stable")
    first = negative[~negative["tree"].duplicated()].set_index("tree")
    cleared = first["collected"].reindex(index)
    sample = first["sample"].reindex(index)
    contradicted = index[(counts["negative"] > 0) & (counts["positive"] > 0)]
    for tree in contradicted.tolist():
        settled, when, by = _settle(samples[samples["tree"] == tree], profile)
        verdict[tree] = settled
        cleared[tree] = pd.Timestamp(when) if when else pd.NaT
        sample[tree] = by
    clear = verdict == "clear"
    return pd.DataFrame(
        {"verdict": verdict, "cleared": cleared.where(clear), "clearing_sample": sample.where(clear)}
    )


def _settle(samples: DataFrame, profile: Profile) -> tuple[str, date | None, str | None]:
    """The verdict on one tree whose results contradict one another, and what clears it."""
    results = [
        _Result(outcome, collected, method, _sees(profile, method, targets or ()), sample)
        for _, outcome, collected, method, targets, sample in rows(
            samples, "outcome", "collected", "method", "targets", "sample"
        )
    ]
    negatives = [one for one in results if one.outcome == "negative"]
    positives = [one for one in results if one.outcome == "positive"]
    settling = [one for one in negatives if all(one.settles(other) for other in positives)]
    if settling:
        first = min(settling, key=lambda one: one.collected)
        return "clear", first.collected, first.sample
    open_ = [one for one in positives if not any(other.settles(one) for other in negatives)]
    if any(all(one.outweighs(other) for other in negatives) for one in open_):
        return "positive", None, None
    return "conflicting", None, None


@dataclass(frozen=True, slots=True)
class _Result:
    outcome: str
    collected: date
    method: str
    sees: frozenset[str]
    sample: str

    def settles(self, other: _Result) -> bool:
        """Whether it confirms or overturns the other: later, by another method, seeing no less."""
        return self.collected > other.collected and self.method != other.method and self.sees >= other.sees

    def outweighs(self, other: _Result) -> bool:
        """Whether the other can't cast doubt on it: it settles the other, or the other sees less."""
        return self.settles(other) or (self.method != other.method and self.sees > other.sees)


def _sees(profile: Profile, method: str, targets: Sequence[str]) -> frozenset[str]:
    known = profile.methods.get(method)
    return known.sees(targets) if known is not None else frozenset()
