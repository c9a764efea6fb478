"""Parent trees and their screening for transgenes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from certgen.lineage import Node
from certgen.records.columns import is_known
from certgen.rules.findings import Finding, Weight
from certgen.rules.registry import rule
from certgen.rules.samples.soundness import names_tree
from certgen.rules.wording import IN_A_LOT, capital, day, name

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.rules.case import Case

_TRACEABLE = ("us-nop:205.103(b)(2)", "us-nop:205.105(e)", "eu:2018/848 11")
_EXCLUDED = ("us-nop:205.105(e)", "us-nop:205.2 excluded methods", "eu:2018/848 11")


def _parents(case: Case, verdict: str) -> dict[str, int]:
    """By number the row of each tree with a verdict that bears bags, gives pollen or was picked."""
    trees = case.joined("trees")
    judged = trees.rows("tree", where=trees["verdict"] == verdict)
    found: dict[str, int] = {}
    for row, tree in judged:
        if tree in case.parents:
            found.setdefault(tree, row)
    return found


def _results(case: Case, tree: str) -> str:
    """The tree's samples and what they say, oldest first."""
    samples = case.joined("samples")
    rows = np.flatnonzero(samples["tree"] == tree)
    rows = rows[np.argsort(samples["collected"][rows], kind="stable")]
    columns = ("sample", "collected", "method", "result", "controls")
    told = []
    for sample, when, method, result, controls in zip(
        *(samples.values(column, rows) for column in columns), strict=True
    ):
        doubt = f", controls {controls}" if controls in {"failed", "not run"} else ""
        day_ = day(when) if when is not None else "an unknown day"
        told.append(f"sample {sample} of {day_} ({method}): {result or 'no result yet'}{doubt}")
    if tree in case.told_positive:
        told += _alarms(case, tree, set(samples["sample"][rows]))
    return "; ".join(told)


def _alarms(case: Case, tree: str, samples: set[str]) -> list[str]:
    """The incidents that call a tree positive, by its number or that of one of its samples or bags."""
    bags, incidents = case.columns("bagging"), case.columns("incidents")
    names = {tree, *samples, *bags["bag"][(bags["tree"] == tree) | (bags["pollen_parent"] == tree)]}
    alarming = incidents["kind"] == "positive screening"
    return [
        f"incident {incident}: positive"
        for _, incident, about in incidents.rows("incident", "about", where=alarming)
        if names & set(about)
    ]


def _tell(case: Case, verdict: str, message: str, supply: str | None = None) -> Iterator[Finding]:
    """A finding for each parent with the verdict; `{tree}` and `{results}` are filled in."""
    for tree, row in _parents(case, verdict).items():
        results = _results(case, tree) if "{results}" in message else ""
        told = message.replace("{results}", results).replace("{tree}", tree)
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
    bags, trees = case.joined("bags"), case.joined("trees")
    told = [("tree", bags, "on tree {tree}")]
    if bags.known("pollen_parent").any():
        fathers = trees.find("tree", bags["pollen_parent"])
        given = {one: trees.at(one, fathers) for one in ("verdict", "cleared", "clearing_sample")}
        told.append(("pollen_parent", bags.adding(**given), "that got the pollen of tree {tree}"))
    for column, bags, words in told:
        late = (bags["verdict"] == "clear") & ((bags["covered"] < bags["cleared"]) | bags.absent("cleared"))
        groups: dict[str, list[tuple[Any, ...]]] = {}
        for row, tree, *rest in bags.rows(column, "bag", "cleared", "clearing_sample", where=late):
            groups.setdefault(tree, []).append((row, *rest))
        for tree, group in sorted(groups.items()):
            numbers = [bag for _, bag, *_ in group]
            for row, bag, cleared, sample in group:
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
    samples = case.columns("screening")
    differs = samples.known("mark") & samples.known("tree") & (samples["mark"] != samples["tree"])
    if differs.any():
        differs &= ~names_tree(case, samples["mark"], samples["tree"])
    for row, sample, tree, mark in samples.rows("sample", "tree", "mark", where=differs):
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
    samples = case.joined("samples")
    marked = is_known(case.columns("screening").at("mark", samples["row"]))
    bare = ~samples["pooled"] & ~marked & samples.known("result")
    for _, row, sample, tree in samples.rows("row", "sample", "tree", where=bare):
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
