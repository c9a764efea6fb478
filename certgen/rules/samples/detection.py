"""What the tests on a tree can see, and what followed when they saw something."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from certgen.lineage import Node
from certgen.records.columns import group_rows, is_in, repeats
from certgen.rules.clauses import EXCLUDED, RECORDS
from certgen.rules.findings import Finding, Weight
from certgen.rules.registry import rule
from certgen.rules.wording import day, join, name, noun

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import date

    from certgen.records.columns import Array, Columns
    from certgen.rules.case import Case


def _seen_by(case: Case) -> dict[str, set[str]]:
    """For each event the trees on which some negative sample could have seen it."""
    samples = case.joined("samples")
    kinds: dict[tuple[str | None, tuple[str, ...]], set[str]] = {}
    for _, method, targets, tree in samples.rows(
        "method", "targets", "tree", where=samples["outcome"] == "negative"
    ):
        kinds.setdefault((method, targets or ()), set()).add(tree)
    seen: dict[str, set[str]] = {event: set() for event in case.events_of_concern}
    for (method, targets), trees in kinds.items():
        known = case.profile.methods.get(method or "")
        for event in seen.keys() & (known.sees(targets) if known is not None else ()):
            seen[event] |= trees
    return seen


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
    trees, seen = case.joined("trees"), _seen_by(case)
    clear = (trees["verdict"] == "clear") & is_in(trees["tree"], case.parents) & ~repeats(trees["tree"])
    patterns: dict[tuple[str, ...], list[tuple[str, str]]] = {}
    for _, tree, sample in trees.rows("tree", "clearing_sample", where=clear):
        if missing := tuple(event for event, by in seen.items() if tree not in by):
            patterns.setdefault(missing, []).append((tree, sample))
    row_of = case.columns("screening").first("sample")
    for events, cleared in patterns.items():
        numbers = [tree for tree, _ in cleared]
        title = f"{noun('event', len(events))} {join(events)}"
        for tree, sample in cleared:
            yield Finding(
                "screening",
                sample,
                row_of[sample],
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
    samples = case.joined("samples")
    open_ = samples["pooled"] & (samples["result"] == "positive")
    if not open_.any():
        return
    # A parent without any result of its own is told already, under its own number.
    verdict = case.joined("trees").look_up("tree", samples["tree"], "verdict")
    open_ &= ~is_in(samples["controls"], ("failed", "not run")) & (verdict != "inconclusive")
    open_ &= ~_tested_singly_since(samples)
    for row, pool in sorted(group_rows(samples["row"], open_).items()):
        sample, trees = samples["sample"][pool[0]], samples["tree"][pool].tolist()
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


def _tested_singly_since(samples: Columns) -> Array:
    """Which samples are followed, or joined on their day, by a result of the tree's own."""
    single = ~samples["pooled"] & is_in(samples["outcome"], ("negative", "positive"))
    last: dict[str, date] = {}
    for _, tree, cut in samples.rows("tree", "collected", where=single):
        if cut is not None:
            last[tree] = max(cut, last.get(tree, cut))
    days = np.array([last.get(tree) for tree in samples["tree"].tolist()], dtype="datetime64[s]")
    since: Array = days >= samples["collected"]
    return since


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
    trees = case.joined("trees")
    standing = (trees["verdict"] == "positive") & trees.absent("removed") & ~repeats(trees["tree"])
    if not standing.any():
        return
    incidents, samples, handled = case.columns("incidents"), case.joined("samples"), _handled(case)
    told = incidents.values("date", np.flatnonzero(incidents["kind"] == "positive screening"))
    positive = group_rows(samples["tree"], samples["outcome"] == "positive")
    loose = _unbagged_behind_lots(case)
    for row, tree, block in trees.rows("tree", "block", where=standing):
        found = samples.where(np.array(positive.get(tree, ()), dtype="int64"), "sample", "collected")
        if tree in handled or handled & set(found["sample"]):
            continue
        # What only an incident calls positive has no sample of its own. No day known: at any time.
        days = found.values("collected") if len(found) else told
        first = min(filter(None, days), default=None)
        picked = _picked_near(loose, tree, block, first)
        if not picked and tree in case.parents:
            # Seed was taken of the tree itself: that is told under `parent-positive`, with the same remedy.
            continue
        weight: Weight = "rejects" if picked else "advice"
        said = _say_positive(first, sampled=len(found) > 0)
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


def _handled(case: Case) -> set[str]:
    """What is named by incidents in which something was done."""
    incidents = case.columns("incidents")
    acted = incidents.rows("about", where=incidents.known("action"))
    return {one for _, about in acted for one in about}


def _picked_near(loose: Columns, tree: str, block: str | None, since: date | None) -> list[str]:
    """The pickings of other trees of a tree's block since a day, or at any time."""
    near = (loose["tree"] != tree) & (loose["block"] == block) & loose.known("block")
    if since is not None:
        near &= loose["date"] >= np.datetime64(since)
    return list(dict.fromkeys(loose["harvest"][near].tolist()))


def _unbagged_behind_lots(case: Case) -> Columns:
    """What was picked without a bag and stands behind a lot: `harvest`, `date`, `tree`, `block`."""
    picked = case.joined("picked")
    reaching = set(case.columns("harvests")["harvest"][case.behind("harvests")].tolist())
    chosen = picked["loose"] & is_in(picked["harvest"], reaching)
    return picked.where(chosen, "harvest", "date", "tree", "block")


def _say_positive(first: date | None, *, sampled: bool) -> str:
    """`tested positive on a sample of 3 March 2026`; an incident calls a tree so without one."""
    said = "tested positive" if sampled else "is called positive"
    if first is None:
        return said
    return f"{said} on a sample of {day(first)}" if sampled else f"{said} on {day(first)}"
