"""Parent trees and their screening for transgenes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from certgen.lineage import Node
from certgen.records.rows import indexed_rows, look_up, plain_rows
from certgen.rules.findings import Finding, Weight
from certgen.rules.registry import rule
from certgen.rules.samples.soundness import names_tree
from certgen.rules.wording import IN_A_LOT, capital, day, name

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pandas import DataFrame

    from certgen.rules.case import Case

_TRACEABLE = ("us-nop:205.103(b)(2)", "us-nop:205.105(e)", "eu:2018/848 11")
_EXCLUDED = ("us-nop:205.105(e)", "us-nop:205.2 excluded methods", "eu:2018/848 11")


def _parents(case: Case, verdict: str) -> DataFrame:
    """Trees with a verdict that bear bags, give pollen or were picked."""
    trees = case.trees
    chosen = trees[trees["verdict"] == verdict]
    chosen = chosen[chosen["tree"].isin(case.parents)]
    return chosen[~chosen["tree"].duplicated()]


def _results(case: Case, tree: str) -> str:
    """The tree's samples and what they say, oldest first."""
    samples = case.samples
    samples = samples[samples["tree"] == tree].sort_values("collected", kind="stable")
    told = []
    for sample, when, method, result, controls in plain_rows(
        samples, "sample", "collected", "method", "result", "controls"
    ):
        doubt = f", controls {controls}" if controls in {"failed", "not run"} else ""
        day_ = day(when) if when is not None else "an unknown day"
        told.append(f"sample {sample} of {day_} ({method}): {result or 'no result yet'}{doubt}")
    if tree in case.told_positive:
        told += _alarms(case, tree, set(samples["sample"]))
    return "; ".join(told)


def _alarms(case: Case, tree: str, samples: set[str]) -> list[str]:
    """The incidents that call a tree positive, by its number or that of one of its samples or bags."""
    bags = case.season.table("bagging")
    bags = bags[(bags["tree"] == tree) | (bags["pollen_parent"] == tree)]
    names = {tree, *samples, *bags["bag"]}
    incidents = case.season.table("incidents")
    incidents = incidents[incidents["kind"] == "positive screening"]
    return [
        f"incident {incident}: positive"
        for incident, about in plain_rows(incidents, "incident", "about")
        if names & set(about)
    ]


def _tell(case: Case, verdict: str, message: str, supply: str | None = None) -> Iterator[Finding]:
    """A finding for each parent with the verdict; `{tree}` and `{results}` are filled in."""
    for row, tree in indexed_rows(_parents(case, verdict), "tree"):
        told = message.replace("{results}", _results(case, tree)).replace("{tree}", tree)
        behind = case.stands_behind(Node("trees", tree))
        asked = None if supply is None else supply.replace("{tree}", tree)
        yield Finding("trees", tree, row, ("tree",), f"{told} {behind}".strip(), supply=asked)


@rule(
    weight="unproven",
    clauses=(*_TRACEABLE, "codex:genetic engineering", "canada:1.4"),
    remedy="Write the leaf sample and its result under `screening`. If the tree was never sampled, sample "
    "it now: a tree that still stands can still be tested.",
)
def parent_unscreened(case: Case) -> Iterator[Finding]:
    """A tree bore seed, and nothing says that it is free of transgenes.

    A tree that carries a transgene looks like any other. Where the seedlings came from doesn't
    settle it: planted seed, more than drifting pollen, has been the way that transgenes came onto farms.
    """
    yield from _tell(
        case,
        "unscreened",
        "Tree {tree} has no screening result.",
        supply="a screening result for tree {tree}",
    )


@rule(
    weight="rejects",
    clauses=(*_EXCLUDED, "us-nop:memo 11-13", "codex:genetic engineering", "canada:1.4"),
    remedy="Keep its seed out of every lot, and write an incident with what was done. If you doubt the "
    "result, have the tree tested again by another method that sees no less, and write that down.",
    packed=f"{capital(IN_A_LOT)} Write an incident with what was done. If you doubt the result, have the "
    "tree tested again by another method that sees no less, and write that down.",
)
def parent_positive(case: Case) -> Iterator[Finding]:
    """A tree behind seed was found to carry a transgene, and no later, stronger result explains it.

    Most of a carrier's selfed seed carries the transgene too. What
    becomes of it the certifier decides.
    """
    yield from _tell(case, "positive", "Tree {tree} tested positive ({results}).")


@rule(
    weight="unproven",
    clauses=_TRACEABLE,
    remedy="Enter the result when it comes; if it stays unclear or controls failed, sample the tree again.",
)
def parent_inconclusive(case: Case) -> Iterator[Finding]:
    """A tree behind seed was sampled, but no result that counts has come of it.

    A result is worth as much as its controls: where they failed, nobody knows whether a negative would
    have shown otherwise. A positive pool doesn't say which of its trees it was.
    """
    yield from _tell(
        case,
        "inconclusive",
        "Tree {tree} has no result that counts ({results}).",
        supply="a screening result for tree {tree}",
    )


@rule(
    weight="unproven",
    clauses=_TRACEABLE,
    remedy="Have the tree tested once more by another method that sees at least the same, and enter it.",
)
def parent_conflicting(case: Case) -> Iterator[Finding]:
    """One result says that a tree is free of transgenes and another that it isn't.

    Either a sample was mixed up or a test erred. The kinder result may not simply be believed.
    """
    yield from _tell(
        case,
        "conflicting",
        "The results for tree {tree} contradict each other ({results}).",
        supply="a confirming test for tree {tree} by another method",
    )


@rule(
    weight="unproven",
    clauses=("us-nop:205.103(b)(2)", "us-nop:205.201(a)(3)"),
    remedy="If an earlier sample was taken, enter it. If not, explain why the flowers were covered first.",
)
def screened_after_covering(case: Case) -> Iterator[Finding]:
    """Flowers were covered before their tree was cleared.

    The tree is clean, but the records don't show that only cleared trees were worked on. An inspector
    will ask what became of trees that were bagged and then tested positive. It goes for the tree that gave
    the pollen as for the one that bore the seed, and for each event that is to be ruled out.
    """
    bags = case.bags
    trees = case.tree_of
    given = look_up(bags["pollen_parent"], trees["cleared"])
    told = (
        ("tree", bags["tree"], bags["cleared"], bags["clearing_sample"], "on tree {tree}"),
        (
            "pollen_parent",
            bags["pollen_parent"],
            given,
            look_up(bags["pollen_parent"], trees["clearing_sample"]),
            "that got the pollen of tree {tree}",
        ),
    )
    for column, tree_, cleared_, sample_, words in told:
        judged = look_up(tree_, trees["verdict"])
        late = bags.assign(parent=tree_, cleared=cleared_, clearing_sample=sample_)
        late = late[(judged == "clear") & ((bags["covered"] < cleared_) | cleared_.isna())]
        for tree, group in late.groupby("parent"):
            numbers = group["bag"].tolist()
            for row, bag, cleared, sample in indexed_rows(group, "bag", "cleared", "clearing_sample"):
                when = f"on {day(cleared)}" if cleared is not None else "on a day that nothing tells"
                yield Finding(
                    "bagging",
                    bag,
                    row,
                    ("covered",),
                    f"{capital(name('bagging', numbers))} {words.format(tree=tree)} "
                    f"{'was' if len(numbers) == 1 else 'were'} put on before sample {sample}, "
                    f"which clears the tree, was taken {when}.",
                    cause=(column, tree),
                    supply=f"an earlier screening result for tree {tree}",
                )


@rule(
    weight="unproven",
    clauses=("us-nop:205.103(b)(2)",),
    remedy="Find out which tree the leaf came from and correct the record. If nobody can tell, sample again.",
)
def sample_mark_differs(case: Case) -> Iterator[Finding]:
    """The mark pressed into the leaf stalk is not the number of the tree that the sample is entered for.

    The mark is what keeps a leaf's identity when bags are mixed up. Where it disagrees, the result may
    belong to another tree.
    """
    frame = case.season.table("screening")
    differs = frame["mark"].notna() & frame["tree"].notna() & ~names_tree(case, frame["mark"], frame["tree"])
    for row, sample, tree, mark in indexed_rows(frame[differs], "sample", "tree", "mark"):
        # Where other samples clear the tree, no lot rests on this one.
        weight: Weight | None = None if row in case.needed_samples else "advice"
        yield Finding(
            "screening",
            sample,
            row,
            ("mark",),
            f"Sample {sample} is entered for tree {tree}, but its leaf stalk is marked {mark}.",
            weight=weight,
            supply=f"the right tree for sample {sample}",
        )


@rule(
    weight="unproven",
    clauses=("us-nop:205.103(b)(2)",),
    remedy="Write under `mark` what was pressed into the leaf's stalk, or in the sampling round that "
    "each leaf was marked (`marked: yes`). If it bore no mark, sample the tree again.",
    after=("sample-mark-differs",),
)
def sample_unmarked(case: Case) -> Iterator[Finding]:
    """Nothing says that the leaf bore its tree's number.

    A leaf in a bag of leaves belongs to the tree whose number is on its stalk. Without a mark the result
    belongs to whichever tree one likes.
    """
    samples = case.samples
    frame = case.season.table("screening")
    bare = ~samples["pooled"] & look_up(samples["row"], frame["mark"]).isna() & samples["result"].notna()
    for row, sample, tree in plain_rows(samples[bare], "row", "sample", "tree"):
        weight: Weight | None = None if row in case.needed_samples else "advice"
        yield Finding(
            "screening",
            sample,
            row,
            ("mark",),
            f"Nothing says what number stood on the leaf of sample {sample}, entered for tree {tree}.",
            weight=weight,
            supply=f"the mark on the leaf of sample {sample}",
        )
