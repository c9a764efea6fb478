"""Bags over flower buds: that each can be told apart, and that it kept foreign pollen out."""

from __future__ import annotations

from itertools import compress
from math import inf
from typing import TYPE_CHECKING

from certgen.rules.findings import Finding
from certgen.rules.registry import rule
from certgen.rules.selection import rows
from certgen.rules.wording import day, join

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.rules.case import Case

_KEPT_APART = ("us-nop:205.201(a)(5)", "us-nop:205.272", "eu:2018/848 11")
#: What a tag must say, and what its columns are called.
_TAG = {"tag.date": "date", "tag.variety": "variety", "tag.tree": "tree"}


@rule(
    weight="unproven",
    clauses=("us-nop:205.103(b)(2)", "us-nop:205.201(a)(5)"),
    remedy="Write what the tag on the bag says: its date, variety and tree. If there was no tag, say in a "
    "note what else tells this fruit apart, and keep the evidence.",
)
def bag_untagged(case: Case) -> Iterator[Finding]:
    """A bag bears no whole tag, so nothing ties the fruit under it to the log.

    The tag goes with the fruit from the tree to the packing shed. Without date, variety and tree on it,
    one fruit is as good as another.
    """
    bags = case.season.table("bagging")
    missing = bags[list(_TAG)].isna()
    chosen = bags[missing.any(axis="columns")]
    for row, bag, tree, *tag in rows(chosen, "bag", "tree", *_TAG):
        absent = list(compress(_TAG.values(), (value is None for value in tag)))
        bare = len(absent) == len(_TAG)
        yield Finding(
            "bagging",
            bag,
            row,
            ("tag",),
            f"Bag {bag} on tree {tree} has no tag."
            if bare
            else f"The tag of bag {bag} on tree {tree} doesn't say its {join(absent, 'or')}.",
            supply=f"the tag of bag {bag}",
        )


@rule(
    weight="unproven",
    clauses=("us-nop:205.103(b)(2)", "us-nop:205.103(b)(5)"),
    remedy="Look at the tag, a photo of it or the field book, and correct whichever is wrong.",
    after=("bag-untagged", "reference-unknown"),
)
def bag_tag_differs(case: Case) -> Iterator[Finding]:
    """A bag's tag says something else than the log or the tree register.

    One of the two is wrong, and the fruit went by the tag.
    """
    bags = case.bags
    said = case.spell(bags["tag.variety"])
    chosen = bags.assign(
        other_tree=(bags["tag.tree"] != bags["tree"]) & bags["tag.tree"].notna(),
        other_date=bags["tag.date"].notna() & (bags["tag.date"] != bags["covered"]),
        other_variety=(said != bags["variety"]) & said.notna() & bags["variety"].notna(),
    )
    chosen = chosen[chosen["other_tree"] | chosen["other_date"] | chosen["other_variety"]]
    for row, bag, tree, covered, variety, date_, variety_, tree_, by_tree, by_date, by_variety in rows(
        chosen, "bag", "tree", "covered", "variety", "tag.date", "tag.variety", "tag.tree",
        "other_tree", "other_date", "other_variety",
    ):  # fmt: skip
        told = []
        if by_tree:
            told.append(("tag.tree", f"tree {tree_} where the log says {tree}"))
        if by_variety:
            told.append(("tag.variety", f"variety {variety_} where tree {tree} is {variety}"))
        if by_date:
            told.append(("tag.date", f"{day(date_)} where the log says {day(covered)}"))
        yield Finding(
            "bagging",
            bag,
            row,
            (told[0][0],),
            f"The tag of bag {bag} says {join(part for _, part in told)}.",
            supply=f"the right tag or log entry for bag {bag}",
        )


@rule(
    weight="rejects",
    clauses=(*_KEPT_APART, "us-nop:205.105(e)"),
    remedy="Keep this fruit's seed out of every lot. If it was in fact a closed bud, correct the entry.",
)
def bag_over_open_flower(case: Case) -> Iterator[Finding]:
    """A bag was put over a flower that was already open, when foreign pollen may have reached it.

    The stigma takes pollen even before the flower opens. A bag over an open flower keeps in what has come.
    """
    bags = case.bags
    opened = bags[bags["stage"].isin(case.profile.role("open_stages"))]
    for row, bag, tree, stage in rows(opened, "bag", "tree", "stage"):
        yield Finding(
            "bagging",
            bag,
            row,
            ("stage",),
            f"Bag {bag} on tree {tree} was put over a flower that was already {stage}.",
        )


@rule(
    weight="rejects",
    clauses=(*_KEPT_APART, "practice:days_covered", "us-nop:205.105(e)"),
    remedy="Keep this fruit's seed out of every lot.",
    after=("date-out-of-order",),
)
def bag_failed(case: Case) -> Iterator[Finding]:
    """A bag was found torn, loose or gone while the flower could still take foreign pollen.

    Until the stigma has withered, an open bag protects nothing. What a check finds was so for an unknown
    time before it. The crop profile says how many days the cover has to stay on.
    """
    bags = case.bags
    needed = case.practice("days_covered")
    low = needed.low if needed is not None else None
    over = (bags["failed"] - bags["covered"]).dt.days >= (inf if low is None else low)
    chosen = bags[bags["failure"].notna() & ~over]
    for row, bag, tree, how, when, covered, picked in rows(
        chosen, "bag", "tree", "failure", "failed", "covered", "picked"
    ):
        since = f", {(when - covered).days} days after it was put on" if when else ""
        fate = "" if picked else " No picking took its fruit."
        yield Finding(
            "bagging",
            bag,
            row,
            ("checks",),
            f"Bag {bag} on tree {tree} was found {how}{f' on {day(when)}' if when else ''}{since}.{fate}",
        )
