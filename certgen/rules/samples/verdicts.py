"""What a tree's samples say of it, taken together, of all years.

A result counts when its controls passed, or when nothing is written about controls; a result whose
controls failed or weren't run is inconclusive, as is a negative of a pool larger than its method bears or of
a stain far outside its protocol. A negative pool clears each of its trees, unless it holds a tree that is
known to carry; a positive pool leaves each of them inconclusive, for it doesn't say which. A result settles
one that contradicts it if it is later, of the tree alone, by another method, no less sensitive, and sees at
least the same events.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from certgen.records.rows import look_up, plain_rows

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from pandas import DataFrame, Series

    from certgen.rules.case import Case
    from certgen.standards import Profile

VERDICTS: Final = ("clear", "positive", "inconclusive", "conflicting", "unscreened")
_COLUMNS: Final = ("collected", "method", "targets", "result", "controls", "incubation_s", "temperature_c")
_VOID: Final = ("failed", "not run")


def list_samples(case: Case) -> DataFrame:
    """One row a sample and tree: the outcome that counts, and why a result doesn't (`doubt`).

    `doubt` is empty, or one of `controls`, `pool` (too large), `protocol` (of a stain), `carrier` (a
    negative pool that holds a tree known to carry).
    """
    import pandas as pd

    frame = case.season.table("screening")
    single = frame.loc[frame["tree"].notna(), ["sample", "tree"]]
    single = single.assign(row=single.index, leaves=1)
    pool = case.season.exploded("screening", "trees").rename(columns={"id": "sample", "value": "tree"})
    pool = pool.assign(leaves=pool.groupby("row")["row"].transform("size"), tree=pool["tree"].astype("str"))
    both = pd.concat([single, pool[["sample", "tree", "row", "leaves"]]], ignore_index=True)
    both = both.assign(**{column: look_up(both["row"], frame[column]) for column in _COLUMNS})
    # A pool of one tree is a sample of that tree.
    both = both.assign(pooled=both["leaves"] > 1, leaves=both["leaves"].astype("int64"))
    doubt = pd.Series("", index=both.index, dtype="str")
    doubt = doubt.mask(_outside_protocol(both, case), "protocol").mask(_too_large(both, case), "pool")
    doubt = doubt.mask(both["controls"].isin(_VOID), "controls")
    outcome = both["result"].astype("str").fillna("pending")
    given = both["result"].notna()
    # A stain that went wrong may be pale for that; what it shows blue is blue.
    spoilt = (doubt == "controls") | (doubt.isin(["protocol", "pool"]) & (outcome == "negative"))
    unsure = both["pooled"] & (outcome == "positive")
    both = both.assign(outcome=outcome.mask((given & spoilt) | unsure, "inconclusive"), doubt=doubt)
    return _doubt_pools_with_carriers(both)


def _outside_protocol(samples: DataFrame, case: Case) -> Series[bool]:
    """Stains that stood far too short, too long, too cold or too warm to show anything."""
    wrong = samples["row"].isna()
    for key, values in (
        ("incubation_h", samples["incubation_s"] / 3600),
        ("incubation_c", samples["temperature_c"]),
    ):
        practice = case.profile.practice.get(key)
        if practice is not None:
            low, high = practice.limits
            wrong |= (values < low) | (values > high)
    return wrong.astype(bool)


def _too_large(samples: DataFrame, case: Case) -> Series[bool]:
    """Pools of more leaves than their method bears, as the crop's profile has it."""
    wrong = samples["row"].isna()
    for method in case.profile.methods:
        most = case.practice(f"pool_leaves_{method}")
        if most is not None and most.high is not None:
            wrong |= (samples["method"] == method) & (samples["leaves"] > most.high)
    return wrong.astype(bool)


def _doubt_pools_with_carriers(samples: DataFrame) -> DataFrame:
    """A negative pool that holds a tree whose own sample is positive missed what it was to find."""
    carriers = set(samples["tree"][~samples["pooled"] & (samples["outcome"] == "positive")])
    missed = samples["pooled"] & (samples["outcome"] == "negative") & samples["tree"].isin(carriers)
    void = samples["row"].isin(samples["row"][missed]) & samples["pooled"]
    return samples.assign(
        outcome=samples["outcome"].mask(void, "inconclusive"), doubt=samples["doubt"].mask(void, "carrier")
    )


def judge_trees(
    samples: DataFrame,
    trees: Series[Any],
    profile: Profile,
    events: Sequence[str] = (),
    told_positive: Sequence[str] = (),
) -> DataFrame:
    """`verdict`, `cleared` (day) and `clearing_sample` of each tree, by tree number.

    A tree is cleared on the day on which the last sample was taken that it takes to see all `events`;
    where some can't be seen, on the day of the first. `told_positive` are trees that an incident calls
    positive, whatever their samples say.
    """
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
    cleared, sample = _find_clearing(samples, index, profile, events)
    contradicted = index[(counts["negative"] > 0) & (counts["positive"] > 0)]
    for tree in contradicted.tolist():
        settled, when, by = _settle(samples[samples["tree"] == tree], profile)
        verdict[tree] = settled
        cleared[tree] = pd.Timestamp(when) if when else pd.NaT
        sample[tree] = by
    doubted = pd.Index(_doubted_by_pools(samples, profile)).intersection(index)
    verdict[doubted] = verdict[doubted].mask(verdict[doubted] == "clear", "conflicting")
    # An incident that no positive sample stands behind speaks against a tree all the same.
    told = index[index.isin(list(told_positive)) & (counts["positive"] == 0)]
    verdict[told] = (
        verdict[told]
        .where(counts["negative"][told] == 0, "conflicting")
        .where(counts["negative"][told] > 0, "positive")
    )
    clear = verdict == "clear"
    return pd.DataFrame(
        {"verdict": verdict, "cleared": cleared.where(clear), "clearing_sample": sample.where(clear)}
    )


def _find_clearing(
    samples: DataFrame, index: Any, profile: Profile, events: Sequence[str]
) -> tuple[Series[Any], Series[Any]]:
    """By tree the day and the sample that complete the search for the events."""
    negative = samples[samples["outcome"] == "negative"].sort_values("collected", kind="stable")
    first = negative[~negative["tree"].duplicated()].set_index("tree")
    cleared, sample = first["collected"].reindex(index), first["sample"].reindex(index)
    for seen in _able(samples, profile, events).values():
        able = seen[~seen["tree"].duplicated()].set_index("tree")
        day, by = able["collected"].reindex(index), able["sample"].reindex(index)
        later = (day > cleared).fillna(value=False)
        cleared, sample = cleared.mask(later, day), sample.mask(later, by)
    return cleared, sample


def find_clearing(
    samples: DataFrame, trees: Sequence[str], profile: Profile, events: Sequence[str]
) -> Series[Any]:
    """By tree the day on which samples, all of them good, have seen every event; missing where one is
    left."""
    import pandas as pd

    index = pd.Index(list(trees), name="tree", dtype="str")
    cleared, _ = _find_clearing(samples, index, profile, events)
    for able in _able(samples, profile, events).values():
        cleared = cleared.where(index.isin(able["tree"]))
    return cleared


def _able(samples: DataFrame, profile: Profile, events: Sequence[str]) -> dict[str, DataFrame]:
    """For each event the negative samples that could have seen it, oldest first."""
    import numpy as np

    negative = samples[samples["outcome"] == "negative"].sort_values("collected", kind="stable")
    kinds = negative["method"].fillna("") + "\n" + negative["targets"].map("\n".join)
    sees = {kind: _sees(profile, *_split(kind)) for kind in kinds.unique().tolist()}
    return {
        event: negative[np.array([event in sees[kind] for kind in kinds.tolist()], dtype=bool)]
        for event in events
    }


def _split(kind: str) -> tuple[str, list[str]]:
    method, _, targets = kind.partition("\n")
    return method, targets.split("\n") if targets else []


def _doubted_by_pools(samples: DataFrame, profile: Profile) -> list[str]:
    """Trees of a positive pool in which no tree was found, and whose own tests can't make up for that."""
    pools = samples[samples["pooled"] & (samples["result"] == "positive") & ~samples["controls"].isin(_VOID)]
    if pools.empty:
        return []
    singles = samples[~samples["pooled"]]
    carriers = set(singles["tree"][singles["outcome"] == "positive"])
    clean = singles[singles["outcome"] == "negative"]
    doubted: list[str] = []
    for _, pool in pools.groupby("row"):
        trees = pool["tree"].tolist()
        own = clean[clean["tree"].isin(trees)]
        # A tree of the pool that was found to be the one, or has no result of its own and may be.
        explained = carriers & set(trees) or set(trees) - set(own["tree"])
        if not explained and set(trees) - _outdone(pool, own, profile):
            doubted += trees
    return doubted


def _outdone(pool: DataFrame, own: DataFrame, profile: Profile) -> set[str]:
    """The trees whose own sample is younger than the pool, and sees at least as much at least as well."""
    method, targets, pooled = next(plain_rows(pool, "method", "targets", "collected"))
    wanted, strength = _sees(profile, method, targets or ()), _sensitivity(profile, method)
    return {
        tree
        for tree, by, found, cut in plain_rows(own, "tree", "method", "targets", "collected")
        if cut is not None and pooled is not None and cut > pooled
        and _sees(profile, by, found or ()) >= wanted and _sensitivity(profile, by) >= strength
    }  # fmt: skip


def _settle(samples: DataFrame, profile: Profile) -> tuple[str, date | None, str | None]:
    """The verdict on one tree whose results contradict one another, and what clears it."""
    negatives = _list_results(samples[samples["outcome"] == "negative"], profile)
    positives = _list_results(samples[samples["outcome"] == "positive"], profile)
    settling = [one for one in negatives if all(one.settles(other) for other in positives)]
    if settling:
        first = min(settling, key=lambda one: one.day)
        return "clear", first.collected, first.sample
    unsettled = [one for one in positives if not any(other.settles(one) for other in negatives)]
    if any(all(one.outweighs(other) for other in negatives) for one in unsettled):
        return "positive", None, None
    return "conflicting", None, None


def _list_results(samples: DataFrame, profile: Profile) -> list[_Result]:
    return [
        _Result(
            collected, method, _sees(profile, method, targets or ()), _sensitivity(profile, method),
            pooled, sample,
        )
        for collected, method, targets, pooled, sample in plain_rows(
            samples, "collected", "method", "targets", "pooled", "sample"
        )
    ]  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Result:
    collected: date | None
    method: str | None
    sees: frozenset[str]
    sensitivity: float
    pooled: bool
    sample: str

    @property
    def day(self) -> str:
        return "" if self.collected is None else self.collected.isoformat()

    def settles(self, other: _Result) -> bool:
        """Whether it confirms or overturns the other: later, alone, otherwise, seeing no less."""
        return (
            bool(other.day)
            and self.day > other.day
            and not self.pooled
            and self.method != other.method
            and self.sees >= other.sees
            and self.sensitivity >= other.sensitivity
        )

    def outweighs(self, other: _Result) -> bool:
        """Whether the other can't cast doubt on it: it settles the other, or the other sees less."""
        return self.settles(other) or (self.method != other.method and self.sees > other.sees)


def _sees(profile: Profile, method: str | None, targets: Sequence[str]) -> frozenset[str]:
    known = profile.methods.get(method or "")
    return known.sees(targets) if known is not None else frozenset()


def _sensitivity(profile: Profile, method: str | None) -> float:
    known = profile.methods.get(method or "")
    return known.sensitivity if known is not None else 0.0


def list_called_positive(case: Case) -> tuple[str, ...]:
    """The trees that an incident calls positive, by their number or that of a sample or bag."""
    incidents = case.season.table("incidents")
    about = case.season.exploded("incidents", "about")
    named = set(about["value"][look_up(about["row"], incidents["kind"]) == "positive screening"])
    samples = case.samples
    trees = case.season.table("trees")["tree"]
    bags = case.season.table("bagging")
    bags = bags[bags["bag"].isin(named)]
    found = [
        *trees[trees.isin(named)],
        # Of a pool that its own record calls positive the samples of its trees tell more.
        *samples["tree"][
            samples["sample"].isin(named) & ~(samples["pooled"] & (samples["result"] == "positive"))
        ],
        *bags["tree"].dropna(),
        *bags["pollen_parent"].dropna(),
    ]
    return tuple(dict.fromkeys(found))
