"""What the tests on a tree can see, and what followed when they saw something."""

from __future__ import annotations

from itertools import compress
from typing import TYPE_CHECKING

from certgen.lineage import Node
from certgen.records.rows import indexed_rows, is_absent, look_up, plain_value
from certgen.rules.clauses import EXCLUDED, RECORDS
from certgen.rules.findings import Finding, Weight
from certgen.rules.registry import rule
from certgen.rules.wording import day, join, name, noun

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import date

    from pandas import DataFrame

    from certgen.rules.case import Case


def _seen_by(case: Case, samples: DataFrame) -> dict[str, set[str]]:
    """For each event the trees on which some sample could have seen it."""
    kinds = (
        samples["method"].fillna("") + "\n" + samples["targets"].map(_spell, na_action="ignore").fillna("")
    )
    seen: dict[str, set[str]] = {event: set() for event in case.events_of_concern}
    for kind in kinds.unique().tolist():
        method, _, targets = kind.partition("\n")
        known = case.profile.methods.get(method)
        sees = known.sees(targets.split("\n") if targets else ()) if known is not None else frozenset()
        trees = set(samples["tree"][kinds == kind])
        for event in sees & seen.keys():
            seen[event] |= trees
    return seen


def _spell(targets: tuple[str, ...]) -> str:
    return "\n".join(targets)


@rule(
    weight="unproven",
    clauses=EXCLUDED,
    remedy="Have the trees tested for an element that the event carries, and enter the targets. Only where "
    "you can show that the event can't have come to your district, list those that can have under "
    "`events_of_concern` in the `season` mapping: write the grounds under `note` there, who says so and "
    "since when, and name the paper under `evidence`. An inspector asks for them, and what the shorter list "
    "spares is told.",
)
def method_does_not_cover(case: Case) -> Iterator[Finding]:
    """No test on a tree could have seen one of the transgenic events that are to be ruled out.

    A test sees only what it looks for. A stain for a marker can't find an event without that marker, and
    a DNA test finds no event that carries none of its targets. Such a negative is silent, not clean.
    """
    import pandas as pd

    trees = case.tree_of
    trees = trees[(trees["verdict"] == "clear") & trees["tree"].isin(case.parents)]
    samples = case.samples[case.samples["outcome"] == "negative"]
    if trees.empty:
        return
    unseen = pd.DataFrame(
        {event: ~trees["tree"].isin(seen) for event, seen in _seen_by(case, samples).items()}
    )
    blind = unseen.assign(sample=trees["clearing_sample"])[unseen.any(axis="columns")]
    patterns: dict[tuple[str, ...], list[tuple[str, str]]] = {}
    for tree, sample, *missing in indexed_rows(blind, "sample", *unseen.columns):
        patterns.setdefault(tuple(compress(unseen.columns, missing)), []).append((tree, sample))
    rows_of = case.keyed("screening")["row_of"]
    for events, cleared in patterns.items():
        numbers = [tree for tree, _ in cleared]
        title = f"{noun('event', len(events))} {join(events)}"
        for tree, sample in cleared:
            yield Finding(
                "screening",
                sample,
                int(rows_of[sample]),
                ("method",),
                f"No test on {name('trees', numbers)} could have found {title}.",
                cause=events,
                reaches=(Node("trees", tree),),
                supply=f"a test for {title} of {name('trees', numbers)}",
            )


@rule(
    weight="unproven",
    clauses=(*EXCLUDED, *RECORDS),
    remedy="Sample each tree of the pool by itself, and enter the results.",
    after=("parent-inconclusive",),
)
def pool_unresolved(case: Case) -> Iterator[Finding]:
    """A pool of leaves tested positive, and some of its trees were not tested singly afterwards.

    At least one tree of the pool carries the transgene. An older clean result of one of them is in doubt
    until it is repeated.
    """
    samples = case.samples
    pools = samples[
        samples["pooled"]
        & (samples["result"] == "positive")
        & ~samples["controls"].isin(["failed", "not run"])
    ]
    singles = samples[~samples["pooled"] & samples["outcome"].isin(["negative", "positive"])]
    last = singles.groupby("tree")["collected"].max()
    pools = pools.assign(
        last=look_up(pools["tree"], last), verdict=look_up(pools["tree"], case.verdicts["verdict"])
    )
    # A parent without any result of its own is told already, under its own number.
    open_ = pools[~(pools["last"] >= pools["collected"]) & (pools["verdict"] != "inconclusive")]
    for _, group in open_.groupby("row"):
        trees = group["tree"].tolist()
        _, row, sample = next(indexed_rows(group, "row", "sample"))
        yield Finding(
            "screening",
            sample,
            row,
            ("result",),
            f"The pooled sample {sample} tested positive, and {name('trees', trees)} in it "
            f"{'was' if len(trees) == 1 else 'were'} not tested singly since.",
            reaches=tuple(Node("trees", tree) for tree in trees),
            supply=f"a result of its own for {name('trees', trees)}",
        )


@rule(
    weight="advice",
    clauses=(*EXCLUDED, "us-nop:memo 11-13", "eu:2018/848 27"),
    remedy="Write the day of removal at the tree, or an incident that names the tree and says what was done. "
    "Confirm a positive by another kind of test before felling.",
)
def positive_left_standing(case: Case) -> Iterator[Finding]:
    """A tree tested positive, and nothing says that it was removed or what else was done.

    While it stands its pollen flies. Fruit of its neighbours that no bag covered may have been set by it.
    """
    import pandas as pd

    trees = case.trees
    positive = trees[(trees["verdict"] == "positive") & trees["removed"].isna() & ~trees["tree"].duplicated()]
    if positive.empty:
        return
    incidents = case.season.exploded("incidents", "about")
    frame = case.season.table("incidents")
    acted, told = frame["action"].notna(), frame["date"][frame["kind"] == "positive screening"].min()
    handled = set(incidents["value"][look_up(incidents["row"], acted)])
    samples = case.samples[case.samples["outcome"] == "positive"]
    loose = _unbagged_behind_lots(case)
    for row, tree, block in indexed_rows(positive, "tree", "block"):
        found = samples[samples["tree"] == tree]
        if tree in handled or handled & set(found["sample"]):
            continue
        # What only an incident calls positive has no sample of its own. No day known: at any time.
        first = told if found.empty else found["collected"].min()
        since = pd.Timestamp.min if is_absent(first) else first
        near = loose[(loose["tree"] != tree) & (loose["block"] == block) & (loose["date"] >= since)]
        picked = list(dict.fromkeys(near["harvest"].tolist()))
        if not picked and tree in case.parents:
            # Seed was taken of the tree itself: that is told under `parent-positive`, with the same remedy.
            continue
        weight: Weight = "rejects" if picked else "advice"
        said = _say_positive(plain_value(first), sampled=not found.empty)
        threat = (
            f" Fruit without a bag was picked near it since: {name('harvests', picked)}." if picked else ""
        )
        yield Finding(
            "trees",
            tree,
            row,
            ("removed",),
            f"Tree {tree} {said}, and nothing says that it was removed or what else was done.{threat}",
            weight=weight,
            reaches=tuple(Node("harvests", harvest) for harvest in picked),
        )


def _unbagged_behind_lots(case: Case) -> DataFrame:
    """What was picked without a bag and stands behind a lot."""
    harvests = case.season.table("harvests")["harvest"]
    reaching = set(harvests[case.behind("harvests")])
    return case.picked[case.picked["loose"] & case.picked["harvest"].isin(reaching)]


def _say_positive(first: date | None, *, sampled: bool) -> str:
    """`tested positive on a sample of 3 March 2026`; an incident calls a tree so without one."""
    said = "tested positive" if sampled else "is called positive"
    if first is None:
        return said
    return f"{said} on a sample of {day(first)}" if sampled else f"{said} on {day(first)}"
